"""What a search tries: everything that makes sense on the site, in a fixed order."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import asdict, fields, replace
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

from shotplan.advice import candidates as offered
from shotplan.advice.wanted import REASONS, Wanted, explained, searched
from shotplan.flying import stage_scene
from shotplan.kernels.light import camera
from shotplan.outing import Outing, read
from shotplan.styles import STYLES
from shotplan.styles.fly_by import FlyBy
from shotplan.styles.follow_behind import FollowBehind
from shotplan.styles.hold import Hold
from shotplan.styles.lead import Lead
from shotplan.styles.orbit import Orbit
from shotplan.styles.pull_back import PullBack
from shotplan.styles.side_track import SideTrack
from shotplan.styles.top_down import TopDown
from tests import worlds

WANTED = Wanted()
ROCK = worlds.place("rock", east_m=12.0, north_m=20.0)
FAR = worlds.place("far", east_m=80.0, north_m=0.0)


@pytest.fixture(scope="module")
def level(tmp_path_factory: pytest.TempPathFactory) -> Outing:
    """Flat ground; the pilot at the launch, 30 m to the right of the ride."""
    return read(worlds.write_site(tmp_path_factory.mktemp("level"), features=[ROCK, FAR]))


@pytest.fixture(scope="module")
def sloping(tmp_path_factory: pytest.TempPathFactory) -> Outing:
    """The same on ground that falls one in ten to the east."""
    return read(
        worlds.write_site(
            tmp_path_factory.mktemp("sloping"),
            features=[ROCK, FAR],
            terrain=lambda east, north: worlds.GROUND_M - 0.1 * east,
        )
    )


def groups(outing: Outing, wanted: Wanted = WANTED) -> Counter[str]:
    return Counter(s.group() for s in offered.candidates(outing, wanted))


def test_every_style_side_distance_and_height_is_there(level: Outing) -> None:
    found = offered.candidates(level, replace(WANTED, most=1000))
    assert len(set(found)) == len(found)
    for distance in WANTED.side_m:
        for height in WANTED.heights_m:
            for side in ("left", "right"):
                assert SideTrack(side=side, distance_m=distance, height_m=height) in found
    for distance in WANTED.behind_m:
        for height in WANTED.heights_m:
            assert FollowBehind(distance_m=distance, height_m=height) in found
            assert Lead(distance_m=distance, height_m=height) in found
    assert {s.height_m for s in found if isinstance(s, TopDown)} == set(WANTED.top_down_m)
    orbits = [s for s in found if isinstance(s, Orbit)]
    assert {s.around for s in orbits} == {"rider", "rock"}
    for around in ("rider", "rock"):
        own = [s for s in orbits if s.around == around]
        assert {s.radius_m for s in own} == set(WANTED.orbit_m)
        assert {s.direction for s in own} == {"clockwise", "anticlockwise"}
        assert all(s.aim == "rider" for s in own)
    assert {s.at for s in found if isinstance(s, Hold)} == {"rock"}
    assert {s.name for s in found} == set(searched())


def test_about_a_hundred_and_twenty_the_same_every_time(level: Outing, sloping: Outing) -> None:
    assert 90 <= len(offered.candidates(level, WANTED)) <= 120
    assert len(offered.candidates(sloping, WANTED)) == 120
    assert offered.candidates(sloping, WANTED) == offered.candidates(sloping, Wanted())


def test_uphill_and_downhill_only_where_the_ground_slopes(level: Outing, sloping: Outing) -> None:
    assert not {"side-track, downhill", "side-track, uphill"} & set(groups(level))
    assert {"side-track, downhill", "side-track, uphill"} <= set(groups(sloping))
    # The ground falls one in ten.
    assert "side-track, uphill" not in groups(sloping, replace(WANTED, slope_least=0.11))
    assert "side-track, uphill" in groups(sloping, replace(WANTED, slope_least=0.09))


def test_sides_of_the_world_when_asked_for(level: Outing) -> None:
    found = groups(level, WANTED.with_({"sides": "north, left", "styles": "side-track"}))
    assert set(found) == {"side-track, north", "side-track, left"}


def test_not_over_who_stands_there(level: Outing) -> None:
    """The launch is 30 m off, where the pilot stands; without him it is a place like others."""
    wide = replace(WANTED, place_within_m=31.0)
    assert "hold, launch" not in groups(level, wide)
    alone = replace(level, day=replace(level.day, crew=()))
    assert "hold, launch" in groups(alone, wide)
    assert "hold, launch" not in groups(alone, replace(WANTED, place_within_m=29.0))
    for_a_shot = replace(
        alone,
        day=level.day,
        shots=(replace(level.shots[0], stands=replace(level.shots[0].stands, at={"Bo": "rock"})),),
    )
    assert "hold, rock" not in groups(for_a_shot)


def test_nothing_the_camera_cannot_tilt_to(level: Outing) -> None:
    craft = level.aircraft
    stiff = replace(craft, camera=replace(craft.camera, tilt_min_rad=math.radians(-30.0)))
    found = offered.candidates(replace(level, aircraft=stiff), replace(WANTED, most=1000))
    assert not any(isinstance(s, TopDown) for s in found)
    tracks = {(s.distance_m, s.height_m) for s in found if isinstance(s, SideTrack)}
    # It aims 1 m over the ground: 5 m down over 9 m is 29°, 5 m over 6 m is 40°.
    assert (9.0, 6.0) in tracks
    assert (6.0, 6.0) not in tracks


@pytest.mark.parametrize("most", [1, 3, 7, 40, 90])
def test_thinned_evenly_and_no_group_lost_while_there_is_room(sloping: Outing, most: int) -> None:
    whole = offered.candidates(sloping, replace(WANTED, most=1000))
    found = offered.candidates(sloping, replace(WANTED, most=most))
    assert len(found) == most
    assert [s for s in whole if s in found] == list(found)  # the same order, each once
    all_of, left = Counter(s.group() for s in whole), Counter(s.group() for s in found)
    assert len(left) == min(most, len(all_of))
    if most >= len(all_of):
        for name, count in all_of.items():
            assert abs(left[name] - max(1.0, count * most / len(whole))) <= 2.0, name


def test_a_style_that_is_not_listed_is_skipped(
    level: Outing, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        import_module("shotplan.styles"), "STYLES", [k for k in STYLES if k is not Lead]
    )
    assert "lead" not in groups(level)
    assert "follow-behind" in groups(level)


def test_labels_tell_all_and_are_short(sloping: Outing) -> None:
    found = offered.candidates(sloping, replace(WANTED, most=1000))
    labels = [s.label() for s in found]
    assert len(set(labels)) == len(found)
    assert max(map(len, labels)) <= 50
    track = SideTrack(side="left", distance_m=12.0, height_m=6.0)
    assert track.label() == "side-track left 12 m, 6 m up"
    assert track.group() == "side-track, left"
    higher = replace(track, side="toward:rock", height_over="launch")
    assert higher.label() == "side-track toward rock 12 m, 6 m up over launch"
    assert higher.group() == "side-track, toward rock"
    assert FollowBehind(distance_m=8.0, height_m=2.5).label() == ("follow-behind 8 m, 2.5 m up")
    assert TopDown(height_m=15.0).label() == "top-down 15 m up"
    assert Hold(at="rock", height_m=5.0).label() == "hold rock, 5 m up"
    orbit = Orbit(around="rider", radius_m=15.0, height_m=6.0, speed_m_s=3.0, direction="clockwise")
    assert orbit.label() == "orbit the rider clockwise 15 m, 6 m up, 3 m/s"
    assert orbit.group() == "orbit, the rider"
    past = FlyBy(side="left", distance_m=9.0, height_m=6.0, speed_m_s=9.0, direction="with")
    assert past.label() == past.words()
    assert past.group() == "fly-by, left"


def test_easier_is_farther_higher_slower() -> None:
    track = SideTrack(side="left", distance_m=12.0, height_m=6.0)
    assert track.easier(1) == (
        replace(track, distance_m=15.0),
        replace(track, height_m=8.0),
        replace(track, distance_m=15.0, height_m=8.0),
    )
    assert TopDown(height_m=8.0).easier(2) == (TopDown(height_m=12.0),)
    orbit = Orbit(
        around="rock", radius_m=15.0, height_m=6.0, speed_m_s=3.0, direction="anticlockwise"
    )
    for step in (1, 2, 3):
        for other in orbit.easier(step):
            assert isinstance(other, Orbit)
            assert other.speed_m_s == pytest.approx(3.0 / (1.0 + 0.25 * step), abs=0.05)
            assert (other.around, other.direction) == ("rock", "anticlockwise")
            assert other.radius_m > orbit.radius_m or other.height_m > orbit.height_m


def test_easier_is_never_nearer_lower_or_faster(sloping: Outing) -> None:
    moments = (
        FlyBy(side="left", distance_m=9.0, height_m=6.0, speed_m_s=9.0, direction="with"),
        PullBack(side="behind", distance_m=20.0, to_distance_m=6.0, height_m=3.0),
    )
    for style in (*offered.candidates(sloping, WANTED), *moments):
        for other in (o for step in (1, 4) for o in style.easier(step)):
            assert type(other) is type(style)
            was, now = asdict(style), asdict(other)  # type: ignore[call-overload]
            numbers = {k for k, v in was.items() if isinstance(v, float)}
            words = was.keys() - numbers
            assert {k: now[k] for k in words} == {k: was[k] for k in words}
            fast = {"speed_m_s"} & numbers
            assert all(now[k] < was[k] for k in fast)
            room = numbers - fast - {"start_deg"}
            assert all(now[k] >= was[k] for k in room)
            assert any(now[k] > was[k] for k in room)


def test_settings_as_written() -> None:
    said = {"side_m": "6, 12", "stretch_m": "20", "rides": "80", "styles": "lead,orbit"}
    changed = WANTED.with_(said)
    assert changed.side_m == (6.0, 12.0)
    assert changed.stretch_m == 20.0
    assert changed.rides == 80
    assert changed.styles == ("lead", "orbit")
    assert changed.heights_m == WANTED.heights_m
    assert WANTED.with_({}) == WANTED


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"strech_m": "20"}, "did you mean stretch_m"),
        ({"stretch_m": "ten"}, "stretch_m is 'ten'; write a number, like 10"),
        ({"stretch_m": "nan"}, "stretch_m is 'nan'; write a number"),
        ({"stretch_m": "-5"}, "stretch_m is -5; give a number of more than 0"),
        ({"rides": "60.5"}, "rides is '60.5'; write a whole number, like 60"),
        ({"side_m": "6; 12"}, "side_m is '6; 12'; write numbers with commas between"),
        ({"sides": "left, up"}, "sides has 'up'; there are left, right"),
        ({"styles": "fly-by"}, "styles has 'fly-by'; there are follow-behind"),
        ({"styles": ""}, "styles is empty"),
        ({"top_down_m": "0.5, 8"}, "no looking down"),
        ({"size_least": "0.5"}, "size_least is 0.5 and size_most 0.35"),
        ({"gap_weight": "5"}, "nothing would be filmed where something can be"),
        ({"size_weight": "90"}, "gap_weight is 100"),
    ],
)
def test_settings_that_are_none_are_told_in_plain_words(said: dict[str, str], told: str) -> None:
    with pytest.raises(ValueError) as caught:
        WANTED.with_(said)
    assert told in str(caught.value)


def test_every_problem_in_one_go() -> None:
    with pytest.raises(ValueError) as caught:
        WANTED.with_({"colour": "1", "rides": "many", "most": "0", "sides": "up"})
    lines = str(caught.value).splitlines()
    assert len(lines) == 4
    assert "there are styles, sides" in lines[0]


def test_every_setting_has_a_reason_and_reads_back() -> None:
    assert list(REASONS) == [f.name for f in fields(Wanted)]
    lines = explained(WANTED)
    assert "stretch_m = 10 m: length of a stretch" in "\n".join(lines)
    assert "side_m = 6, 9, 12, 18, 25 m: " in "\n".join(lines)
    written = dict(line.split(" = ", 1) for line in lines)
    said = {k: v.split(":")[0].removesuffix(REASONS[k][0]).strip() for k, v in written.items()}
    assert WANTED.with_(said) == WANTED


def test_reasons_hold_in_numbers() -> None:
    # What REASONS says of place_within_m: the pinhole camera, a rider of 1.8 m.
    focal = camera.focal_px(1.0, math.radians(72.0))
    share = camera.subject_px(focal, 1.8, np.array([[28.0, 0.0, 0.0]])) * 16.0 / 9.0
    assert share[0] == pytest.approx(0.08, abs=0.002)
    # Of orbit_m: seconds of a turn at 3 m/s.
    turns = [2.0 * math.pi * radius / 3.0 for radius in (WANTED.orbit_m[0], WANTED.orbit_m[-1])]
    assert turns == pytest.approx([21.0, 52.0], abs=0.5)
    # Of gap_weight and the weights: dearer than any stretch and the changes around it.
    assert WANTED.gap_weight > WANTED.dearest
    assert WANTED.unknown_weight > WANTED.caution_weight + 3.0 * WANTED.size_weight + 1.0


def test_hands_over_a_site_on_which_all_of_it_can_be_flown(tmp_path: Path) -> None:
    """Every candidate is a style that a shot can have: it flies and is judged."""
    outing = read(worlds.write_site(tmp_path, features=[ROCK]))
    for style in offered.candidates(outing, replace(WANTED, most=9)):
        shot = replace(outing.shots[0], style=style, from_m=50.0, to_m=80.0)
        scene = stage_scene(outing, shot, outing.day.start)
        assert np.isfinite(scene.track.xyz_m).all(), style
