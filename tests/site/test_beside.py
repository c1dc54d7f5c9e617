"""Obstacles paced from the ride: put where a person would walk to."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from shotplan.errors import BadInput, Problems
from shotplan.model.ride import Ride
from shotplan.model.site import Site
from shotplan.outing import read
from shotplan.ride.along import sampled
from shotplan.ride.path import at_speed, there_and_back
from shotplan.site import beside
from shotplan.site.tables import BesideTable
from tests.worlds import straight, write_site

Array = NDArray[np.float64]


def level(xy: Array) -> Array:
    return np.full(xy.shape[:-1], 84.0)


def ride(azimuth_deg: float = 0.0) -> Ride:
    return sampled(at_speed(straight(azimuth_deg), 6.0), level)


def put(table: BesideTable, on: Ride) -> beside.Placed:
    problems = Problems()
    placed = beside.place(table, 1, on, "here", problems)
    problems.raise_if_any()
    assert placed is not None
    return placed


def tree(**says: Any) -> BesideTable:
    return BesideTable(role="tree", height_m=9.0, **says)


def test_a_tree_stands_at_its_trunk_and_a_building_at_its_near_wall() -> None:
    trunk = put(tree(at_m=120.0, left_m=5.0, radius_m=2.0), ride())
    np.testing.assert_allclose(trunk.path_m, [[-5.0, 20.0]], atol=1e-6)
    wall = put(
        BesideTable(role="building", height_m=4.0, at_m=120.0, right_m=5.0, radius_m=3.0), ride()
    )
    np.testing.assert_allclose(wall.path_m, [[8.0, 20.0]], atol=1e-6)


def test_a_row_is_a_wall_whose_near_face_is_where_it_was_paced() -> None:
    row = put(tree(from_m=50.0, to_m=80.0, left_m=5.0), ride())
    assert row.path_m.shape == (31, 2)
    np.testing.assert_allclose(row.path_m[:, 0], -5.5, atol=1e-6)
    np.testing.assert_allclose(row.path_m[[0, -1], 1], [-50.0, -20.0], atol=1e-6)
    assert row.thing.radius_m == 0.5


@given(st.floats(0.0, 360.0), st.floats(0.0, 199.0), st.floats(0.0, 50.0), st.booleans())
def test_left_is_left_whichever_way_he_rides(
    azimuth_deg: float, at_m: float, off_m: float, left: bool
) -> None:
    side = {"left_m": off_m} if left else {"right_m": off_m}
    placed = put(tree(at_m=at_m, radius_m=2.0, **side), ride(azimuth_deg))
    azimuth = np.radians(azimuth_deg)
    ahead = np.array([np.sin(azimuth), np.cos(azimuth)])
    right = np.array([ahead[1], -ahead[0]])
    wanted = (at_m - 100.0) * ahead + (-off_m if left else off_m) * right
    np.testing.assert_allclose(placed.path_m[0], wanted, atol=1e-6)


def test_at_a_bend_it_is_abeam_of_the_smoothed_course() -> None:
    bend = at_speed(np.array([[0.0, -60.0], [0.0, 0.0], [60.0, 0.0]]), 6.0)
    placed = put(tree(at_m=60.0, left_m=10.0, radius_m=2.0), sampled(bend, level))
    np.testing.assert_allclose(placed.path_m[0], np.array([-1.0, 1.0]) * 10.0 / np.sqrt(2.0))


def test_a_standstill_is_passed_once() -> None:
    xy = np.array([[0.0, 0.0], [0.0, 30.0], [0.0, 30.0], [0.0, 60.0]])
    path = at_speed(xy, 6.0)
    on = sampled(there_and_back(path), level)
    placed = put(tree(at_m=30.0, right_m=4.0, radius_m=1.0), on)
    np.testing.assert_allclose(placed.path_m, [[4.0, 30.0]], atol=1e-6)


def test_beyond_the_ride_is_a_problem() -> None:
    problems = Problems()
    table = tree(at_m=240.0, left_m=5.0, radius_m=2.0)
    assert beside.place(table, 1, ride(), "here", problems) is None
    assert "it is at 240 m; the ride is 200 m long" in str(problems.found[0])


def site(folder: Path, *rows: dict[str, Any], **more: Any) -> Site:
    return read(write_site(folder, site={"beside": list(rows), **more})).site


def test_it_is_grown_by_half_a_metre_whatever_the_ride_s_error(tmp_path: Path) -> None:
    row = {"role": "tree", "at_m": 100.0, "left_m": 5.0, "height_m": 9.0, "radius_m": 2.0}
    wall = {"role": "tree", "from_m": 10.0, "to_m": 20.0, "right_m": 3.0, "height_m": 3.0}
    found = site(tmp_path, row, wall, ride={"error_m": 7.0})
    things = found.obstacles.things
    assert [t.id for t in things] == ["beside-1", "beside-2"]
    assert all(t.paced and t.error_m == 0.5 for t in things)
    grown, drawn = found.obstacles.rest_grown, found.obstacles.rest_drawn
    np.testing.assert_allclose(grown.columns.radius_m, [2.5])
    np.testing.assert_allclose(drawn.columns.radius_m, [2.0])
    np.testing.assert_allclose(grown.columns.top_m, [84.0 + 9.0 + 1.0])
    np.testing.assert_allclose(grown.prisms.radius_m, 1.0)
    assert set(grown.prism_thing.tolist()) == {1}


def test_a_wire_along_the_ride_is_a_wire(tmp_path: Path) -> None:
    wire = {"role": "wire", "from_m": 10.0, "to_m": 20.0, "right_m": 3.0, "height_m": 6.0}
    found = site(tmp_path, wire).obstacles
    assert len(found.rest_grown.prisms.top_m) == 0
    assert np.isneginf(found.wires_grown.prisms.bottom_m).all()
    assert len(found.opaque.prisms.top_m) == 0


def test_there_and_back_is_paced_on_the_way_there(tmp_path: Path) -> None:
    row = {"role": "pole", "at_m": 195.0, "left_m": 5.0, "height_m": 9.0}
    found = site(tmp_path, row, ride={"there_and_back": True})
    np.testing.assert_allclose(found.obstacles.things[0].where_m, [[-5.0, 95.0]], atol=1e-6)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"at_m": None}, "wanted either at_m, or both from_m and to_m"),
        ({"from_m": 5.0}, "wanted either at_m, or both from_m and to_m"),
        ({"right_m": 5.0}, "wanted either left_m or right_m"),
        ({"left_m": None}, "wanted either left_m or right_m"),
        ({"radius_m": None}, "radius_m is missing"),
        ({"role": "wire"}, "a wire beside the ride needs from_m and to_m"),
        ({"base_m": 9.0}, "not below height_m"),
        ({"id": "launch"}, "is taken"),
        ({"at_m": 900.0}, "the ride is"),
        ({"left_m": -5.0}, "left_m"),
    ],
)
def test_what_cannot_be_paced_is_said(tmp_path: Path, change: dict[str, Any], said: str) -> None:
    row = {"role": "tree", "at_m": 100.0, "left_m": 5.0, "height_m": 9.0, "radius_m": 2.0}
    changed = {k: v for k, v in {**row, **change}.items() if v is not None}
    with pytest.raises(BadInput) as caught:
        site(tmp_path, changed)
    assert len(caught.value.problems) == 1
    assert said in str(caught.value)
    assert "[[beside]]" in str(caught.value)
