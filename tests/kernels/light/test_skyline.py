from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shotplan.kernels.ground import grid
from shotplan.kernels.light import skyline
from shotplan.kernels.solids import columns, prisms

EYE = np.array([0.0, 0.0, 1.6])
FAR_M = 400.0


def degrees(*values: float) -> skyline.Array:
    return np.asarray(np.radians(values))


def test_a_step_in_the_ground_stands_where_it_should() -> None:
    def ground(xy: skyline.Array) -> skyline.Array:
        return np.where(xy[..., 0] >= 100.0, 11.6, 0.0)  # a wall of 10 m over the eye, to the east

    found = skyline.profile(ground, EYE, degrees(90.0, 270.0), FAR_M)
    east, west = np.degrees(found.highest_rad[:, -1])
    # looked at in steps of 1 %, so the wall may seem that much farther
    assert math.degrees(math.atan2(10.0, 101.1)) <= east <= math.degrees(math.atan2(10.0, 100.0))
    assert west == pytest.approx(math.degrees(math.atan2(-1.6, found.distance_m[-1])))
    assert np.isinf(found.known_m).all()


def test_missing_ground_is_told_and_passed_over() -> None:
    def ground(xy: skyline.Array) -> skyline.Array:
        north = xy[..., 1]
        return np.where((north > 50.0) & (north < 80.0), np.nan, np.where(north >= 80.0, 21.6, 0.0))

    found = skyline.profile(ground, EYE, degrees(0.0, 180.0), FAR_M)
    assert 50.0 < found.known_m[0] <= 51.0
    assert np.isinf(found.known_m[1])
    assert np.degrees(found.highest_rad[0, -1]) == pytest.approx(
        math.degrees(math.atan2(20.0, 80.0)), abs=0.2
    )


def test_a_column_is_as_wide_and_high_as_it_should_be() -> None:
    one = columns.Columns(
        np.array([[0.0, 50.0]]), np.array([5.0]), np.array([3.6]), np.array([11.6])
    )
    azimuth = np.radians(np.arange(-10.0, 10.0, 0.01))
    found = skyline.column_spans(one, EYE, azimuth)
    half = math.degrees(math.asin(5.0 / 50.0))
    seen = np.degrees(azimuth[found.at])
    assert seen.min() == pytest.approx(-half, abs=0.011)
    assert seen.max() == pytest.approx(half, abs=0.011)
    middle = int(np.argmin(np.abs(seen)))
    # the top stands highest at its near edge, the underside (over the eye) lowest at its far one
    assert found.near_m[middle] == pytest.approx(45.0, abs=0.01)
    assert found.high_rad[middle] == pytest.approx(math.atan2(10.0, 45.0), abs=1e-4)
    assert found.low_rad[middle] == pytest.approx(math.atan2(2.0, 55.0), abs=1e-4)


def test_what_is_about_the_eye_or_behind_it_is_not_ahead() -> None:
    crowns = columns.Columns(
        np.array([[0.0, 0.0], [0.0, -30.0]]), np.full(2, 3.0), np.zeros(2), np.full(2, 9.0)
    )
    found = skyline.column_spans(crowns, EYE, degrees(-1.0, 0.0, 1.0))
    assert len(found.which) == 0


corner = st.tuples(st.floats(-60.0, 60.0), st.floats(-60.0, 60.0))


@given(st.lists(corner, min_size=3, max_size=3), st.floats(0.0, 4.0), st.floats(0.0, 360.0))
def test_prisms_begin_where_level_rays_first_meet_them(
    corners: list[tuple[float, float]], radius: float, bearing: float
) -> None:
    """The second way: the rays that answer whether something is seen."""
    one = prisms.Prisms(np.array([corners]), np.array([radius]), np.array([0.0]), np.array([8.0]))
    azimuth = np.radians(bearing + np.arange(0.0, 360.0, 7.0))
    away = np.stack([np.sin(azimuth), np.cos(azimuth), np.zeros_like(azimuth)], axis=-1)
    start = np.broadcast_to(EYE, away.shape)
    share, _ = prisms.first_cut(one, start, start + FAR_M * away)
    found = skyline.prism_spans(one, EYE, azimuth)
    near = np.full(len(azimuth), np.inf)
    near[found.at] = found.near_m
    met = np.isfinite(share) & (share > 0.0)
    # a ray that only grazes may be met by one way and missed by the other
    both = met & np.isfinite(near)
    np.testing.assert_allclose(near[both], share[both] * FAR_M, atol=1e-6)
    _, back = _depth(one, start, away)
    grazing = back < 0.01
    assert (np.isfinite(near) == met)[~grazing & ~(share == 0.0)].all()


def _depth(
    one: prisms.Prisms, start: skyline.Array, away: skyline.Array
) -> tuple[skyline.Array, skyline.Array]:
    """Where level rays meet a prism, and how long they then stay in it (0 never)."""
    here, _ = prisms.first_cut(one, start, start + FAR_M * away)
    back, _ = prisms.first_cut(one, start + FAR_M * away, start)
    inside = np.where(np.isfinite(here), FAR_M * (1.0 - np.minimum(back, 1.0) - here), 0.0)
    return here, np.nan_to_num(inside, nan=0.0)


def test_pixels_are_what_exact_rays_meet() -> None:
    """The second way: every pixel's own ray against ground and solids."""
    rows, cols = np.mgrid[0:60, 0:60]
    z = 3.0 * np.sin(cols / 7.0) + 2.0 * np.cos(rows / 5.0)
    to_grid = np.array([[30.0, 0, 0.2, 0, 0, 0], [30.0, 0.2, 0, 0, 0, 0]])
    to_frame = np.array([[-150.0, 0, 5.0, 0, 0, 0], [-150.0, 5.0, 0, 0, 0, 0]])
    hills = grid.make(z, to_grid, to_frame)
    eye = np.array([2.0, 3.0, float(grid.sample(hills, np.array([2.0, 3.0]))) + 1.6])
    crowns = columns.Columns(
        np.array([[40.0, 30.0], [60.0, 52.0]]), np.array([4.0, 6.0]), np.array([1.0, -5.0]),
        np.array([9.0, 14.0]),
    )  # fmt: skip
    azimuth = np.radians(np.arange(20.0, 90.0, 0.9))
    elevation = np.radians(np.arange(20.0, -8.0, -0.7))
    ground = skyline.profile(lambda xy: grid.sample(hills, xy), eye, azimuth, 130.0)
    spans = skyline.column_spans(crowns, eye, azimuth)
    seen = skyline.painted(ground, spans, elevation)
    up, way = np.meshgrid(elevation, azimuth, indexing="ij")
    ahead = np.stack(
        [np.sin(way) * np.cos(up), np.cos(way) * np.cos(up), np.sin(up)], axis=-1
    ).reshape(-1, 3)
    start = np.broadcast_to(eye, ahead.shape)
    end = start + 125.0 / np.cos(up).reshape(-1, 1) * ahead
    by_ground = grid.first_cut(hills, start, end).at
    by_thing, which = columns.first_cut(crowns, start, end)
    exact = np.where(
        by_thing < by_ground, which, np.where(np.isfinite(by_ground), skyline.GROUND, skyline.SKY)
    ).reshape(seen.which.shape)
    # at the edges half a pixel, and steps of 1 % of the ground, make a difference
    assert (exact == seen.which).mean() > 0.985
    assert set(np.unique(exact)) == {skyline.SKY, skyline.GROUND, 0, 1}


@given(st.integers(0, 1000), st.integers(0, 80))
def test_what_is_painted_is_what_one_paints_far_things_first(seed: int, many: int) -> None:
    """The second way: span after span, the nearest last; of equally near ones the last stays."""
    rng = np.random.default_rng(seed)
    elevation = degrees(*np.linspace(40.0, -20.0, 31))
    ground = skyline.Profile(
        np.array([5.0, 20.0, 60.0]),
        np.maximum.accumulate(np.radians(rng.uniform(-15.0, 15.0, (12, 3))), axis=1),
        np.full(12, np.inf),
    )
    low, high = np.radians(np.sort(rng.uniform(-30.0, 50.0, (2, many)), axis=0))
    spans = skyline.Spans(
        rng.integers(0, 9, many), rng.integers(0, 12, many),
        4.0 * rng.integers(1, 8, many).astype(float), low, high,
    )  # fmt: skip
    seen = skyline.painted(ground, spans, elevation)
    none, nowhere = np.empty(0, dtype=np.intp), np.empty(0)
    bare = skyline.painted(ground, skyline.Spans(none, none, nowhere, nowhere, nowhere), elevation)
    which, away = bare.which.copy(), bare.away_m.copy()
    for i in np.argsort(-spans.near_m, kind="stable"):
        rows = (elevation <= spans.high_rad[i]) & (elevation >= spans.low_rad[i])
        rows &= away[:, spans.at[i]] >= spans.near_m[i]
        which[rows, spans.at[i]], away[rows, spans.at[i]] = spans.which[i], spans.near_m[i]
    assert (seen.which == which).all()
    assert (seen.away_m == away).all()
