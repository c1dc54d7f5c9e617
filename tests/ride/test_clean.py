"""Dirty recordings: every repair is made and said."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.typing import NDArray

from shotplan.errors import Problems
from shotplan.files.fixes import Fixes
from shotplan.ride.clean import Cleaned, clean, elevations_off
from tests.worlds import FRAME

Array = NDArray[np.float64]
NOON_S = 1_780_000_000.0  # some moment in 2026


def fixes(xy_m: Array, t_s: Array) -> Fixes:
    lonlat = FRAME.lonlat_deg(np.asarray(xy_m, dtype=float))
    count = len(lonlat)
    return Fixes(
        lon_deg=lonlat[:, 0],
        lat_deg=lonlat[:, 1],
        elevation_m=np.full(count, np.nan),
        time_s=NOON_S + np.asarray(t_s, dtype=float),
        segment=np.zeros(count, dtype=np.intp),
        name="",
    )


def cleaned(xy_m: Array, t_s: Array, speed_m_s: float | None = None) -> Cleaned:
    problems = Problems()
    found = clean(fixes(xy_m, t_s), FRAME, speed_m_s, "ride.gpx", problems)
    problems.raise_if_any()
    assert found is not None
    return found


def even(count: int = 30, step_m: float = 6.0) -> tuple[Array, Array]:
    """Straight east, a fix a second."""
    t = np.linspace(0.0, count - 1.0, count)
    return np.column_stack([t * step_m, np.zeros(count)]), t


def test_a_clean_recording_is_left_as_it_is() -> None:
    xy, t = even()
    found = cleaned(xy, t)
    assert [r.partition(":")[0] for r in found.remarks] == ["smoothed"]
    np.testing.assert_allclose(found.path.xy_m[::10], xy, atol=1e-4)
    np.testing.assert_allclose(found.path.t_s[::10], t)


def test_a_spike_is_dropped_and_said() -> None:
    xy, t = even()
    xy[10] = [60.0, 300.0]
    found = cleaned(xy, t)
    assert len(found.xy_m) == 29
    assert found.remarks[0] == "1 point left out that would need more than 45 m/s to reach"


def test_two_spikes_side_by_side_are_judged_by_what_is_kept() -> None:
    xy, t = even()
    xy[10] = [60.0, 300.0]
    xy[12] = [72.0, -300.0]
    found = cleaned(xy, t)
    np.testing.assert_allclose(found.path.xy_m[:, 1], 0.0, atol=1e-4)
    assert "2 points left out" in found.remarks[0]


def test_a_jump_that_never_comes_back_stays() -> None:
    xy, t = even()
    xy[15:, 1] += 300.0
    assert len(cleaned(xy, t).xy_m) == 30


def test_equal_and_missing_times_are_dropped_and_said() -> None:
    xy, t = even()
    t[5] = t[4]
    t[20] = np.nan
    found = cleaned(xy, t)
    assert len(found.xy_m) == 28
    assert found.remarks[:2] == (
        "1 point without a time left out",
        "1 point with the time of the point before left out",
    )


def test_gaps_are_bridged_straight_and_said() -> None:
    xy, t = even()
    t[10:] += 14.0
    t[20:] += 39.0
    found = cleaned(xy, t)
    assert found.remarks[0] == "2 gaps longer than 10 s bridged straight, the longest 40 s over 6 m"


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda t: np.full_like(t, np.nan), "has no times"),
        (lambda t: np.where(t < 20, np.nan, t), "only 10 of 30 points have a time"),
        (lambda t: t - 3e9, "dates before 1990"),
        (lambda t: t[::-1].copy(), "run backward 29 time"),
        (lambda t: np.floor(t / 10.0), "most of its points have the same time"),
    ],
)
def test_times_that_cannot_be_used_need_a_speed(spoil, said: str) -> None:  # type: ignore[no-untyped-def]
    xy, t = even()
    problems = Problems()
    assert clean(fixes(xy, spoil(t)), FRAME, None, "ride.gpx", problems) is None
    assert len(problems) == 1
    assert said in str(problems.found[0])
    assert "speed_m_s" in str(problems.found[0])
    found = cleaned(xy, spoil(t), speed_m_s=6.0)
    assert len(found.path.t_s) == 30
    np.testing.assert_allclose(found.path.t_s[-1], 29.0, rtol=1e-6)


def test_a_speed_replaces_the_recording_s() -> None:
    xy, t = even()
    found = cleaned(xy, t, speed_m_s=3.0)
    np.testing.assert_allclose(found.path.t_s[-1], 58.0, rtol=1e-6)
    assert found.remarks[-1] == "its speeds are replaced by speed_m_s = 3"


def test_a_recording_that_leads_nowhere_is_a_problem() -> None:
    problems = Problems()
    assert clean(fixes(np.zeros((20, 2)), np.arange(20.0)), FRAME, None, "r", problems) is None
    assert "lead nowhere" in str(problems.found[0])


def test_elevations_far_from_the_terrain_are_said() -> None:
    ground = np.full(20, 100.0)
    assert elevations_off(ground + 14.0, ground) == ""
    assert "47 m above the terrain" in elevations_off(ground + 47.0, ground)
    assert "47 m below the terrain" in elevations_off(ground - 47.0, ground)
    assert elevations_off(np.full(20, np.nan), ground) == ""


@given(
    arrays.arrays(float, (12, 2), elements=st.floats(-500, 500)),
    arrays.arrays(float, 12, elements=st.floats(0, 60) | st.just(np.nan)),
    st.none() | st.floats(1.0, 15.0),
)
def test_whatever_comes_in_time_and_place_go_forward(
    xy: Array, t: Array, speed: float | None
) -> None:
    problems = Problems()
    found = clean(fixes(xy, t), FRAME, speed, "ride.gpx", problems)
    if found is None:
        assert len(problems) > 0
        return
    assert len(problems) == 0
    assert np.all(np.diff(found.path.t_s) > 0.0)
    assert np.isfinite(found.path.xy_m).all()
