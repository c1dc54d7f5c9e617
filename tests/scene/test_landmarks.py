"""What can be pointed at along a ride, and how a place is said by it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.outing import read
from shotplan.scene.landmarks import Landmark, landmarks, near, say_place
from tests import worlds

# The ride is due north from (0, -100) to (0, 100) at 6 m/s: along = north + 100, t = along / 6.


def along(folder: Path, features: list[dict[str, Any]], **site: Any) -> list[Landmark]:
    """The landmarks of a world without a launch."""
    crew = [{"name": "Ada", "role": ["rider", "pilot"]}]
    says = {"crew": crew, "return_height_m": None, **site}
    outing = read(worlds.write_site(folder, features=features, site=says, without=("launch",)))
    return list(landmarks(outing.site, outing.ride))


def mark(label: str = "gate", along_m: float = 50.0, **says: Any) -> Landmark:
    given: dict[str, Any] = {
        "label": label, "role": "place", "part": "", "along_m": along_m, "time_s": along_m / 6.0,
        "side": "left", "away_m": 6.0, "named": True,
    }  # fmt: skip
    return Landmark(**(given | says))


def told(marks: list[Landmark]) -> list[tuple[str, float, str, float]]:
    return [(m.called, round(m.along_m, 1), m.side, round(m.away_m, 1)) for m in marks]


def test_points_are_passed_abeam_on_their_side(tmp_path: Path) -> None:
    features = [
        worlds.tree("oak", east_m=-8.0, north_m=10.0),
        worlds.tree("t-1", east_m=12.0, north_m=-40.0, name="Bent Pine"),
        worlds.place("cairn", east_m=0.2, north_m=50.0),
        worlds.tree("far", east_m=45.0, north_m=0.0),
        worlds.tree("before", east_m=5.0, north_m=-108.0),
    ]
    found = along(tmp_path, features)
    assert told(found) == [
        ("Bent Pine", 60.0, "right", 12.0),
        ("the oak", 110.0, "left", 8.0),
        ("the cairn", 150.0, "on", 0.0),
    ]
    assert found[1].time_s == pytest.approx(110.0 / 6.0, abs=0.01)


def test_there_and_back_passes_everything_twice(tmp_path: Path) -> None:
    oak = worlds.tree("oak", east_m=-8.0, north_m=10.0)
    wire = worlds.feature("line-1", "wire", worlds.line([(-60.0, 40.0), (60.0, 40.0)]))
    found = along(tmp_path, [oak, wire], ride={"there_and_back": True})
    # The way is 200 m out: back it is at 400 - 110 and at 400 - 140, the oak now on the right.
    assert told(found) == [
        ("the oak", 110.0, "left", 8.0),
        ("the wire line-1", 140.0, "on", 0.0),
        ("the wire line-1", 260.0, "on", 0.0),
        ("the oak", 290.0, "right", 8.0),
    ]


def test_lines_are_crossed_and_areas_have_two_edges(tmp_path: Path) -> None:
    path = worlds.line([(-30.0, -50.0), (0.0, -50.0), (30.0, -20.0)])
    beside = worlds.line([(5.0, -100.0), (5.0, 100.0)])
    larches = worlds.polygon(worlds.box(-20.0, 0.0, 20.0, 30.0))
    pond = worlds.polygon(worlds.box(-20.0, 90.0, 20.0, 130.0))
    found = along(
        tmp_path,
        [
            worlds.feature("footpath", "people", path),
            worlds.feature("lane", "people", beside),
            worlds.feature("w1", "wood", larches, height_m=9.0, name="larches"),
            worlds.feature("pond", "water", pond),
            worlds.feature(
                "line-1", "wire", worlds.line([(-80.0, 60.0), (-15.0, 65.0), (80.0, 84.0)])
            ),
        ],
        ride={"clear_m": 4.0},
    )
    assert told(found) == [
        ("the footpath", 50.0, "on", 0.0),
        ("the near edge of the larches", 100.0, "on", 0.0),
        ("the far edge of the larches", 130.0, "on", 0.0),
        ("the mast of the wire line-1", 165.0, "left", 15.0),
        ("the wire line-1", 168.0, "on", 0.0),
        ("the near edge of the pond", 190.0, "on", 0.0),
    ]


def test_a_building_has_a_near_and_a_far_corner_on_the_side_of_the_ride(tmp_path: Path) -> None:
    barn = worlds.polygon(worlds.box(-25.0, 0.0, -10.0, 20.0))
    built = worlds.feature("barn", "building", barn, height_m=6.0)
    hedge = {"from_m": 40.0, "to_m": 60.0, "right_m": 4.0, "role": "tree", "height_m": 2.0}
    row = {"name": "hedge", "radius_m": 0.5, **hedge}
    found = along(tmp_path, [built], ride={"there_and_back": True}, beside=[row])
    assert told(found)[:4] == [
        ("the near end of the hedge", 40.0, "right", 4.5),
        ("the far end of the hedge", 60.0, "right", 4.5),
        ("the near corner of the barn", 100.0, "left", 10.0),
        ("the far corner of the barn", 120.0, "left", 10.0),
    ]
    assert told(found)[4:6] == [
        ("the near corner of the barn", 280.0, "right", 10.0),
        ("the far corner of the barn", 300.0, "right", 10.0),
    ]


def test_names_stay_as_they_are(tmp_path: Path) -> None:
    name = "<b>{{ 7 }}</b>"
    found = along(tmp_path, [worlds.tree("t", east_m=5.0, north_m=0.0, name=name)])
    assert [m.label for m in found] == [name]
    assert name in say_place(found, 112.0, 6.0)


def test_the_nearest_wins_unless_it_is_far_off_or_has_no_name() -> None:
    near_by = [mark("gate", 50.0), mark("pine", 56.0)]
    assert near(near_by, 52.0) == near_by[0]
    assert near(near_by, 55.0) == near_by[1]
    aside = [mark("gate", 50.0, away_m=38.0), mark("pine", 54.0, away_m=2.0)]
    assert near(aside, 51.0) == aside[1]
    numbered = [mark("tree-07", 50.0, named=False), mark("pine", 57.0)]
    assert near(numbered, 51.0) == numbered[1]
    assert near(numbered, 30.0) == numbered[0]
    assert near(numbered, 24.9) is None


@pytest.mark.parametrize(
    ("at_m", "phrase"),
    [
        (74.0, "4 s after the gate (left, 6 m)"),
        (72.0, "3.5 s after the gate (left, 6 m)"),  # 3.67 s: the earlier half second
        (50.0, "level with the gate"),
        (52.9, "level with the gate"),
        (42.0, "8 m before the gate (left, 6 m)"),
        (41.5, "9 m before the gate (left, 6 m)"),  # 8.5 m: the earlier metre
        (76.0, "34 paces past the gate"),
    ],
)
def test_a_place_is_said_by_its_landmark(at_m: float, phrase: str) -> None:
    assert say_place([mark()], at_m, 6.0) == phrase


def test_what_is_crossed_has_no_side_and_a_standing_rider_counts_no_seconds() -> None:
    wire = [mark("line-1", 50.0, role="wire", side="on", away_m=0.0, named=False)]
    assert say_place(wire, 42.0, 6.0) == "8 m before the wire line-1"
    assert say_place(wire, 62.0, 6.0) == "2 s after the wire line-1"
    assert say_place(wire, 50.0, 6.0) == "at the wire line-1"
    assert say_place(wire, 53.0, 0.0) == "3 m after the wire line-1"
    assert say_place([], 212.0, 6.0) == "212 m along the ride"
    taped = say_place([], 212.0, 6.0, tape=True)
    assert taped == "212 m along the ride; no mark: tape one here"


def test_what_is_said_is_never_later_than_the_place() -> None:
    for at_m in np.arange(26.0, 75.0, 0.37):
        said = say_place([mark()], float(at_m), 6.0)
        first = said.split(" ")[0]
        meant = 50.0
        if " before " in said:
            meant -= float(first)
        elif " after " in said:
            meant += float(first) * 6.0
        assert at_m - 3.0 - 0.05 <= meant <= at_m + 0.05 + 1e-9
