"""Edges found in profiles of the ground along the wind."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from shotplan.kernels.ground import edges
from shotplan.kernels.motion.wind import GENTLE, STEEP

Array = NDArray[np.float64]
STEP_M = 5.0
MIDDLE = 120
X = (np.arange(181) - MIDDLE) * STEP_M  # 600 m upwind to 300 m downwind


def ground(x_m: list[float], z_m: list[float]) -> Array:
    return np.asarray(np.interp(X, x_m, z_m)[None])


def strongest(profile: Array) -> tuple[float, float, float, float, float]:
    found = edges.find(profile, STEP_M, MIDDLE)
    shape = (np.asarray(part)[0, 0] for part in found.shape)
    return (float(found.crest_m[0, 0]), *(float(v) for v in shape))  # type: ignore[return-value]


@given(st.integers(-40, 40), st.integers(2, 60), st.floats(0.06, 3.0))
def test_a_straight_slope_below_level_ground_is_found_exactly(
    crest: int, length: int, slope: float
) -> None:
    at, long = crest * STEP_M, length * STEP_M
    x, rise, upwind, fall, _ = strongest(ground([at - long, at], [0.0, slope * long]))
    assert (x, upwind, fall) == (at, long, 0.0)
    assert rise == pytest.approx(slope * long)


@given(st.integers(4, 50), st.integers(4, 50), st.floats(0.06, 0.6))
def test_a_hill_has_its_fall_and_its_length_too(up: int, down: int, slope: float) -> None:
    top = slope * up * STEP_M
    assume(top > 0.051 * down * STEP_M)  # gentler ground beyond makes it a cliff
    x, rise, upwind, fall, downwind = strongest(
        ground([-up * STEP_M, 0.0, down * STEP_M], [0.0, top, 0.0])
    )
    assert (x, upwind, downwind) == (0.0, up * STEP_M, down * STEP_M)
    assert [rise, fall] == pytest.approx([top, top])


def test_level_ground_and_an_even_hillside_have_no_edge_within() -> None:
    level = edges.find(ground([-600.0, 300.0], [7.0, 7.0]), STEP_M, MIDDLE)
    assert np.isnan(level.crest_m).all()
    # An even slope is only known to end where the profile does.
    hillside = edges.find(ground([-600.0, 300.0], [0.0, 270.0]), STEP_M, MIDDLE)
    np.testing.assert_array_equal(hillside.crest_m[:, 0], [300.0, *[np.nan] * 4])


def test_a_cliff_in_a_hillside_counts_by_how_much_steeper_it_is() -> None:
    profile = ground([-600.0, -60.0, 0.0, 300.0], [0.0, 270.0, 390.0, 540.0])
    found = edges.find(profile, STEP_M, MIDDLE)
    (at,) = np.flatnonzero(found.crest_m[:, 0] == 0.0)
    # 120 m of climb over 60 m, where going on as beyond (1 in 2) would have been 30 m.
    assert np.asarray(found.shape.rise_m)[at, 0] == pytest.approx(90.0)
    assert np.asarray(found.shape.upwind_m)[at, 0] == pytest.approx(60.0)


@given(st.lists(st.floats(-8.0, 8.0), min_size=60, max_size=60))
def test_the_first_is_the_strongest_of_all_crests_and_lengths(steps: list[float]) -> None:
    z = np.cumsum(steps)
    found = edges.find(z[None], STEP_M, 40)
    best = 0.0
    for crest in range(60):  # every crest and every length, one by one
        for n in range(1, crest + 1):
            ahead = max(z[min(crest + n, 59)] - z[crest], 0.0)
            climb = z[crest] - z[crest - n] - ahead
            if climb >= 0.05 * n * STEP_M:
                best = max(best, climb**2 / (n * STEP_M))
    rise, upwind = (np.asarray(part)[0, 0] for part in found.shape[:2])
    if best == 0.0:
        assert np.isnan(rise)
    else:  # lengths are tried a twentieth apart before the last is made exact
        assert 0.85 * best <= rise**2 / upwind <= best * (1.0 + 1e-9)


def test_missing_ground_is_filled_from_upwind_as_one_step() -> None:
    z = np.array([[np.nan, 1.0, np.nan, np.nan, 9.0, np.nan]])
    np.testing.assert_array_equal(edges.held(z), [[np.nan, 1.0, 1.0, 1.0, 9.0, 9.0]])


def test_missing_ground_near_an_edge_makes_it_doubtful() -> None:
    profile = ground([-100.0, 0.0], [0.0, 50.0])
    for away, doubt in ((70.0, True), (80.0, False)):  # 1.5 heights are 75 m
        gone = profile.copy()
        gone[0, MIDDLE + int(away / STEP_M)] = np.nan
        found = edges.find(gone, STEP_M, MIDDLE)
        assert found.crest_m[0, 0] == 0.0
        assert bool(found.doubt[0, 0]) is doubt
        assert found.missing_m[0] == away


@pytest.mark.parametrize(("away", "sheltered"), [(10.0, True), (195.0, True), (205.0, False)])
def test_the_lee_reaches_ten_heights_from_the_brink(away: float, sheltered: bool) -> None:
    found = edges.lee(ground([-away, -away + 10.0], [20.0, 0.0]), STEP_M, MIDDLE)
    assert bool(np.isfinite(found.top_m[0])) is sheltered
    if sheltered:
        assert (found.top_m[0], found.drop_m[0], found.away_m[0]) == (40.0, 20.0, away)


def test_no_lee_before_a_drop_nor_behind_a_gentle_or_a_low_one() -> None:
    for x, z in (
        ([20.0, 30.0], [20.0, 0.0]),
        ([-100.0, 0.0], [20.0, 0.0]),
        ([-9.0, 0.0], [4.0, 0.0]),
    ):
        assert edges.lee(ground(x, z), STEP_M, MIDDLE).top_m[0] == -np.inf
    ahead = edges.lee(ground([20.0, 30.0], [20.0, 0.0]), STEP_M, MIDDLE)
    assert ahead.off_m[0] == pytest.approx(20.0)
    behind = edges.lee(ground([20.0, 30.0], [0.0, 20.0]), STEP_M, MIDDLE)
    assert behind.off_m[0] == 0.0


def test_the_lee_reaches_ten_heights_and_fades_to_fifteen() -> None:
    for away, near, far in ((195.0, True, True), (205.0, False, True), (305.0, False, False)):
        profile = ground([-away, -away + 10.0], [20.0, 0.0])
        for heights, there in ((edges.LEE_HEIGHTS, near), (edges.FADING_HEIGHTS, far)):
            found = edges.lee(profile, STEP_M, MIDDLE, heights)
            assert bool(np.isfinite(found.top_m[0])) is there


def test_over_the_slope_behind_a_brink_the_whole_drop_counts() -> None:
    # 10 m behind the brink of a slope of 1 in 2 that falls 50 m: not only the 5 m it fell so far.
    found = edges.lee(ground([-10.0, 90.0], [50.0, 0.0]), STEP_M, MIDDLE)
    assert (found.top_m[0], found.drop_m[0], found.away_m[0]) == (100.0, 50.0, 10.0)


def test_level_ground_before_a_brink_is_no_brink() -> None:
    # 40 m before the edge of a cliff of 30 m: 90 m of level and cliff fall 1 in 3 together.
    found = edges.lee(ground([40.0, 45.0], [30.0, 0.0]), STEP_M, MIDDLE)
    assert found.top_m[0] == -np.inf


def lifting(profile: Array, z_m: float) -> float:
    """The steepest slope that lifts the air at an elevation over the middle."""
    found = edges.rising(profile, STEP_M, MIDDLE, 0.0)
    return float(np.where(z_m < found.top_m[:, 0], found.slope[:, 0], 0.0).max())


@given(st.integers(0, 30), st.integers(1, 40), st.floats(0.1, 4.0))
def test_a_slope_lifts_from_its_own_height_before_its_foot(
    away: int, length: int, slope: float
) -> None:
    foot, long = away * STEP_M, length * STEP_M
    high = slope * long
    found = lifting(ground([foot, foot + long], [0.0, high]), 0.0)
    assume(abs(foot - high) > 1e-6)
    if foot < high:  # lengths are tried one of several: parts of a slope are as steep
        assert found == pytest.approx(slope, rel=0.15)
    else:
        assert found == 0.0


def test_on_the_plateau_behind_a_wall_nothing_lifts() -> None:
    for away, lifts in ((-4.0, True), (10.0, False), (60.0, False)):
        profile = ground([-away - 5.0, -away], [0.0, 70.0])
        assert (lifting(profile, 75.0) > 0.3) is lifts


def test_on_a_bench_only_the_slope_ahead_lifts() -> None:
    # A steep face behind, 1 in 5 ahead: not the mean of both.
    profile = ground([-200.0, -40.0, 300.0], [0.0, 140.0, 208.0])
    assert lifting(profile, 160.0) == pytest.approx(0.2)


def test_near_the_top_the_whole_slope_counts_for_how_high_it_lifts() -> None:
    # 5 m before the crest of 1 in 2 over 50 m, 10 m above the ground.
    profile = ground([-95.0, 5.0], [0.0, 50.0])
    assert lifting(profile, 57.5) == pytest.approx(0.5)
    assert lifting(profile, 101.0) == 0.0


def test_a_slope_lifts_to_one_height_above_its_top_and_falling_ground_never() -> None:
    wall = ground([20.0, 25.0], [0.0, 40.0])
    assert lifting(wall, 79.0) == pytest.approx(8.0)
    assert lifting(wall, 81.0) == 0.0
    assert lifting(-wall, 10.0) == 0.0
    assert lifting(ground([-600.0, 300.0], [0.0, 180.0]), 130.0) == pytest.approx(0.2)


def test_behind_a_brink_that_the_wind_meets_it_tumbles_two_heights_far() -> None:
    for away, tumbles in ((35.0, True), (45.0, False), (-5.0, False)):
        found = edges.onto(ground([-away - 10.0, -away], [0.0, 20.0]), STEP_M, MIDDLE)
        assert bool(np.isfinite(found.top_m[0])) is tumbles
        if tumbles:
            assert (found.top_m[0], found.rise_m[0]) == (30.0, 20.0)


@pytest.mark.parametrize("seed", range(12))
def test_post_by_post_and_length_by_length_it_is_the_same(seed: int) -> None:
    """The plain way: one post, one length after another, the first of equals kept."""
    rng = np.random.default_rng(seed)
    made = np.cumsum(rng.normal(0.0, 2.0, (6, 61)), axis=1)
    profile: Array = np.asarray(np.round(made, seed % 4), dtype=np.float64)
    profile[rng.random(profile.shape) < 0.02 * (seed % 3)] = np.nan
    middle, z = 40, edges.held(profile)
    last, relief = z.shape[1] - 1, float(np.nanmax(z) - np.nanmin(z))
    most = {s: min(relief / (s * STEP_M), float(last)) for s in (GENTLE, STEEP)}
    found = [edges.lee(profile, STEP_M, middle, 10.0), edges.onto(profile, STEP_M, middle)]
    rising, climbs = edges.rising(profile, STEP_M, middle, 5.0), edges._climbs(z, STEP_M)
    for k, line in enumerate(z.tolist()):
        lee, off, onto = (-np.inf, 0.0, np.inf), 0.0, (-np.inf, 0.0)
        for n in edges.lengths(most[STEEP], 1.15):
            for i, here in enumerate(line):
                fall = here - line[min(i + n, last)]
                away, steep = (middle - i) * STEP_M, max(5.0, STEEP * n * STEP_M)
                if here - line[min(i + 1, last)] >= STEEP * STEP_M and fall >= steep:
                    off = max(off, fall if abs(away) <= 100.0 else 0.0)
                    if 0.0 <= away <= 10.0 * fall and here + fall > lee[0]:
                        lee = (here + fall, fall, away)
                rise = here - line[max(i - n, 0)]
                ends = here - line[max(i - 1, 0)] >= STEEP * STEP_M
                ends = ends and line[min(i + 1, last)] - here < STEEP * STEP_M
                if ends and rise >= steep and 0.0 <= away <= 2.0 * rise:
                    onto = max(onto, (here + 0.5 * rise, rise), key=lambda best: best[0])
        assert (*lee, off) == tuple(part[k] for part in found[0])
        assert onto == tuple(part[k] for part in found[1])
        for row, n in enumerate(edges.lengths(most[GENTLE], 1.15)):
            assert (rising.slope[row, k], rising.top_m[row, k]) == steepest(line, n, middle, most)
        for i in range(last + 1):
            assert tuple(part[k, i] for part in climbs) == strongest_climb(line, i, most)


def steepest(
    line: list[float], n: int, middle: int, most: dict[float, float]
) -> tuple[float, float]:
    """Of climbs over n steps the highest that is near, and up to where it lifts."""
    last, best, reach = len(line) - 1, 0.0, -np.inf
    for i in range(last + 1):
        end, offset = min(i + n, last), (i - middle) * STEP_M
        climb = line[end] - line[i]
        firsts = (line[min(i + 1, last)] - line[i], line[end] - line[end - 1])
        if offset >= -10.5 and offset - 5.0 <= climb and climb > best:
            if not min(firsts) >= 0.5 * climb / n:
                continue
            rises = [line[end] - line[max(end - m, 0)] for m in edges.lengths(most[STEEP], 1.15)]
            steps = edges.lengths(most[STEEP], 1.15)
            high = [r for r, m in zip(rises, steps, strict=True) if r >= STEEP * m * STEP_M]
            best, reach = climb, line[end] + max([climb, *high])
    return best / (n * STEP_M), reach


def strongest_climb(line: list[float], i: int, most: dict[float, float]) -> tuple[float, int]:
    """What a post climbs as a crest, and over how many steps."""
    last, climbs, best, score = len(line) - 1, 0.0, 1, 0.0
    for n in edges.lengths(most[GENTLE]):
        if i >= n:
            climb = line[i] - line[i - n] - max(line[min(i + n, last)] - line[i], 0.0)
            if climb >= GENTLE * n * STEP_M and climb * climb / n > score:
                climbs, best, score = climb, n, climb * climb / n
    return climbs, best
