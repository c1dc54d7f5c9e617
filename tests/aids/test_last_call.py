"""Last-call marks on worlds whose answer is known beforehand."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import plan
from shotplan.aids.last_call import LastCall, last_calls
from shotplan.judging.judged import ShotPlan
from shotplan.model.day import Day, Person
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.scene.calling import callers
from shotplan.scene.landmarks import NO_MARK, landmarks
from tests import asked, worlds

# The ride is due north from (0, -100) to (0, 100); the aircraft, folding-all-round (no overrun),
# flies 30 m above and 12 m to the left of the rider, v * 0.5 s behind him, braking at 4 m/s².
BRAKE_M_S2, DELAY_S = 4.0, 0.5
LIMIT_M = 0.18 + 2.0
EXACT = {"map_error_m": 0.0, "aircraft": {"class": "folding-all-round", "brake_m_s2": 4.0,
         "span_m": 0.36, "response_delay_s": 0.5}}  # fmt: skip
ADA, BO, CY = (
    {"name": "Ada", "role": "rider"},
    {"name": "Bo", "role": "pilot", "stands": "launch"},
    {"name": "Cy", "role": "spotter", "stands": "launch"},
)
ALONE = {"name": "Ada", "role": ["rider", "pilot"]}


def oak(**says: Any) -> dict[str, Any]:
    """A trunk in the aircraft's way at along = 180 m, 40 m tall, 2 m thick all the way up."""
    given = {"east_m": -12.0, "north_m": 80.0, "height_m": 40.0, "radius_m": 2.0}
    return worlds.tree("oak", error_m=0.0, height_error_m=0.0, **(given | says))


def shot_of(
    folder: Path, crew: list[dict[str, Any]], speed_m_s: float = 6.0, **world: Any
) -> ShotPlan:
    """The shot of a world, its clearance alone."""
    site = {
        **EXACT,
        "crew": crew,
        "ride": {"error_m": 0.0, "speed_m_s": speed_m_s, **world.pop("ride_says", {})},
        "shot": world.pop("shot", [{**worlds.SIDE_TRACK, "height_m": 30.0}]),
        "disturbance": {"rides": 1},
    }
    folder = worlds.write_site(folder, site=site, **world)
    with asked.only("clearance"):
        (shot,) = plan.make(read(folder)).shots
    return shot


def call_at(calls: tuple[LastCall, ...], thing: str) -> LastCall:
    (call,) = [c for c in calls if c.thing == thing and c.check == "clearance"]
    return call


def reaches_m(speed: float, at_m: float = 180.0) -> float:
    """Where the rider is at the first sample that breaks the 2.18 m to the trunk's face."""
    first_s = (at_m - 2.0 - LIMIT_M + DELAY_S * speed) / speed
    return math.ceil(first_s * 10.0 - 1e-6) / 10.0 * speed


@pytest.mark.parametrize("speed", [4.0, 6.0])
@pytest.mark.parametrize(
    ("crew", "who", "human"),
    [
        ([ADA, BO, CY], "Cy", lambda _v: 2.75),
        ([ADA, BO], "Bo, who steers", lambda _v: 1.0),
        ([ALONE], "Ada, who rides and steers", lambda v: v / 3.4 + 5.0),
        # Cy is free and sees it: his voice, then what Ada needs.
        ([ALONE, CY], "Cy", lambda v: v / 3.4 + 5.0 + 1.75),
        ([ADA], "whoever steers", lambda v: v / 3.4 + 5.0),
    ],
)
def test_the_mark_is_where_the_formula_says(
    tmp_path: Path, crew: list[dict[str, Any]], who: str, human: Any, speed: float
) -> None:
    found = call_at(last_calls(shot_of(tmp_path, crew, speed, features=[oak()])), "oak")
    # Everything moves at v: v²/(2b) of way before the tight sample, and v·(human time) before that.
    tight = reaches_m(speed)
    before_m = speed**2 / (2.0 * BRAKE_M_S2) + speed * human(speed)
    assert found.tight_m == pytest.approx(tight, abs=0.05)
    assert found.mark_m == pytest.approx(tight - before_m, abs=0.05)
    assert found.mark_s == pytest.approx(found.mark_m / speed, abs=0.01)
    assert found.seconds_before == pytest.approx(before_m / speed, abs=0.01)
    assert found.who == who
    assert not found.before_start
    assert f"{human(speed):.2f} s" in found.how


def test_the_aircraft_stands_before_the_place_if_stop_is_called_at_the_mark(tmp_path: Path) -> None:
    # A bend: the aircraft outside it is faster than the rider, so its own way and speed count.
    angle = np.radians(np.linspace(0.0, 90.0, 91))
    ride = np.stack([60.0 - 60.0 * np.cos(angle), 60.0 * np.sin(angle)], axis=-1)
    post = oak(east_m=60.0 - 72.0 * math.cos(1.2), north_m=72.0 * math.sin(1.2))
    shot = shot_of(tmp_path, [ADA, BO, CY], features=[post], ride=ride)
    found = call_at(last_calls(shot), "oak")
    track, t = shot.scene.track, shot.scene.track.ride.t_s
    hands = int(np.searchsorted(t, found.mark_s + 2.75)) - 1
    tight = int(np.searchsorted(t, found.tight_s - 1e-6))
    way = np.linalg.norm(np.diff(track.xyz_m[0, hands : tight + 1], axis=0), axis=1).sum()
    stops = float(shot.scene.speed_m_s[0, hands]) ** 2 / (2.0 * BRAKE_M_S2)
    assert float(shot.scene.speed_m_s[0, hands]) > 6.5
    assert 0.0 <= way - stops <= 1.5  # at most two samples too early, never too late


def test_there_and_back_has_two_marks_each_from_its_own_side(tmp_path: Path) -> None:
    wide = oak(east_m=0.0, north_m=0.0, radius_m=0.5, base_m=20.0, height_m=60.0)
    shot = shot_of(
        tmp_path, [ADA, BO, CY], features=[wide], ride_says={"there_and_back": True},
        shot=[{"name": "a", "style": "follow-behind", "distance_m": 10.0, "height_m": 30.0}],
    )  # fmt: skip
    both = [c for c in last_calls(shot) if c.check == "clearance"]
    assert len(both) == 2
    out, back = both
    assert 80.0 < out.mark_m < 100.0 < out.tight_m < 120.0
    assert 280.0 < back.mark_m < 300.0 < back.tight_m < 320.0
    assert out.seconds_before == pytest.approx(back.seconds_before, abs=0.1)


def test_the_mark_is_said_by_what_stands_there(tmp_path: Path) -> None:
    shot = shot_of(tmp_path / "a", [ADA, BO, CY], features=[oak()])
    at_m = call_at(last_calls(shot), "oak").mark_m
    said = call_at(last_calls(shot), "oak").phrase
    assert said == f"{math.ceil(180.0 - at_m - 0.05)} m before the oak (left, 12 m)"
    gate = worlds.place("gate", east_m=-6.0, north_m=at_m - 100.0 - 12.6)
    shot = shot_of(tmp_path / "b", [ADA, BO, CY], features=[oak(), gate])
    assert call_at(last_calls(shot), "oak").phrase == "2 s after the gate (left, 6 m)"
    marks = landmarks(shot.scene.site, shot.scene.track.ride)
    launch = tuple(m for m in marks if m.label == "launch")
    assert len(marks) == 3
    said = call_at(last_calls(shot, launch), "oak").phrase
    # The launch is abeam of the middle, 100 m on; paces are 0.75 m, counted short.
    assert said == f"{math.floor((at_m - 100.0) / 0.75)} paces past the launch; {NO_MARK}"
    said = call_at(last_calls(shot, ()), "oak").phrase
    assert said == f"{at_m:.0f} m along the ride; {NO_MARK}"


def test_a_mark_before_the_start_says_so_and_how_much_earlier(tmp_path: Path) -> None:
    early = oak(north_m=-80.0)
    found = call_at(last_calls(shot_of(tmp_path, [ALONE], features=[early])), "oak")
    assert found.before_start
    # As above, about along = 20 m, straight on back before the ride.
    mark = reaches_m(6.0, 20.0) - 36.0 / 8.0 - 6.0 * (6.0 / 3.4 + 5.0)
    assert found.mark_m == pytest.approx(mark, abs=0.05)
    assert found.mark_s == pytest.approx(mark / 6.0, abs=0.01)
    assert found.phrase.startswith("before it starts: do not begin this take unless ")
    assert f"begin it {math.ceil(-mark)} m earlier" in found.phrase


def test_what_is_narrow_but_go_has_a_mark_at_its_nearest(tmp_path: Path) -> None:
    # The face of the trunk 4 m beside the track: margin 4 - 2.18 m, least abeam of it.
    features = [oak(east_m=-18.0), oak(east_m=-18.0, north_m=0.0) | {"id": "elm"}]
    shot = shot_of(tmp_path, [ADA, BO, CY], features=features)
    assert shot.finding("clearance").verdict.word == "go"
    calls = last_calls(shot)
    assert [c.thing for c in calls if c.check == "clearance"] == ["elm", "oak"]
    assert call_at(calls, "oak").tight_m == pytest.approx(180.0 + 6.0 * DELAY_S, abs=0.31)
    far = shot_of(tmp_path / "far", [ADA, BO, CY], features=[oak(east_m=-22.0)])
    assert [c for c in last_calls(far) if c.check == "clearance"] == []  # margin 5.8 m


def test_tight_places_close_together_share_the_earliest_mark(tmp_path: Path) -> None:
    near_by = oak(north_m=72.0) | {"id": "elm"}
    shot = shot_of(tmp_path, [ADA, BO, CY], features=[oak(), near_by])
    (found,) = [c for c in last_calls(shot) if c.check == "clearance"]
    assert found.thing == "elm"
    assert found.tight_m == pytest.approx(reaches_m(6.0, 172.0), abs=0.05)
    apart = oak(north_m=50.0) | {"id": "elm"}
    shot = shot_of(tmp_path / "b", [ADA, BO, CY], features=[oak(), apart])
    calls = last_calls(shot)
    assert [c.thing for c in calls if c.check == "clearance"] == ["elm", "oak"]
    assert [c.mark_m for c in calls] == sorted(c.mark_m for c in calls)


def test_where_nobody_looked_begins_a_tight_place(tmp_path: Path) -> None:
    looked = worlds.polygon(worlds.box(-200.0, -200.0, 200.0, 0.0))
    shot = shot_of(tmp_path, [ADA, BO, CY], features=[worlds.feature("s", "surveyed", looked)])
    (found,) = last_calls(shot)
    # The aircraft leaves what was surveyed at north = 0: v * delay later than the rider.
    assert found.tight_m == pytest.approx(100.0 + 6.0 * DELAY_S, abs=0.61)


def test_where_only_other_rides_break_it_is_the_metre_where_they_are_worst(tmp_path: Path) -> None:
    shot = shot_of(tmp_path, [ADA, BO, CY])
    sound = shot.finding("clearance")
    metres = np.arange(len(sound.metre_codes))
    least = np.full((3, len(metres)), 9.0, dtype=np.float32)
    least[1, 118:126] = -0.1
    least[2, 121] = -0.4
    codes = np.where((metres >= 118) & (metres < 126), 1, 0).astype(np.int8)
    found = replace(sound, least=least, metre_codes=codes, unit="m")
    (call,) = last_calls(replace(shot, findings=(found,)))
    assert call.tight_m == pytest.approx(121.0, abs=0.31)
    # A rule, or what is the same all along the shot, is a place only where it changes.
    rule = replace(found, family="rule")
    assert len(last_calls(replace(shot, findings=(rule,)))) == 1
    state = replace(rule, metre_codes=np.full_like(codes, 3))
    assert last_calls(replace(shot, findings=(state,))) == ()
    picture = replace(found, family="picture")
    assert last_calls(replace(shot, findings=(picture,))) == ()


# -- by sight

FAR = {**CY, "stands": "far"}


def wall(east_m: float) -> dict[str, Any]:
    """Between the ride's end and who stands east of it, 60 m tall."""
    box = worlds.box(east_m, -90.0, east_m + 1.0, 150.0)
    return worlds.feature("wall", "building", worlds.polygon(box), height_m=60.0)


def judged(folder: Path, crew: list[dict[str, Any]], *features: dict[str, Any]) -> ShotPlan:
    """The shot with all its findings, the oak's call among them."""
    folder = worlds.write_site(
        folder,
        site={**EXACT, "crew": crew, "ride": {"error_m": 0.0, "speed_m_s": 6.0},
              "shot": [{**worlds.SIDE_TRACK, "height_m": 30.0}], "disturbance": {"rides": 1}},
        features=[oak(), *features],
    )  # fmt: skip
    (shot,) = plan.make(read(folder)).shots
    return shot


def place(east_m: float) -> dict[str, Any]:
    return worlds.place("far", east_m=east_m, north_m=0.0)


@pytest.mark.parametrize(
    ("crew", "features", "who", "radio"),
    [
        ([ADA, BO, CY], [], "Cy", False),
        ([ADA, BO, FAR], [wall(10.0), place(-60.0)], "Cy", False),  # the wall stands east
        ([ADA, BO, FAR], [wall(40.0), place(60.0)], "Bo, who steers", False),  # hidden from Cy
        ([ADA, BO, CY], [wall(10.0)], "Ada", False),  # from both; who rides sees it beside her
        ([ADA, BO, FAR], [place(140.0)], "Bo, who steers", False),  # Cy sees it, unheard
        ([BO, FAR], [wall(10.0), place(-120.0)], "Cy", True),  # nobody else sees it
    ],
)
def test_who_sees_it_then_and_is_heard_calls(
    tmp_path: Path, crew: list[dict[str, Any]], features: list[dict[str, Any]], who: str,
    radio: bool,
) -> None:  # fmt: skip
    shot = judged(tmp_path, crew, *features)
    call = call_at(last_calls(shot), "oak")
    assert call.who == who
    assert not call.first
    assert (call.unheard_m > 100.0) == radio
    found = shot.finding("crew")
    assert any("a voice carries 100 m" in r.text for r in found.remarks) == radio
    if radio:
        assert found.verdict == Verdict.CAUTION == max(o.verdict for o in found.also)
        assert "take radios" in found.advice


def test_where_nobody_sees_it_the_crew_does_not_fit(tmp_path: Path) -> None:
    shot = judged(tmp_path, [BO, CY], wall(10.0))
    call = call_at(last_calls(shot), "oak")
    assert call.who == "nobody"
    assert call.first
    assert "tape" not in call.phrase  # nobody is there to use it
    found = shot.finding("crew")
    assert found.verdict == Verdict.CAUTION
    assert "nobody sees it when stop must be called for oak (rider at" in found.reason
    assert "within 100 m of whoever steers" in found.advice
    assert shot.verdict >= Verdict.CAUTION
    seen = judged(tmp_path / "seen", [BO, CY])
    assert not any("nobody sees it when" in r.text for r in seen.finding("crew").remarks)


def test_somebody_alone_looks_at_few_things_before_the_take(tmp_path: Path) -> None:
    more = [oak(north_m=n) | {"id": f"elm-{k}"} for k, n in enumerate((-20.0, 5.0, 30.0, 55.0))]
    shot = judged(tmp_path, [ALONE], *more)
    calls = last_calls(shot)
    assert len(calls) == 3
    assert all(c.first for c in calls)
    assert [c.number for c in calls] == [1, 2, 3]
    assert not any("tape" in c.phrase for c in calls)
    assert not any("nobody sees it when" in r.text for r in shot.finding("crew").remarks)
    with_bo = last_calls(judged(tmp_path / "bo", [ADA, BO], *more))
    assert len(with_bo) > 3
    assert [c.code("B") for c in with_bo[:2]] == ["B!1", "B!2"]


def test_nothing_tight_has_no_mark(tmp_path: Path) -> None:
    shot = shot_of(tmp_path, [ADA, BO, CY])
    assert shot.finding("clearance").verdict.word == "go"
    assert [c.check for c in last_calls(shot)] == []


def test_who_calls() -> None:
    def day(*crew: tuple[str, set[Any]]) -> Day:
        people = tuple(Person(name=name, roles=frozenset(roles)) for name, roles in crew)
        start = worlds.SITE["start"]
        return Day(start=start, timezone=start.tzinfo, crew=people)

    def who(*crew: tuple[str, set[Any]]) -> list[tuple[str, float]]:
        return [(c.who, c.fixed_s) for c in callers(day(*crew))]

    ada, bo, cy, di = (
        ("Ada", {"rider"}),
        ("Bo", {"pilot"}),
        ("Cy", {"spotter"}),
        ("Di", {"spotter"}),
    )
    # Who is free: spotters, then who steers, then who rides.
    assert who(ada, bo, cy, di) == [
        ("Cy", 2.75),
        ("Di", 2.75),
        ("Bo, who steers", 1.0),
        ("Ada", 2.75),
    ]
    # A spotter who rides comes last; one who steers himself needs no voice.
    assert who(bo, ("Ada", {"rider", "spotter"})) == [("Bo, who steers", 1.0), ("Ada", 2.75)]
    assert who(("Bo", {"pilot", "spotter"})) == [("Bo, who steers", 1.0)]
    # Where a standing and a riding pilot are named, the slower way is taken.
    assert all(c.rides for c in callers(day(bo, ("Ada", {"rider", "pilot"}))))
    assert "nobody is named" in callers(day())[0].words
