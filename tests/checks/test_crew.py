"""Who steers, who watches, and where they stand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.checks import crew, sight
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Check
from shotplan.scene.scene import Scene
from tests import worlds

GO, CAUTION, UNKNOWN, NO = Verdict.GO, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.NO_GO
RIDER = {"name": "Ada", "role": "rider"}
ALONE = {"name": "Ada", "role": ["rider", "pilot"]}
MATE = {"name": "Cy", "role": "spotter", "stands": "launch"}
PILOT = {"name": "Bo", "role": "pilot", "stands": "launch"}
RIDE = worlds.straight(0.0, 60.0)  # due north; the launch is 30 m to the east of its middle


def scene_of(folder: Path, *people: dict[str, Any], **world: Any) -> Scene:
    site = {"crew": list(people), **world.pop("site", {})}
    return worlds.staged(folder, **{"ride": RIDE, **world, "site": site})


def ask(check: Check, scene: Scene) -> Finding:
    return judging.find(check, scene)


def found(folder: Path, *people: dict[str, Any], **world: Any) -> Finding:
    return ask(crew.CHECK, scene_of(folder, *people, **world))


def at(east_m: float, north_m: float = 0.0) -> dict[str, Any]:
    return worlds.place("stand", east_m=east_m, north_m=north_m)


def said(finding: Finding) -> str:
    return " | ".join(r.text for r in finding.remarks)


# -- roles


def test_a_pilot_who_stands_and_a_rider_who_rides(tmp_path: Path) -> None:
    assert found(tmp_path, RIDER, PILOT).verdict == GO


@pytest.mark.parametrize(
    ("people", "words"),
    [
        ([], "nobody is named as pilot"),
        ([RIDER], "nobody is named as pilot"),
        ([RIDER, {"name": "Bo", "role": "pilot"}], "it is not said where Bo, who steers, stands"),
    ],
)
def test_nobody_to_watch_is_unknown(
    tmp_path: Path, people: list[dict[str, Any]], words: str
) -> None:
    crew_of = found(tmp_path, *people)
    assert crew_of.verdict == UNKNOWN
    assert words in crew_of.reason
    assert "go if" in crew_of.advice


def test_no_launch_is_unknown(tmp_path: Path) -> None:
    pilot = {**PILOT, "stands": "stand"}
    crew_of = found(tmp_path, RIDER, pilot, without=["launch"], features=[at(30.0)])
    assert crew_of.verdict == UNKNOWN
    assert "launched" in crew_of.reason


@pytest.mark.parametrize(
    ("rules", "verdict", "words"),
    [
        ("ca-basic", NO, "ca-basic forbids steering it while riding"),
        ("us-part107", CAUTION, "sparsely populated"),
        ("us-recreational", CAUTION, "does not say whether a rider may be the pilot"),
        ("jp-basic", CAUTION, "does not say whether a rider may be the pilot"),
        ("eu-open-a2", CAUTION, "does not say whether a rider may be the pilot"),
        ("eu-open-a1", GO, "go"),
        ("uk-open-a1", GO, "go"),
    ],
)
def test_whether_the_rider_may_steer_is_the_packs(
    tmp_path: Path, rules: str, verdict: Verdict, words: str
) -> None:
    crew_of = found(tmp_path, ALONE, MATE, site={"rules": rules})
    assert crew_of.verdict == verdict
    assert verdict == GO or words in crew_of.reason
    if verdict == NO:
        assert crew_of.value == 0.0  # metres that somebody else steers, of those ridden
        assert crew_of.limit == pytest.approx(60.0, abs=1.0)


@pytest.mark.parametrize(("height_m", "verdict"), [(40.0, GO), (55.0, CAUTION)])
def test_a_rider_steers_unseen_only_within_50_m(
    tmp_path: Path, height_m: float, verdict: Verdict
) -> None:
    # Slant from an eye 1.6 m up: 12 m aside, 3 m behind, height - 1.6 m above.
    shot = {**worlds.SIDE_TRACK, "height_m": height_m}
    crew_of = found(tmp_path, ALONE, MATE, site={"shot": [shot]})
    assert crew_of.verdict == verdict
    if verdict == CAUTION:
        slant = np.sqrt(12.0**2 + 3.0**2 + (height_m - 1.6) ** 2)
        assert crew_of.told.value == pytest.approx(50.0 - slant, abs=0.1)  # the room inside it
        assert crew_of.told.limit == pytest.approx(0.0)
        assert "it is 54.8 m from them" in crew_of.reason


@pytest.mark.parametrize(
    ("rules", "away_m", "words"),
    [
        ("eu-open-a1", 20.0, "counts an observer only within 5 m of the pilot"),
        ("us-recreational", 20.0, "counts an observer only within 5 m of the pilot"),
        ("eu-open-a1", 3.0, ""),
        ("au-excluded", 3.0, "counts no observer"),
        ("us-part107", 20.0, ""),
        ("ca-basic", 20.0, ""),
    ],
)
def test_an_observer_counts_where_the_pack_says(
    tmp_path: Path, rules: str, away_m: float, words: str
) -> None:
    spotter = {"name": "Cy", "role": "spotter", "stands": "stand"}
    crew_of = found(
        tmp_path, RIDER, PILOT, spotter, features=[at(30.0 + away_m)], site={"rules": rules}
    )
    assert crew_of.verdict == GO  # one more pair of eyes is no reason against a flight
    assert words in said(crew_of)
    assert bool(words) == ("Cy" in said(crew_of))


# -- whose sight counts (the sight check, by the same rule)


@pytest.mark.parametrize(
    ("rules", "where", "verdict"),
    [
        ("ca-basic", "far", GO),  # anywhere
        ("us-recreational", "far", NO),  # co-located: here not
        ("us-recreational", "near", NO),  # co-located, behind the same wall
        ("us-part107", "far", NO),  # the pilot must be able to
        ("au-excluded", "far", NO),
        ("nz-part101", "far", GO),
    ],
)
def test_sight_counts_an_observer_only_where_the_pack_does(
    tmp_path: Path, rules: str, where: str, verdict: Verdict
) -> None:
    wall = worlds.feature(
        "wall", "building", worlds.polygon(worlds.box(20.0, -60.0, 22.0, 60.0)), height_m=25.0
    )
    places = [
        worlds.place("far", east_m=-60.0, north_m=0.0),
        worlds.place("near", east_m=33.0, north_m=0.0),
    ]
    spotter = {"name": "Cy", "role": "spotter", "stands": where}
    scene = scene_of(
        tmp_path, RIDER, PILOT, spotter, features=[wall, *places], site={"rules": rules}
    )
    assert ask(sight.CHECK, scene).verdict == verdict


def test_a_rider_is_no_observer_where_riders_may_not_steer(tmp_path: Path) -> None:
    wall = worlds.feature(
        "wall", "building", worlds.polygon(worlds.box(20.0, -60.0, 22.0, 60.0)), height_m=25.0
    )
    both = {"name": "Ada", "role": ["rider", "spotter"]}
    scene = scene_of(tmp_path, both, PILOT, features=[wall], site={"rules": "ca-basic"})
    assert ask(sight.CHECK, scene).verdict == NO
    assert "rides and cannot be the observer" in said(ask(crew.CHECK, scene))


# -- alone


def test_alone_says_where_it_qualifies_how_far_it_flies_on_and_what_a_friend_adds(
    tmp_path: Path,
) -> None:
    wall = worlds.feature(
        "wall", "building", worlds.polygon(worlds.box(-8.0, -60.0, -6.0, 60.0)), height_m=25.0
    )
    lookout = worlds.place("lookout", east_m=-60.0, north_m=0.0, name="the old wall")
    crew_of = found(tmp_path, ALONE, features=[wall, lookout])
    hands, follow, friend = (r.text for r in crew_of.remarks)
    # v/3.4 + 5 s at 6 m/s: 6.76 s, 40.6 m flown at the rider's speed
    assert "flies up to 40.6 m before your hands are on the control (6.8 s from 6.0 m/s" in hands
    assert "within 50 m, where eu-open-a1 lets it follow unseen, it is from 0 m to 59 m" in follow
    # the wall hides it from the rider all along, and from the launch; the old wall sees all
    assert "one friend at the old wall would see it for 10.0 s of 10.0 s, 10.0 s of them" in friend
    assert crew_of.verdict == CAUTION
    assert crew_of.reason == hands
    assert "at the old wall they see it for 10.0 s" in crew_of.advice


def test_alone_where_nothing_may_follow_unseen(tmp_path: Path) -> None:
    crew_of = found(tmp_path, ALONE, site={"rules": "us-part107"})
    assert "no stretch qualifies under us-part107" in said(crew_of)


def test_two_people_are_not_alone(tmp_path: Path) -> None:
    assert "alone" not in said(found(tmp_path, ALONE, MATE))


# -- where they stand


def edge(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
    """Ground that falls by 30 m, sheer, at x = 40 (half a cell wide to each side)."""
    return 100.0 - np.clip(60.0 * (x - 39.75), 0.0, 30.0)


@pytest.mark.parametrize(("east_m", "verdict"), [(33.0, GO), (36.5, CAUTION), (39.0, CAUTION)])
def test_five_metres_from_a_drop(tmp_path: Path, east_m: float, verdict: Verdict) -> None:
    pilot = {**PILOT, "stands": "stand"}
    crew_of = found(tmp_path, RIDER, pilot, features=[at(east_m)], terrain=edge, cell_m=0.5)
    assert crew_of.verdict == verdict
    if verdict == CAUTION:
        assert crew_of.told.value == pytest.approx(40.0 - east_m, abs=0.5)
        assert crew_of.told.limit == pytest.approx(5.0)
        assert crew_of.told.thing == "Bo at stand"
        assert "ground more than 3 m lower" in crew_of.reason


@pytest.mark.parametrize(("east_m", "verdict"), [(75.0, GO), (65.0, CAUTION)])
def test_not_at_a_faces_foot_nearer_than_it_is_high(
    tmp_path: Path, east_m: float, verdict: Verdict
) -> None:
    pilot = {**PILOT, "stands": "stand"}
    crew_of = found(tmp_path, RIDER, pilot, features=[at(east_m)], terrain=edge, cell_m=0.5)
    assert crew_of.verdict == verdict
    if verdict == CAUTION:
        assert "from the foot of a face 30.0 m high" in crew_of.reason
        assert crew_of.told.value == pytest.approx(east_m - 40.0, abs=1.5)


@pytest.mark.parametrize(
    ("wire_m", "verdict"), [(30.0, NO), (36.0, CAUTION), (44.0, CAUTION), (48.0, GO)]
)
def test_wires_over_the_launch(tmp_path: Path, wire_m: float, verdict: Verdict) -> None:
    way = worlds.line([(wire_m, -100.0), (wire_m, 100.0)])
    wire = worlds.feature(
        "wire", "wire", way, height_m=15.0, sag_m=0.0, error_m=0.0, height_error_m=0.0
    )
    exact = {"ride": {"error_m": 0.0}, "map_error_m": 0.0}
    crew_of = found(tmp_path, RIDER, PILOT, features=[wire], site=exact)
    assert crew_of.verdict == verdict
    if verdict != GO:
        assert crew_of.told.thing == "wire"
        assert crew_of.told.value == pytest.approx(wire_m - 30.0, abs=0.1)


def test_a_wire_of_unknown_height_near_the_launch_is_unknown(tmp_path: Path) -> None:
    way = worlds.line([(50.0, -100.0), (50.0, 100.0)])
    crew_of = found(tmp_path, RIDER, PILOT, features=[worlds.feature("wire", "wire", way)])
    assert crew_of.verdict == UNKNOWN
    assert "height is not known" in crew_of.reason


def test_where_nobody_looked_for_wires_a_stand_is_unknown(tmp_path: Path) -> None:
    looked = {"survey": {"looked_for": ["trees", "buildings"]}}
    crew_of = found(tmp_path, RIDER, PILOT, site=looked)
    assert crew_of.verdict == UNKNOWN
    assert "nobody looked for wires where Bo at launch is" in crew_of.reason


@pytest.mark.parametrize(("east_m", "verdict"), [(2.9, NO), (3.1, GO)])
def test_not_on_the_ride_line(tmp_path: Path, east_m: float, verdict: Verdict) -> None:
    pilot = {**PILOT, "stands": "stand"}
    crew_of = found(tmp_path, RIDER, pilot, features=[at(east_m)])
    assert crew_of.verdict == verdict
    if verdict == NO:
        assert crew_of.value == pytest.approx(2.9, abs=0.05)
        assert "move 0.5 m aside" in crew_of.advice


def test_the_launch_alone_on_the_line_is_refused_too(tmp_path: Path) -> None:
    launch = worlds.place("launch", east_m=1.0, north_m=0.0)
    crew_of = found(tmp_path, ALONE, without=["launch"], features=[launch])
    assert crew_of.verdict == NO
    assert crew_of.thing == "launch"


def test_unknown_ground_around_a_stand_is_unknown(tmp_path: Path) -> None:
    def holed(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.where(np.hypot(x - 33.0, y) < 1.5, np.nan, 84.0)

    crew_of = found(tmp_path, RIDER, PILOT, terrain=holed, cell_m=1.0)
    assert crew_of.verdict == UNKNOWN
    assert "the ground around Bo at launch is not known" in crew_of.reason
