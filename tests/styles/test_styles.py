"""Over all styles: what is true of every one, and of one that is added tomorrow."""

import importlib
import math
import pkgutil
from collections.abc import Callable
from dataclasses import FrozenInstanceError, fields, is_dataclass, replace
from typing import Any, Literal, cast

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from shotplan.model.arrays import Array
from shotplan.model.flight import OneMoment, Stage, Style
from shotplan.model.ride import Ride
from shotplan.model.search import Ladders, Search
from shotplan.styles import STYLES
from shotplan.styles.fly_by import FlyBy
from shotplan.styles.follow_behind import FollowBehind
from shotplan.styles.hold import Hold
from shotplan.styles.lead import Lead
from shotplan.styles.orbit import Orbit
from shotplan.styles.pull_back import PullBack
from shotplan.styles.rise import Rise
from shotplan.styles.side_track import SideTrack
from shotplan.styles.top_down import TopDown
from tests.worlds import keys_of

OTHER: dict[str, Literal["left", "right"]] = {"left": "right", "right": "left"}

SAMPLES: list[Style] = [
    FollowBehind(distance_m=8.0, height_m=4.0),
    FollowBehind(distance_m=8.0, height_m=4.0, height_over="higher-ground"),
    *(
        SideTrack(side=side, distance_m=12.0, height_m=6.0)
        for side in ("left", "right", "north", "west", "downhill", "uphill", "toward:rock")
    ),
    SideTrack(side="away:rock", distance_m=12.0, height_m=6.0, height_over="launch"),
    Orbit(around="rock", radius_m=25.0, height_m=12.0, speed_m_s=4.0, direction="clockwise"),
    Orbit(
        around="rider",
        radius_m=10.0,
        height_m=5.0,
        speed_m_s=3.0,
        direction="anticlockwise",
        start_deg=180.0,
    ),
    Lead(distance_m=8.0, height_m=4.0),
    Lead(distance_m=8.0, height_m=4.0, height_over="higher-ground"),
    Hold(at="rock", height_m=5.0),
    Hold(at="rock", height_m=5.0, height_over="launch"),
    Rise(at="rock", height_m=2.0, to_height_m=9.0, speed_m_s=1.5),
    Rise(at="rock", height_m=9.0, to_height_m=2.0, speed_m_s=1.5, height_over="higher-ground"),
    FlyBy(side="left", distance_m=12.0, height_m=6.0, speed_m_s=9.0, direction="against"),
    FlyBy(
        side="right",
        distance_m=12.0,
        height_m=6.0,
        speed_m_s=9.0,
        direction="with",
        height_over="higher-ground",
    ),
    TopDown(height_m=12.0),
    PullBack(side="behind", distance_m=6.0, to_distance_m=24.0, height_m=4.0),
    PullBack(
        side="left",
        distance_m=20.0,
        to_distance_m=8.0,
        height_m=4.0,
        to_height_m=6.0,
        height_over="launch",
    ),
]
SAMPLES += [s(**keys_of(s, "rock")) for s in STYLES if s not in {type(known) for known in SAMPLES}]
BY_PLACE_OR_HIM = [s for s in SAMPLES if not isinstance(s, FlyBy)]  # it keeps row 0's clock


def named(style: Style) -> str:
    return str(style)


def test_every_file_is_listed() -> None:
    listed = {style.__module__ for style in STYLES}
    room = importlib.import_module("shotplan.styles")
    files = {f"shotplan.styles.{m.name}" for m in pkgutil.iter_modules(room.__path__)}
    assert files == listed


SEARCH = Search(Ladders(styles=()), ("rock", "cairn"), slopes=True)


def test_every_style_is_sampled_here() -> None:
    assert {type(s) for s in SAMPLES} == set(STYLES)


def test_names_are_words_of_their_own() -> None:
    names = [style.name for style in STYLES]
    assert len(set(names)) == len(names)
    for style in STYLES:
        assert importlib.import_module(style.__module__).__doc__
        assert style.__module__.rsplit(".", 1)[1] == style.name.replace("-", "_")


@pytest.mark.parametrize("style", SAMPLES, ids=named)
def test_frozen_and_read_from_a_table(style: Any) -> None:
    assert is_dataclass(style)
    keys = {f.name: getattr(style, f.name) for f in fields(style)}
    again = TypeAdapter(type(style)).validate_python(keys)
    assert again == style
    with pytest.raises(FrozenInstanceError):
        setattr(style, next(iter(keys)), None)
    with pytest.raises(ValidationError, match="height_m"):
        TypeAdapter(type(style)).validate_python({**keys, "height_m": -1.0})
    with pytest.raises(ValidationError, match="height_m"):
        TypeAdapter(type(style)).validate_python({**keys, "height_m": math.nan})


@pytest.mark.parametrize("style", SAMPLES, ids=named)
def test_says_all_that_is_asked_of_it(style: Any) -> None:
    assert Style in type(style).__mro__
    assert style.flies == style.flies.strip(" .")
    assert style.label().startswith(style.name)
    assert style.group() == ", ".join(filter(None, (style.name, style.which())))
    assert style.keys()["style"] == style.name
    assert set(style.keys()) <= {"style"} | {f.name for f in fields(style)}
    if style.stands_at:
        assert getattr(style, style.stands_at) in style.places()
    assert style.held_side(0.0) in ("", 'side = "north"')


@pytest.mark.parametrize("style", SAMPLES, ids=named)
def test_every_number_is_a_setting_that_can_be_moved(style: Any) -> None:
    """But where it begins: no other number may be forgotten, nor made up."""
    keys = {f.name: getattr(style, f.name) for f in fields(style)}
    said = {one.key: one for one in style.settings()}
    assert {key: keys[key] for key in said} == {key: one.value for key, one in said.items()}
    numbers = {k for k, v in keys.items() if isinstance(v, float)} - {"start_deg"}
    assert numbers <= {key for key, one in said.items() if one.more}
    assert not any(one.more for one in said.values() if isinstance(one.value, str))
    assert len({one.label for one in said.values()}) == len(said)
    for other in (*style.easier(1), *style.easier(3)):
        assert type(other) is type(style)
        for one in other.settings():
            before = said[one.key]
            if one.value is None or not one.more:
                assert one == before
            elif one.more == "fast":
                assert one.number < before.number
            else:
                assert one.number >= before.number
    assert style.easier(1)


@pytest.mark.parametrize("kind", STYLES, ids=lambda kind: kind.name)
def test_a_search_has_candidates_or_it_is_of_one_moment(kind: type[Style]) -> None:
    found = list(kind.candidates(SEARCH))
    assert bool(found) == kind.searched
    assert (OneMoment in kind.__mro__) != kind.searched
    assert all(type(style) is kind for style in found)
    assert len(set(found)) == len(found) == len({style.label() for style in found})
    assert all(set(style.places()) <= set(SEARCH.places) for style in found)
    assert all(style.numbers() for style in found)


@pytest.mark.parametrize("style", [s for s in SAMPLES if s.searched], ids=named)
def test_begun_later_it_goes_on_where_it_had_got_to(
    style: Style, winding: Ride, make_stage: Callable[..., Stage]
) -> None:
    """A stretch of a search is flown as a part of the whole."""
    stage = make_stage(downhill_rad=1.0)
    whole = style.place(winding, stage)
    rest = style.later(3.0).place(replace(winding, t_s=winding.t_s - 3.0), stage)
    np.testing.assert_allclose(rest.camera_xyz_m, whole.camera_xyz_m, atol=0.05)


@pytest.mark.parametrize("style", SAMPLES, ids=named)
def test_words_are_one_plain_line(style: Any) -> None:
    words = style.words()
    assert words.startswith(style.name)
    assert "\n" not in words
    assert f"{style.height_m:g} m above" in words


@pytest.mark.parametrize("style", SAMPLES, ids=named)
def test_needs_no_place_but_those_it_names(
    style: Style, winding: Ride, make_stage: Callable[..., Stage]
) -> None:
    only = {p: np.array([40.0, 0.0, 30.0]) for p in style.places()}
    wish = style.place(winding, make_stage(places=only, downhill_rad=1.0))
    assert np.isfinite(wish.camera_xyz_m).all()
    assert np.isfinite(wish.aim_xyz_m).all()
    assert wish.known.all()


@pytest.mark.parametrize("style", BY_PLACE_OR_HIM, ids=named)
def test_a_ride_does_not_depend_on_the_others(
    style: Style, winding: Ride, make_stage: Callable[..., Stage]
) -> None:
    stage = make_stage(downhill_rad=1.0)
    alone = replace(
        winding,
        **{f.name: getattr(winding, f.name)[1:] for f in fields(winding) if f.name != "t_s"},
    )
    together, one = style.place(winding, stage), style.place(alone, stage)
    np.testing.assert_array_equal(together.camera_xyz_m[1], one.camera_xyz_m[0])
    np.testing.assert_array_equal(together.aim_xyz_m[1], one.aim_xyz_m[0])


@pytest.mark.parametrize("style", SAMPLES, ids=named)
def test_rests_on_what_the_aircraft_believes(
    style: Style, winding: Ride, make_stage: Callable[..., Stage]
) -> None:
    stage = make_stage(places={"rock": np.array([1e6, 1e6, 30.0])}, downhill_rad=1.0)
    off = np.array([1.5, -0.5, 0.0])
    believed = style.place(replace(winding, known_xyz_m=winding.xyz_m + off), stage)
    wish = style.place(winding, stage)
    moved = believed.camera_xyz_m - wish.camera_xyz_m
    expected = np.broadcast_to(off[:2] * wish.follows_rider, (2, 120, 2))
    np.testing.assert_allclose(moved[..., :2], expected, atol=1e-4)


def turned(style: Style, turn: float, mirror: bool) -> Style:
    """The style as it must be written in a world turned clockwise, then mirrored east-west."""
    if isinstance(style, Orbit):
        start = style.start_deg + math.degrees(turn)
        if mirror and style.direction == "clockwise":
            return replace(style, start_deg=-start, direction="anticlockwise")
        if mirror:
            return replace(style, start_deg=-start, direction="clockwise")
        return replace(style, start_deg=start)
    side = style.keys().get("side")
    if mirror and side in OTHER:
        said: Any = style  # any that has a left and a right
        return cast(Style, replace(said, side=OTHER[side]))
    return style


@pytest.mark.parametrize(
    "style",
    [s for s in SAMPLES if not (isinstance(s, SideTrack) and s.side in {"north", "west"})],
    ids=named,
)
@settings(
    deadline=None, max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(turn=st.floats(-math.pi, math.pi), mirror=st.booleans())
def test_turning_and_mirroring_the_world_turns_and_mirrors_the_wish(
    winding: Ride, make_stage: Callable[..., Stage], style: Style, turn: float, mirror: bool
) -> None:
    sign = -1.0 if mirror else 1.0
    c, s = math.cos(turn), math.sin(turn)
    # Clockwise by `turn`, then east and west change sides.
    world = np.diag([sign, 1.0, 1.0]) @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])

    def ground(xy: Array) -> Array:
        return 30.0 + 0.4 * xy[..., 0] - 0.2 * xy[..., 1]

    def turned_ground(xy: Array) -> Array:
        return ground(xy @ world[:2, :2])

    rock = np.array([40.0, 0.0, 30.0])
    here = style.place(winding, make_stage(ground, {"rock": rock}, downhill_rad=1.0))
    ride = replace(
        winding,
        xyz_m=winding.xyz_m @ world.T,
        known_xyz_m=winding.known_xyz_m @ world.T,
        course_rad=sign * (winding.course_rad + turn),
    )
    stage = make_stage(turned_ground, {"rock": rock @ world.T}, downhill_rad=sign * (1.0 + turn))
    there = turned(style, turn, mirror).place(ride, stage)
    np.testing.assert_allclose(there.camera_xyz_m, here.camera_xyz_m @ world.T, atol=1e-8)
    np.testing.assert_allclose(there.aim_xyz_m, here.aim_xyz_m @ world.T, atol=1e-8)
    np.testing.assert_array_equal(there.known, here.known)
    assert (there.down_toward_rad is None) == (here.down_toward_rad is None)
    if here.down_toward_rad is not None and there.down_toward_rad is not None:
        np.testing.assert_allclose(there.down_toward_rad, sign * (here.down_toward_rad + turn))
