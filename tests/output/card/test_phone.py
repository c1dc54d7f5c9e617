from __future__ import annotations

import io
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from PIL import Image

from shotplan import plan as pipeline
from shotplan.aids.last_call import last_calls
from shotplan.judging.judged import Plan
from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.output import look, paper
from shotplan.output.card import phone, phone_words
from shotplan.output.card.phone_words import display, phone_card
from shotplan.output.card.section import section, tightest
from shotplan.output.stop import wind_m_s
from shotplan.scene.wind_limits import wind_limits
from tests import worlds
from tests.output.card.test_card import within_the_page
from tests.output.hostile import EVERY

BEHIND = {"name": "behind", "style": "follow-behind", "distance_m": 8.0, "height_m": 4.0}
ORBIT = {
    "name": "round", "style": "orbit", "around": "launch", "radius_m": 30.0, "height_m": 14.0,
    "speed_m_s": 4.0, "direction": "clockwise", "start_deg": 0.0,
}  # fmt: skip


@cache
def made(name: str = "the bent oak") -> Plan:
    """Beside the rider into an oak, behind him, round the launch."""
    oak = worlds.tree("oak", east_m=-15.0, north_m=20.0, height_m=12.0, radius_m=2.0, name=name)
    beside = {**worlds.SIDE_TRACK, "name": name}
    with TemporaryDirectory() as folder:
        site = {"name": name, "shot": [beside, BEHIND, ORBIT]}
        return pipeline.make(
            read(worlds.write_site(Path(folder), features=[oak], site=site)), rides=40
        )


def words_on(axes: Any) -> str:
    return " ".join(t.get_text() for t in axes.texts)


def test_a_shot_is_one_upright_picture_for_the_phone() -> None:
    files = phone.pictures(made())
    assert list(files) == ["card-A.png", "card-B.png", "card-C.png"]
    for data in files.values():
        with Image.open(io.BytesIO(data)) as picture:
            assert picture.size == (1080, 1920)
    with Image.open(io.BytesIO(files["card-A.png"])) as picture:
        red, green, blue = np.moveaxis(np.asarray(picture.convert("RGB")).astype(int), -1, 0)
    crimson = tuple(int(look.VERDICTS[Verdict.NO_GO].line[k : k + 2], 16) for k in (1, 3, 5))
    near = abs(red - crimson[0]) + abs(green - crimson[1]) + abs(blue - crimson[2]) < 24
    assert near.mean() > 0.003  # the word stands on its colour


def test_it_has_six_settings_and_the_parts_in_their_order() -> None:
    for index, shot in enumerate(made().shots):
        said = phone_card(made(), index)
        assert len(said.dials) == 6
        assert any(d.label == "display reads" for d in said.dials)
        axes = phone.page(made(), index, said)
        text = words_on(axes)
        parts = ["From, to", "Left alone", "We stop"]
        parts[1:1] = ["Go if"] if shot.verdict != Verdict.NO_GO else ["Not flown as planned"]
        at = [text.index(part) for part in parts]
        assert at == sorted(at)
        assert ("Go if" in text) == (shot.verdict != Verdict.NO_GO)
        assert min(t.get_fontsize() for t in axes.texts) >= 14.5  # 29 of its pixels
        within_the_page(axes)


def test_the_rule_to_stop_is_one_on_every_card() -> None:
    every = [phone_card(made(), index).stop for index in range(3)]
    assert every[0] == every[1] == every[2]
    people, sight, wind = every[0]
    assert people.startswith("anybody")
    assert sight == "nobody sees it"
    most = wind_m_s(made())
    (told,) = re.findall(r"[\d.]+", wind)
    assert float(told) <= most < float(told) + 0.1 + 1e-9
    flown = [s for s in made().shots if s.verdict != Verdict.NO_GO]
    hand = [w.no_go_m_s * w.hand_m_s / w.mean_m_s for s in flown for w in wind_limits(s.scene)]
    assert most >= min(hand) - 1e-9


def test_no_wind_for_go_is_over_the_one_that_stops_all() -> None:
    most = wind_m_s(made())
    for index, shot in enumerate(made().shots):
        said = phone_card(made(), index)
        winds = [p.value for p in said.go_if if p.label.endswith(", go") or p.label == "mind"]
        assert bool(winds) == (shot.verdict != Verdict.NO_GO)
        assert all(float(v.removeprefix("to ")) <= most for v in winds if v != "never")


def test_the_cut_goes_through_what_is_nearest() -> None:
    shot = made().shots[0]
    sample, found = tightest(shot)
    assert found is not None
    assert found.check == "clearance"
    along = shot.scene.track.ride.along_m[0, sample]
    at = found.least.min(axis=0)
    low = shot.ride_from_m + np.flatnonzero(at == at.min())
    assert low.min() - 1.0 <= along <= low.max() + 1.0
    made_ = section(shot, (95, 270))
    things = shot.scene.site.obstacles.things
    assert {things[i].id for i in np.unique(made_.drawn) if i >= 0} == {"oak"}
    # grown by its errors it is never less than as drawn
    assert (made_.grown[made_.drawn >= 0] >= 0).all()
    metre = made_.across_m[1] - made_.across_m[0]
    assert made_.elevation_m[0] - made_.elevation_m[1] == pytest.approx(metre)
    crown = (made_.drawn >= 0).any(axis=0)
    assert 2.0 <= crown.sum() * metre <= 4.3  # its crown is 4 m across
    for room in made_.rooms:
        assert room.room_m == pytest.approx(abs(room.edge_m))


def rise(east: Array, north: Array) -> Array:
    return 84.0 + 0.5 * east + 0.03 * north


def hillside() -> Plan:
    """The same shots across a slope with a tree behind the aircraft's way, and one that is
    not on the rider's line."""
    spruce = worlds.tree("spruce", east_m=-11.5, north_m=-99.0, height_m=9.0, radius_m=2.0)
    post = worlds.tree("post", east_m=3.0, north_m=0.0, height_m=14.0, radius_m=1.0)
    with TemporaryDirectory() as folder:
        site = {"shot": [worlds.SIDE_TRACK, BEHIND, ORBIT]}
        place = worlds.write_site(Path(folder), features=[spruce, post], site=site, terrain=rise)
        return pipeline.make(read(place), rides=1)


@cache
def slope() -> Plan:
    return hillside()


@pytest.mark.parametrize("index", [0, 1, 2])
@pytest.mark.parametrize("of", [made, slope], ids=["flat", "slope"])
def test_rider_and_aircraft_are_where_the_track_says(of: Any, index: int) -> None:
    shot = of().shots[index]
    cut = section(shot, (83, 270))
    track, n = shot.scene.track, cut.sample
    east, north, up = track.ride.xyz_m[0, n] - track.xyz_m[0, n]
    across, foot = cut.rider_m
    assert abs(across) == pytest.approx(np.sqrt(east**2 + north**2))
    assert foot - cut.craft_m == pytest.approx(up)
    assert cut.craft_m == track.xyz_m[0, n, 2]
    # his wheels on the drawn ground, and on the terrain's at his own place
    assert np.interp(across, cut.across_m, cut.ground_m) == pytest.approx(foot, abs=0.3)
    x, y = track.ride.xyz_m[0, n, :2]
    told = 84.0 + (0.5 * x + 0.03 * y if of is slope else 0.0)
    assert foot == pytest.approx(told, abs=0.3)
    # right of the aircraft by the ride's own heading: drawn right of it
    ahead = track.ride.xyz_m[0, n + 1, :2] - track.ride.xyz_m[0, n - 1, :2]
    aside = (east * ahead[1] - north * ahead[0]) / np.hypot(*ahead)
    if abs(aside) > 0.5 * abs(across):
        assert np.sign(across) == np.sign(aside)
    word = cut.sides[1 if across > 0.0 else 0]
    assert ("right" in word, "left" in word) == (
        aside > 0.4 * abs(across),
        aside < -0.4 * abs(across),
    )
    # all of it is in the picture
    assert cut.across_m[0] < min(across, 0.0) < max(across, 0.0) < cut.across_m[-1]
    assert cut.elevation_m[-1] < foot < cut.craft_m < cut.elevation_m[0]


@pytest.mark.parametrize("of", [made, slope], ids=["flat", "slope"])
def test_what_is_nearest_is_named_and_stands_at_its_distance(of: Any) -> None:
    for shot in of().shots[:2]:
        cut = section(shot, (83, 270))
        assert cut.nearest is not None
        ids = [t.id for t in shot.scene.site.obstacles.things]
        craft = shot.scene.track.xyz_m[0, cut.sample]
        if cut.nearest.thing not in ids:
            continue
        which = cut.grown == ids.index(cut.nearest.thing)
        where = shot.scene.site.obstacles.rest_grown.nearest(craft[None]).distance_m[0]
        assert which.any()
        rows, cols = np.nonzero(which)
        away = np.hypot(cut.across_m[cols], cut.elevation_m[rows] - craft[2])
        assert away.min() == pytest.approx(where, abs=0.3)


def test_nothing_of_the_picture_is_outside_it() -> None:
    plan = slope()
    for index in range(3):
        said = phone_card(plan, index)
        axes = phone.page(plan, index, said)
        drawn = paper.pixels(axes.figure)[: int(108.0 * 2.0)]
        bare = paper.sheet(phone.WIDE, phone.HIGH, paper="white")
        phone._head(bare, said)
        assert (drawn == paper.pixels(bare.figure)[: int(108.0 * 2.0)]).all()


def test_what_the_display_reads_is_said_to_half_metres() -> None:
    assert display(np.array([5.31, 6.4])) == "5.5–6.5 m"
    assert display(np.array([5.9, 6.1])) == "6 m"
    assert display(np.array([-3.0, 2.0])) == "−3–2 m"
    assert display(np.array([-3.0, -1.0])) == "−3 to −1 m"
    assert display(np.array([4.0, np.nan])) == "4 m?"
    assert display(np.array([np.nan])) == "not known"


def test_hostile_and_long_names_are_text_on_the_card() -> None:
    for name in (EVERY[:190], "w" * 120):
        plan = made("".join(c for c in name if c.isprintable()))
        axes = phone.page(plan, 0, phone_card(plan, 0))
        within_the_page(axes)
        assert not any(text.get_parse_math() for text in axes.texts)


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert phone.pictures(made()) == phone.pictures(made())


@pytest.mark.parametrize("count", [9, 10, 12])
def test_the_last_of_many_shots_says_which_it_is(count: int) -> None:
    plan = made()
    many = replace(plan, shots=(plan.shots * count)[:count])
    told = phone_card(many, count - 1)
    ends = {9: "ninth of nine", 10: "10 of 10", 12: "12 of 12"}
    assert told.place.endswith(f", {ends[count]}")
    assert told.letter == "ABCDEFGHIJKL"[count - 1]


def test_more_than_nine_calls_are_numbered_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = made()
    call = next(c for s in plan.shots for c in last_calls(s, plan.marks) if not c.first)
    every = tuple(replace(call, number=k, before_start=False) for k in range(1, 13))
    monkeypatch.setattr(phone_words, "last_calls", lambda *_: every)
    told = list(phone_words._calls(plan, 0))
    assert [c.flag for c in told if "!" in c.flag] == ["A!1", "A!2", "A!3"]
    assert told[-1].text == "and 9 more, on the map"
    assert every[-1].code("A") == "A!12"


def test_stop_is_called_only_where_a_call_comes_in_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """What nobody calls in time, also during the shot, is looked at before the take."""
    plan = made()
    call = next(c for s in plan.shots for c in last_calls(s, plan.marks) if not c.first)
    late = replace(call, number=1, first=True, before_start=False)
    monkeypatch.setattr(phone_words, "last_calls", lambda *_: (late, replace(call, number=2)))
    looked, called = phone_words._calls(plan, 0)
    assert (looked.flag, called.flag) == ("look", "A!2")
    assert "Stop!" not in looked.text
    assert "Stop!" in called.text
