"""What single things are made of, on level ground, on a slope, and where the ground is unknown."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from shotplan.kernels.solids import prisms
from shotplan.kernels.solids.prisms import Prisms
from shotplan.site import solids, woods
from shotplan.site.solids import AS_DRAWN, Growth, Solids
from shotplan.site.woods import Cut

Array = NDArray[np.float64]
SQUARE = (np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 8.0], [0.0, 8.0]]),)
GROWN = Growth(2.5, 1.0, 0.5)


def level(xy: Array) -> Array:
    return np.full(xy.shape[:-1], 50.0)


def slope(xy: Array) -> Array:
    """Rises one metre in ten toward the east."""
    return np.asarray(50.0 + 0.1 * xy[..., 0])


def half_known(xy: Array) -> Array:
    return np.where(xy[..., 0] <= 5.0, 50.0, np.nan)


def unknown(xy: Array) -> Array:
    return np.full(xy.shape[:-1], np.nan)


def all_prisms(found: Solids) -> Prisms:
    return solids.joined_prisms(found.prisms)


def distance(found: Solids, *points: tuple[float, float, float]) -> Array:
    index = prisms.index(all_prisms(found))
    return prisms.nearest(index, np.array(points, dtype=float)).distance_m


def test_a_tree_is_a_crown_on_a_trunk() -> None:
    found = solids.tree(np.array([3.0, 4.0]), level, 14.0, 2.0, 2.5, 0.25, AS_DRAWN)
    assert found.columns == ((3.0, 4.0, 2.5, 52.0, 64.0), (3.0, 4.0, 0.25, 50.0, 52.0))


def test_a_grown_tree_is_wider_higher_and_hangs_lower() -> None:
    # DEFINITIONS "Error": the underside comes down by height_error_m as the top goes up by it.
    found = solids.tree(np.array([3.0, 4.0]), level, 14.0, 2.0, 2.5, 0.25, GROWN)
    assert found.columns == ((3.0, 4.0, 5.0, 51.0, 65.0), (3.0, 4.0, 2.75, 50.0, 51.0))
    to_the_ground = solids.tree(np.array([3.0, 4.0]), level, 14.0, 0.8, 2.5, 0.25, GROWN)
    assert to_the_ground.columns == ((3.0, 4.0, 5.0, 50.0, 65.0),)


def lip(xy: Array) -> Array:
    """Level at 50 m, and from 1 m east on 8 m lower."""
    return np.where(xy[..., 0] <= 1.0, 50.0, 42.0)


def test_a_tree_stands_on_the_highest_ground_within_its_own_error() -> None:
    # Drawn 0.8 m below the lip: within 1 m is the top of it, and the foot of the face.
    where, far = np.array([1.8, 4.0]), np.array([2.2, 4.0])
    grown = GROWN._replace(foot_m=1.0)
    (crown, trunk) = solids.tree(where, lip, 14.0, 2.0, 2.5, 0.25, grown).columns
    assert crown == (1.8, 4.0, 5.0, 42.0 + 2.0 - 1.0, 50.0 + 14.0 + 1.0)
    assert trunk == (1.8, 4.0, 2.75, 42.0, 43.0)
    (crown, _) = solids.tree(far, lip, 14.0, 2.0, 2.5, 0.25, grown).columns
    assert crown[3:] == (43.0, 57.0)
    (drawn, _) = solids.tree(where, lip, 14.0, 2.0, 2.5, 0.25, AS_DRAWN).columns
    assert drawn[3:] == (44.0, 56.0)


@given(st.floats(0.0, 12.0), st.floats(-1.5, 1.5), st.floats(-1.5, 1.5), st.floats(-0.2, 0.2))
def test_the_highest_ground_within_an_error_on_a_plane(
    within: float, east: float, north: float, bend: float
) -> None:
    # On z = a·x + b·y + c·(x² + y²) about the middle: |(a, b)|·r + c·r² on the rim, or, where c is
    # negative, -|(a, b)|²/4c inside it (calculus).
    def dish(xy: Array) -> Array:
        x, y = xy[..., 0], xy[..., 1]
        return np.asarray(east * x + north * y + bend * (x * x + y * y))

    steep = float(np.hypot(east, north))
    wanted = steep * within + bend * within**2
    if bend < 0.0 and steep < -2.0 * bend * within:
        wanted = -(steep**2) / (4.0 * bend)
    found = solids.feet(dish, np.zeros((1, 2)), within)
    assert found.whole[0]
    assert wanted - 0.05 <= found.high_m[0] <= wanted + 1e-9


def test_where_a_thing_may_stand_on_unknown_ground_it_is_in_doubt_too() -> None:
    grown = GROWN._replace(foot_m=1.0)
    found = solids.tree(np.array([4.5, 4.0]), half_known, 14.0, 0.0, 2.5, 0.25, grown)
    assert found.columns == ((4.5, 4.0, 5.0, 50.0, 65.0),)
    assert len(found.doubtful) == 1
    path = np.array([[-60.0, 0.0], [0.0, 0.0], [4.5, 0.0]])
    wire = solids.wire(path, np.full(3, 9.0), None, half_known, grown)
    assert [len(p.top_m) > 0 for p in wire.prisms] == [True, True]
    assert len(wire.doubtful) == 1


def test_buildings_poles_and_wires_have_their_feet_within_their_error_too() -> None:
    grown = GROWN._replace(foot_m=1.0)
    west = (np.array([[1.5, 0.0], [9.0, 0.0], [9.0, 8.0], [1.5, 8.0]]),)
    assert all_prisms(solids.building(west, 6.0, lip, AS_DRAWN)).top_m[0] == 48.0
    assert all_prisms(solids.building(west, 6.0, lip, grown)).top_m[0] == 57.0
    hut = solids.round_building(np.array([4.0, 4.0]), 2.5, 6.0, lip, grown)
    assert hut.columns[0][3:] == (42.0, 57.0)
    pole = solids.tree(np.array([1.8, 4.0]), lip, 9.0, 0.0, 0.3, 0.0, grown)
    assert pole.columns[0][3:] == (42.0, 60.0)
    path = np.array([[1.8, 0.0], [31.8, 0.0]])
    wire = all_prisms(solids.wire(path, np.array([9.0, 9.0]), None, lip, grown))
    np.testing.assert_allclose(wire.top_m.max(), 60.0)
    row = all_prisms(solids.row(path[:, ::-1], 0.5, 9.0, lip, grown, hangs=False))
    assert row.top_m.max() == 60.0


def test_a_tree_without_a_base_reaches_the_ground() -> None:
    found = solids.tree(np.array([3.0, 4.0]), level, 14.0, 0.0, 2.5, 0.25, AS_DRAWN)
    assert found.columns == ((3.0, 4.0, 2.5, 50.0, 64.0),)


def test_a_tree_on_unknown_ground_is_in_doubt() -> None:
    found = solids.tree(np.array([3.0, 4.0]), unknown, 14.0, 2.0, 2.5, 0.25, GROWN)
    assert found.columns == ()
    doubt = solids.joined_prisms(found.doubtful)
    np.testing.assert_array_equal(doubt.radius_m, [5.0])
    np.testing.assert_array_equal(doubt.corners_m, [[[3.0, 4.0]] * 3])
    assert np.isinf([doubt.bottom_m, doubt.top_m]).all()


def test_a_building_s_top_is_counted_from_the_highest_ground_under_it() -> None:
    found = all_prisms(solids.building(SQUARE, 6.0, slope, AS_DRAWN))
    np.testing.assert_allclose(found.top_m, 57.0)
    np.testing.assert_allclose(found.bottom_m, 50.0)
    grown = all_prisms(solids.building(SQUARE, 6.0, slope, GROWN))
    np.testing.assert_allclose(grown.top_m, 58.0)
    np.testing.assert_allclose(grown.radius_m, 2.5)


def test_a_knoll_inside_a_building_counts() -> None:
    def knoll(xy: Array) -> Array:
        return np.asarray(50.0 + 3.0 * np.exp(-np.sum((xy - [5.1, 4.2]) ** 2, axis=-1)))

    found = all_prisms(solids.building(SQUARE, 6.0, knoll, AS_DRAWN))
    np.testing.assert_allclose(found.top_m, 59.0, atol=0.2)


def test_a_building_half_on_unknown_ground_is_both_solid_and_in_doubt() -> None:
    found = solids.building(SQUARE, 6.0, half_known, GROWN)
    assert all_prisms(found).top_m[0] == 57.0
    assert solids.joined_prisms(found.doubtful).radius_m[0] == 2.5
    nothing = solids.building(SQUARE, 6.0, unknown, GROWN)
    assert len(all_prisms(nothing).top_m) == 0
    assert len(nothing.doubtful) == 1


def test_a_wood_on_level_ground() -> None:
    found = woods.wood(SQUARE, 12.0, 0.0, None, level, AS_DRAWN)
    np.testing.assert_allclose(distance(found, (5, 4, 55), (5, 4, 65), (-3, 4, 55)), [0, 3, 3])


def test_a_wood_on_a_slope_follows_it_cell_by_cell() -> None:
    found = woods.wood(SQUARE, 12.0, 3.0, None, slope, AS_DRAWN)
    pieces = all_prisms(found)
    east = pieces.corners_m[..., 0].max(axis=1)
    np.testing.assert_allclose(pieces.top_m, np.where(east > 5.0, 63.0, 62.5))
    np.testing.assert_allclose(pieces.bottom_m, np.where(east > 5.0, 53.5, 53.0))
    area = 0.5 * np.abs(np.cross(*_two_sides(pieces.corners_m))).sum()
    np.testing.assert_allclose(area, 80.0)


def _two_sides(corners: Array) -> tuple[Array, Array]:
    one, other = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    zero = np.zeros((len(corners), 1))
    return np.hstack([one, zero]), np.hstack([other, zero])


def test_a_grown_wood_hangs_lower() -> None:
    # DEFINITIONS "Error"; also where the ride cuts it open lower than that.
    drawn = woods.wood(SQUARE, 12.0, 3.0, None, level, AS_DRAWN)
    grown = woods.wood(SQUARE, 12.0, 3.0, None, level, GROWN)
    np.testing.assert_allclose(distance(drawn, (5, 4, 51)), 2.0)
    np.testing.assert_allclose(distance(grown, (5, 4, 51)), 1.0)
    roofed = woods.wood(SQUARE, 12.0, 3.0, Cut(PATH, 4.0, 2.0), level, GROWN)
    np.testing.assert_allclose(distance(roofed, (5, 4, 51)), 1.0)
    under = woods.wood(SQUARE, 12.0, 0.5, None, level, GROWN)
    np.testing.assert_array_equal(all_prisms(under).bottom_m, 50.0)


def test_a_wood_on_unknown_ground_is_in_doubt_there() -> None:
    found = woods.wood(SQUARE, 12.0, 0.0, None, half_known, AS_DRAWN)
    assert solids.joined_prisms(found.doubtful).corners_m[..., 0].min() >= 5.0 - 1e-9
    known = all_prisms(found)
    np.testing.assert_allclose(known.top_m, 62.0)


PATH = np.array([[-20.0, 4.0], [30.0, 4.0]])


def test_a_cut_is_open_to_the_sky_without_a_roof() -> None:
    found = woods.wood(SQUARE, 12.0, 0.0, Cut(PATH, 4.0, np.inf), level, AS_DRAWN)
    np.testing.assert_allclose(
        distance(found, (5, 4, 55), (5, 5, 70), (5, 7, 55)), [2, 8.0623, 0], atol=1e-3
    )


def test_a_cut_has_its_sides_and_its_roof_half_a_metre_nearer_when_grown() -> None:
    cut = Cut(PATH, 4.0, 5.0)
    drawn = woods.wood(SQUARE, 12.0, 0.0, cut, level, AS_DRAWN)
    grown = woods.wood(SQUARE, 12.0, 0.0, cut, level, GROWN)
    low, high = (5.0, 4.0, 51.0), (5.0, 4.0, 54.0)
    np.testing.assert_allclose(distance(drawn, low, high), [2.0, 1.0], atol=1e-6)
    np.testing.assert_allclose(distance(grown, low, high), [1.5, 0.5], atol=1e-6)
    # The wood's own outline is grown by the whole error, and it is a metre higher.
    np.testing.assert_allclose(distance(grown, (-4, 0, 53), (5, 0, 64)), [1.5, 1.0], atol=0.01)


def test_a_cut_narrower_than_its_error_is_closed() -> None:
    found = woods.wood(SQUARE, 12.0, 0.0, Cut(PATH, 0.9, 5.0), level, GROWN)
    assert distance(found, (5, 4, 51))[0] == 0.0


def test_a_roof_above_the_trees_is_no_roof() -> None:
    found = woods.wood(SQUARE, 12.0, 0.0, Cut(PATH, 4.0, 14.0), level, GROWN)
    np.testing.assert_allclose(distance(found, (5, 4, 51)), 1.5, atol=1e-6)


def test_a_wire_hangs_as_a_parabola_and_its_curtain_reaches_down() -> None:
    path = np.array([[0.0, 0.0], [100.0, 0.0]])
    found = all_prisms(solids.wire(path, np.array([10.0, 10.0]), 4.0, level, AS_DRAWN))
    # Sag s of a parabola between level supports: 4·s·x·(1 - x) below the chord (its definition).
    # Every piece is as high as its higher end, and no longer than the wire falls by 5 cm.
    share = found.corners_m[:, :2, 0].mean(axis=1) / 100.0
    over = found.top_m - (60.0 - 4 * 4.0 * share * (1.0 - share))
    assert over.min() >= -1e-9
    assert over.max() <= 0.05
    assert np.ptp(found.corners_m[:, :2, 0], axis=1).max() <= 1.0 + 1e-9
    assert np.isneginf(found.bottom_m).all()
    assert found.radius_m.max() == 0.0


def test_a_sag_that_nobody_measured_lowers_no_wire() -> None:
    # DEFINITIONS "Wire": with a curtain to the ground a guess would only lower its top.
    path = np.array([[0.0, 0.0], [100.0, 0.0], [140.0, 0.0]])
    found = all_prisms(solids.wire(path, np.array([10.0, 12.0, 10.0]), None, level, GROWN))
    middle = found.corners_m[:, :2, 0].mean(axis=1)
    lowest = found.top_m[np.abs(middle - 50.0) < 1.0].min()
    np.testing.assert_allclose(lowest, 50.0 + 11.0 + 1.0, atol=0.05)
    second = found.top_m[np.abs(middle - 120.0) < 1.0].min()
    np.testing.assert_allclose(second, 50.0 + 11.0 + 1.0, atol=0.05)
    np.testing.assert_allclose(found.radius_m, 2.5)


def test_a_wire_of_unknown_height_is_in_doubt_within_thirty_metres() -> None:
    path = np.array([[0.0, 0.0], [100.0, 0.0], [140.0, 0.0]])
    found = solids.wire(path, np.array([10.0, 10.0, np.nan]), 1.0, level, GROWN)
    assert all_prisms(found).corners_m[..., 0].max() == 100.0
    doubt = solids.joined_prisms(found.doubtful)
    np.testing.assert_array_equal(doubt.radius_m, [32.5])
    np.testing.assert_array_equal(doubt.corners_m[0, 0], [100.0, 0.0])


def test_a_row_is_a_wall() -> None:
    path = np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]])
    found = all_prisms(solids.row(path, 0.5, 9.0, slope, Growth(0.5, 1.0, 0.5), hangs=False))
    np.testing.assert_allclose(found.radius_m, 1.0)
    ground = slope(found.corners_m[:, :2].mean(axis=1))
    for edge, height in ((found.bottom_m, 0.0), (found.top_m, 10.0)):
        np.testing.assert_allclose(edge, ground + height, atol=0.026)
    assert (found.bottom_m.min(), found.top_m.max()) == (50.0, 60.2)


@given(
    st.floats(-20, 30), st.floats(-20, 30), st.floats(45, 75), st.floats(0.0, 4.0), st.booleans()
)
def test_growing_never_takes_away(x: float, y: float, z: float, by: float, cut: bool) -> None:
    opening = Cut(PATH, 4.0, 5.0) if cut else None
    drawn = woods.wood(SQUARE, 12.0, 2.0, opening, slope, AS_DRAWN)
    grown = woods.wood(SQUARE, 12.0, 2.0, opening, slope, Growth(by, by, 0.5))
    # The underside of a cell follows the lowest ground in it, so cells cut differently by growing
    # may start a cell's fall (0.5 m here) apart.
    assert distance(grown, (x, y, z))[0] <= distance(drawn, (x, y, z))[0] + 0.5 + 1e-6


def test_inside_points_stand_for_an_area_with_a_hole() -> None:
    hole = np.array([[4.0, 2.0], [8.0, 2.0], [8.0, 6.0], [4.0, 6.0]])
    found = solids.inside_points((SQUARE[0], hole))
    strictly = (np.abs(found - [6.0, 4.0]) < [1.99, 1.99]).all(axis=1)
    assert not strictly.any()
    assert len(found) > 20


@pytest.mark.parametrize("count", [0, 3])
def test_joining_prisms(count: int) -> None:
    piece = solids.in_doubt(solids.disc(np.array([1.0, 2.0])), 3.0)
    assert len(solids.joined_prisms([piece] * count).top_m) == count


def test_the_ground_under_many_is_that_under_each() -> None:
    rng = np.random.default_rng(6)
    where = rng.uniform(0.0, 9.0, (400, 2))
    within = rng.choice([0.0, 0.5, 1.7], len(where))
    together = solids.feet_each(half_known, where, within)
    for spot, radius, found in zip(where, within.tolist(), together, strict=True):
        alone = solids.feet(half_known, spot[None], radius)
        assert repr(found) == repr(tuple(field[0].item() for field in alone))
