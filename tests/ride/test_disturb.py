"""Many rides out of one: what is drawn, how it is spread, and that nothing is asked beyond it."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from shotplan.model.arrays import Array
from shotplan.model.disturbance import Disturbance, Spread
from shotplan.model.ride import STEP_S, Ride
from shotplan.ride.along import Ground, part, sampled
from shotplan.ride.brakes import Braked
from shotplan.ride.disturb import Disturbed, disturb
from shotplan.ride.path import Path, at_speed, there_and_back

MANY = 2000
EVEN = {"speed_sigma": 0.0, "brakes_per_km": 0.0}
LEAD_S = 5.0


def level(xy_m: Array) -> Array:
    return np.full(xy_m.shape[:-1], 84.0)


def shot(path: Path, from_m: float = 0.0, to_m: float = 1e9, ground_m: Ground = level) -> Ride:
    return part(sampled(path, ground_m), from_m, to_m, LEAD_S, ground_m)


def straight(length_m: float = 120.0, speed_m_s: float = 6.0) -> Ride:
    return shot(at_speed(np.array([[0.0, 0.0], [0.0, length_m]]), speed_m_s))


def bends() -> Path:
    """A slalom of 12 m to each side, 60 m from bend to bend."""
    y = np.linspace(0.0, 180.0, 200)
    return at_speed(np.stack([12.0 * np.sin(np.pi * y / 60.0), y], axis=-1), 5.0)


def with_a_stop(stands_s: float = 20.0) -> Path:
    """60 m at 6 m/s, a recorded stop, 60 m more."""
    return Path(
        t_s=np.array([0.0, 10.0, 10.0 + stands_s, 20.0 + stands_s]),
        xy_m=np.array([[0.0, 0.0], [0.0, 60.0], [0.0, 60.0], [0.0, 120.0]]),
    )


def spread(ride: Ride, **says: Any) -> Spread:
    """None of anything unless told; a number of `follow_m`, `own_m` holds everywhere."""
    none: dict[str, Any] = {
        "follow_m": 0.0, "follow_s": 2.0, "own_m": 0.0, "own_s": 30.0, "height_m": 0.0,
        "push_m_s2": np.zeros((2, 2)), "push_s": 5.0, "response": 0.0,
    }  # fmt: skip
    said = none | says
    for name in ("follow_m", "own_m"):
        said[name] = np.broadcast_to(np.asarray(said[name], dtype=float), ride.t_s.shape)
    return Spread(**said)


def many(ride: Ride, rides: int = MANY, said: dict[str, Any] | None = None, **of: Any) -> Disturbed:
    """So many in all: the undisturbed one among them."""
    return disturb(ride, Disturbance(rides=max(rides - 1, 1), **(said or {})), spread(ride, **of))


def speeds(ride: Ride) -> Array:
    """`(r, n)` the level speed at each sample while filmed and before, of rides whose speed is
    straight from sample to sample and steady at first."""
    mean = np.diff(ride.along_m, axis=1) / STEP_S
    found = [mean[:, 0]]
    for i in range(mean.shape[1]):
        found.append(2.0 * mean[:, i] - found[-1])
    return np.stack(found, axis=1)


@pytest.mark.parametrize("path", [bends(), with_a_stop(), there_and_back(bends())])
def test_with_every_spread_nought_every_row_is_row_nought(path: Path) -> None:
    ride = shot(path, 10.0, 110.0)
    made = many(ride, 5, EVEN)
    # Half a second beyond the end the undisturbed ride still knows how the real one goes on.
    asked = slice(0, int(np.flatnonzero(ride.filming[0])[-1]) + 3)
    for name in (f.name for f in fields(Ride) if f.name != "t_s"):
        rows = np.asarray(getattr(made.ride, name), dtype=float)[:, asked]
        np.testing.assert_array_equal(rows[0], getattr(ride, name)[0, asked], err_msg=name)
        off = rows - rows[:1]
        if name == "course_rad":  # an angle: the same modulo a whole turn
            off = (off + np.pi) % (2.0 * np.pi) - np.pi
        np.testing.assert_allclose(off, 0.0, atol=1e-9, err_msg=name)
    np.testing.assert_array_equal(made.own_error_m, 0.0)
    np.testing.assert_array_equal(made.push_m_s2, 0.0)
    np.testing.assert_array_equal(made.delay, 1.0)
    np.testing.assert_array_equal(made.response, 1.0)


def test_row_nought_stays_the_undisturbed_ride_whatever_spreads_the_others() -> None:
    ride = shot(bends())
    rough = {"speed_sigma": 0.2, "brakes_per_km": 40.0}
    made = many(
        ride, 40, rough, follow_m=2.0, own_m=1.0, height_m=0.3, response=0.2, push_m_s2=np.eye(2)
    )
    for name in (f.name for f in fields(Ride) if f.name != "t_s"):
        own = np.asarray(getattr(made.ride, name))[0, : len(ride.t_s)]
        np.testing.assert_array_equal(own, getattr(ride, name)[0], err_msg=name)
    assert not made.push_m_s2[0].any()
    assert not made.own_error_m[0].any()
    assert (made.delay[0], made.response[0]) == (1.0, 1.0)
    others = made.ride.xyz_m[1:, made.ride.first + 100]
    assert len(np.unique(others, axis=0)) == 39  # and no other ride is the same


def test_all_begin_at_the_same_place_and_moment_and_end_at_the_same_place() -> None:
    ride = shot(bends(), 20.0, 150.0)
    made = many(ride, 300, {"brakes_per_km": 10.0}).ride
    np.testing.assert_array_equal(
        made.xyz_m[:, ride.first], made.xyz_m[:1, ride.first].repeat(300, 0)
    )
    assert made.t_s[ride.first] == 0.0
    np.testing.assert_allclose(np.diff(made.t_s), STEP_S, atol=1e-9)
    on = made.filming
    assert not on[:, : ride.first].any()
    assert on[:, ride.first].all()
    np.testing.assert_array_equal((np.diff(on.astype(int), axis=1) == -1).sum(axis=1), 1)
    np.testing.assert_array_equal((np.diff(on.astype(int), axis=1) == 1).sum(axis=1), 1)
    last = on.shape[1] - 1 - np.argmax(on[:, ::-1], axis=1)
    assert len(np.unique(last)) > 50
    rows = np.arange(300)
    end_m = ride.along_m[0, ride.filming[0]][-1]
    assert (made.along_m[rows, last] <= end_m + 1e-5).all()
    assert (made.along_m[rows, last + 1] > end_m).all()
    assert (last + 10 < on.shape[1]).all()  # a second more, for differences at the end


def test_beyond_its_end_a_ride_goes_straight_on_and_is_never_asked() -> None:
    ride = straight(60.0)
    made = many(ride, 100, {"speed_sigma": 0.3, "brakes_per_km": 0.0}).ride
    quick = int(np.argmax(made.along_m[:, -1]))
    beyond = ~made.filming[quick] & (made.t_s > 0.0)
    assert beyond.sum() > 20
    xyz = made.xyz_m[quick, beyond]
    np.testing.assert_allclose(xyz[:, 0], 0.0, atol=1e-6)
    np.testing.assert_allclose(np.diff(xyz[:, 1]), np.diff(made.along_m[quick, beyond]), atol=1e-9)
    assert (np.diff(xyz[:, 1]) > 0.5).all()


def test_speed_factors_are_log_normal_steady_and_the_same_in_the_lead_in() -> None:
    ride = straight()
    made = many(ride, MANY + 1, {"speed_sigma": 0.08, "brakes_per_km": 0.0}).ride
    pace = np.diff(made.along_m, axis=1) / STEP_S / 6.0
    np.testing.assert_allclose(pace - pace[:, :1], 0.0, atol=1e-9)
    logs = np.log(pace[1:, 0])
    # Of N normal numbers: mean within 3 s/√N, spread within 3 s/√(2N) (textbook).
    assert abs(logs.mean()) < 3.0 * 0.08 / np.sqrt(MANY)
    assert abs(logs.std(ddof=1) - 0.08) < 3.0 * 0.08 / np.sqrt(2.0 * MANY)
    assert stats.kstest(logs / 0.08, "norm").pvalue > 1e-3


def test_no_ride_is_more_than_half_as_fast_again_and_none_stands_still_for_ever() -> None:
    made = many(straight(30.0), 200, {"speed_sigma": 5.0, "brakes_per_km": 0.0}, response=5.0)
    pace = np.diff(made.ride.along_m[:, :5], axis=1) / STEP_S / 6.0
    assert pace.max() == pytest.approx(1.5)
    assert pace.min() == pytest.approx(1.0 / 1.5)
    for factor in (made.delay, made.response):
        assert factor.min() == pytest.approx(1.0 / 1.5)
        assert factor.max() == pytest.approx(1.5)


def test_brakes_are_poisson_at_places_alike_all_along() -> None:
    ride = straight(500.0)
    short = {"brake_m_s2": 60.0, "resume_m_s2": 60.0, "pause_s": 0.0}  # so that none hides another
    said = {"speed_sigma": 0.0, "brakes_per_km": 3.0, **short}
    made = many(ride, 1001, said).ride
    slowing = np.diff(speeds(made), axis=1) < -1e-6
    begins = slowing[:, 1:] & ~slowing[:, :-1]
    count = begins.sum(axis=1)
    assert count[0] == 0
    wanted = 3.0 * 0.5
    # A Poisson count of mean m has variance m (textbook): three standard errors.
    assert abs(count[1:].mean() - wanted) < 3.0 * np.sqrt(wanted / 1000) + 0.01 * wanted
    kinds = [*(stats.poisson.pmf(k, wanted) for k in range(4)), stats.poisson.sf(3, wanted)]
    seen = np.bincount(np.minimum(count[1:], 4), minlength=5)
    assert stats.chisquare(seen, 1000.0 * np.array(kinds)).pvalue > 1e-3
    at_m = made.along_m[:, 1:-1][begins]
    assert stats.kstest(at_m, "uniform", (0.0, 500.0)).pvalue > 1e-3


def test_he_brakes_as_hard_as_said_pauses_and_speeds_up_as_said() -> None:
    ride = straight(240.0, 8.0)
    said = {"brakes_per_km": 2.0, "brake_m_s2": 3.4, "pause_s": 2.0, "resume_m_s2": 1.4}
    made = many(ride, 400, {"speed_sigma": 0.1, **said}).ride
    speed = speeds(made)
    gains = np.diff(speed, axis=1) / STEP_S
    factor = speed[:, 0]
    lowest, paused = [], []
    for row in np.flatnonzero((gains < -1e-6).any(axis=1)):
        first = int(np.argmax(gains[row] < -1e-6))
        stop = first + int(np.argmax(gains[row, first:] > -1e-6))
        again = stop + int(np.argmax(gains[row, stop:] > 1e-6))
        whole = again + int(np.argmax(speed[row, again:] > factor[row] - 1e-6))
        if again == stop or whole == again or not (gains[row, again : whole - 1] > 1e-6).all():
            continue  # the ride ends first, or he brakes again
        # The last step of each ends in the midst of it.
        np.testing.assert_allclose(gains[row, first : stop - 1], -3.4, atol=1e-6)
        assert -3.4 - 1e-6 <= gains[row, stop - 1] < 0.0
        np.testing.assert_allclose(gains[row, again : whole - 1], 1.4, atol=1e-6)
        lowest.append(speed[row, stop] / factor[row])
        paused.append((again - stop) * STEP_S)
    assert len(lowest) > 80
    np.testing.assert_allclose(paused, 2.0, atol=0.1 + 1e-9)
    # Slower ones are likelier to end first or to be braked again: not quite even, but all shares.
    assert min(lowest) < 0.05
    assert max(lowest) > 0.95
    assert 0.4 < float(np.mean(lowest)) < 0.65


def test_speed_and_course_are_as_defined_on_every_ride() -> None:
    path = with_a_stop()
    both = Path(t_s=path.t_s, xy_m=path.xy_m + np.array([[0.0, 0], [0, 0], [0, 0], [25.0, 0]]))
    for made in (
        many(shot(bends()), 30, {"brakes_per_km": 20.0}).ride,
        many(shot(both), 30, {"brakes_per_km": 20.0}).ride,
    ):
        # DEFINITIONS "Ride": from 1 s before to 1 s after, held while slower than 1 m/s.
        moved = made.xyz_m[:, 20:, :2] - made.xyz_m[:, :-20, :2]
        speed = np.hypot(moved[..., 0], moved[..., 1]) / 2.0
        np.testing.assert_allclose(made.speed_m_s[1:, 10:-10], speed[1:], atol=1e-9)
        for row in range(1, 30):
            held = None
            for i in range(moved.shape[1]):
                if abs(speed[row, i] - 1.0) < 1e-6:
                    held = None  # rounding decides
                    continue
                if speed[row, i] > 1.0:
                    held = np.arctan2(moved[row, i, 0], moved[row, i, 1])
                if held is not None:
                    off = made.course_rad[row, i + 10] - held
                    assert abs((off + np.pi) % (2.0 * np.pi) - np.pi) < 1e-9


def test_on_the_line_at_the_place_it_says_and_never_backward() -> None:
    ride = shot(bends())
    made = many(ride, 50, {"brakes_per_km": 20.0}).ride
    assert (np.diff(made.along_m, axis=1) >= 0.0).all()
    for axis in (0, 1):
        there = np.interp(made.along_m, ride.along_m[0], ride.xyz_m[0, :, axis])
        np.testing.assert_allclose(
            made.xyz_m[..., axis][made.filming], there[made.filming], atol=1e-6
        )


@pytest.mark.parametrize("lasts_s", [0.5, 2.0, 30.0])
def test_errors_fade_as_first_order_gauss_markov_says(lasts_s: float) -> None:
    ride = straight()
    made = many(ride, MANY + 1, EVEN, follow_m=1.0, follow_s=lasts_s, own_m=1.0, own_s=lasts_s)
    begin = ride.first + 1
    follow = (made.ride.known_xyz_m - made.ride.xyz_m)[1:, begin:]
    own = made.own_error_m[1:, begin:]
    flat = np.concatenate([follow[..., 0], follow[..., 1], own[..., 0], own[..., 1]])
    for i in (0, 1, 10, flat.shape[1] - 1):  # steady from the start to the end
        assert abs(flat[:, i].std(ddof=1) - 1.0) < 3.0 / np.sqrt(2.0 * len(flat))
        assert abs(flat[:, i].mean()) < 3.0 / np.sqrt(len(flat))
    for lag in (1, 5, 20, 100):
        wanted = np.exp(-lag * STEP_S / lasts_s)
        got = np.corrcoef(flat[:, 40], flat[:, 40 + lag])[0, 1]
        # A correlation from N pairs has the standard error (1 - ρ²)/√N (textbook).
        assert abs(got - wanted) < 3.5 * (1.0 - wanted**2) / np.sqrt(len(flat)) + 1e-12
    # First order: what came before the last sample tells nothing more.
    keep = np.exp(-STEP_S / lasts_s)
    fresh = flat[:, 41] - keep * flat[:, 40]
    assert abs(np.corrcoef(fresh, flat[:, 30])[0, 1]) < 3.5 / np.sqrt(len(flat))
    # Each way, and of rider and aircraft, on their own.
    for a, b in ((follow[:, 9, 0], follow[:, 9, 1]), (follow[:, 9, 0], own[:, 9, 0])):
        assert abs(np.corrcoef(a, b)[0, 1]) < 3.5 / np.sqrt(MANY)


def test_errors_are_held_through_the_lead_in_so_that_a_flight_begins_settled() -> None:
    ride = straight()
    made = many(ride, 50, {}, follow_m=1.0, own_m=1.0, height_m=0.3)
    for error in (made.ride.known_xyz_m - made.ride.xyz_m, made.own_error_m):
        held = error[:, : ride.first + 2]
        np.testing.assert_allclose(held - held[:, :1], 0.0, atol=1e-9)
        assert (np.abs(error[1:, ride.first + 2] - held[1:, -1]) > 0.0).all()


def test_without_a_memory_every_sample_is_drawn_anew() -> None:
    made = many(straight(), MANY + 1, EVEN, follow_m=1.0, follow_s=0.0)
    east = (made.ride.known_xyz_m - made.ride.xyz_m)[1:, 51:, 0]  # after the lead-in
    assert abs(np.corrcoef(east[:, 20], east[:, 21])[0, 1]) < 3.5 / np.sqrt(MANY)
    assert east.std() == pytest.approx(1.0, abs=0.01)


def test_the_height_errs_by_its_own_spread_and_level_errors_by_theirs() -> None:
    made = many(straight(), MANY + 1, EVEN, follow_m=2.0, own_m=5.0, height_m=0.33)
    follow = (made.ride.known_xyz_m - made.ride.xyz_m)[1:, 30]
    own = made.own_error_m[1:, 30]
    wanted = np.array([2.0, 2.0, 0.33]), np.array([5.0, 5.0, 0.33])
    for got, sigma in zip((follow, own), wanted, strict=True):
        assert (np.abs(got.std(axis=0, ddof=1) / sigma - 1.0) < 3.0 / np.sqrt(2.0 * MANY)).all()


def test_the_height_drifts_like_a_receivers_whatever_it_follows_by() -> None:
    made = many(straight(), MANY + 1, EVEN, follow_m=1.0, follow_s=0.5, own_s=30.0, height_m=0.33)
    up = (made.ride.known_xyz_m - made.ride.xyz_m)[1:, 60:, 2]
    wanted = np.exp(-5.0 / 30.0)
    got = np.corrcoef(up[:, 0], up[:, 50])[0, 1]
    assert abs(got - wanted) < 3.5 * (1.0 - wanted**2) / np.sqrt(MANY)


def test_an_error_is_as_large_as_it_is_at_that_place_of_the_ride() -> None:
    ride = straight(240.0)
    under = ride.along_m[0] >= 120.0
    said = {"speed_sigma": 0.2, "brakes_per_km": 0.0}
    made = many(ride, 601, said, follow_m=np.where(under, 8.0, 2.5), follow_s=1.0)
    error = (made.ride.known_xyz_m - made.ride.xyz_m)[1:, :, 0]
    along = made.ride.along_m[1:]
    assert error[along < 119.0].std() == pytest.approx(2.5, rel=0.02)
    assert error[along > 121.0].std() == pytest.approx(8.0, rel=0.02)


def test_gusts_push_as_their_matrix_says_and_never_up() -> None:
    push = np.array([[0.4, 0.1], [-0.2, 0.3]])
    made = many(straight(), MANY + 1, EVEN, push_m_s2=push, push_s=5.0)
    got = made.push_m_s2[1:]
    assert not got[..., 2].any()
    cov = np.cov(got[:, 77, :2].T)
    wanted = push @ push.T
    # Standard error of a covariance: √((c_ii c_jj + c_ij²)/N) (textbook).
    error = np.sqrt((np.outer(np.diag(wanted), np.diag(wanted)) + wanted**2) / MANY)
    assert (np.abs(cov - wanted) < 3.5 * error).all()
    keep = np.corrcoef(got[:, 20, 0], got[:, 70, 0])[0, 1]
    assert abs(keep - np.exp(-1.0)) < 3.5 * (1.0 - np.exp(-2.0)) / np.sqrt(MANY)


def test_a_recorded_stop_is_stood_through_by_every_ride() -> None:
    ride = shot(with_a_stop(20.0))
    made = many(ride, 200, {"speed_sigma": 0.1, "brakes_per_km": 0.0}).ride
    step = np.diff(made.along_m, axis=1)
    pace = step[:, 0] / STEP_S / 6.0
    stood = ((step < 1e-9) & (made.t_s[1:] > 0.0)).sum(axis=1) * STEP_S
    np.testing.assert_allclose(stood, 20.0 / pace, atol=0.21)
    assert (made.filming & (made.along_m > 119.0)).any(axis=1).all()


@pytest.mark.parametrize("brakes_per_km", [20.0, 400.0])
def test_brakes_on_a_ride_that_stops_never_hang(brakes_per_km: float) -> None:
    at_rest = Path(
        t_s=np.array([0.0, 5.0, 6.0, 16.0, 21.0]),
        xy_m=np.array([[0.0, 0], [0, 0], [0, 0.5], [0, 60.0], [0, 60.0]]),
    )  # stands at the start and at the end
    for path in (with_a_stop(), at_rest):
        ride = shot(path)
        made = many(ride, 100, {"brakes_per_km": brakes_per_km}).ride
        assert np.isfinite(made.xyz_m).all()
        assert np.isfinite(made.course_rad).all()
        last = made.filming.shape[1] - 1 - np.argmax(made.filming[:, ::-1], axis=1)
        end_m = ride.along_m[0, ride.filming[0]][-1]
        assert (made.along_m[np.arange(100), last] > end_m - 1.5).all()


def test_shots_of_hardly_anything() -> None:
    path = at_speed(np.array([[0.0, 0.0], [0.0, 60.0]]), 6.0)
    for low, high, samples in ((30.0, 30.6, 2), (30.0, 30.1, 1), (0.0, 0.6, 2), (59.4, 60.0, 2)):
        ride = shot(path, low, high)
        assert ride.filming.sum() == samples
        made = many(ride, 50, {"brakes_per_km": 100.0}, follow_m=1.0).ride
        assert made.filming[:, ride.first].all()
        assert (made.filming.sum(axis=1) >= 1).all()
        assert np.isfinite(made.known_xyz_m).all()


def test_there_and_back_every_ride_turns_at_the_same_place() -> None:
    ride = shot(there_and_back(at_speed(np.array([[0.0, 0.0], [0.0, 60.0]]), 6.0)))
    made = many(ride, 100, {"brakes_per_km": 5.0}).ride
    y = np.where(made.filming, made.xyz_m[..., 1], -np.inf)
    assert (y.max(axis=1) > 59.0).all()
    assert (y.max(axis=1) < 60.0 + 1e-9).all()
    last = made.filming.shape[1] - 1 - np.argmax(made.filming[:, ::-1], axis=1)
    assert (np.abs(made.xyz_m[np.arange(100), last, 1]) < 1.5).all()
    np.testing.assert_allclose(
        made.xyz_m[..., 1][made.filming],
        60.0 - np.abs(made.along_m[made.filming] - 60.0),
        atol=1e-6,
    )


def test_unknown_ground_is_unknown_at_its_place_on_every_ride() -> None:
    def hole(xy_m: Array) -> Array:
        return np.where((xy_m[..., 1] > 40.0) & (xy_m[..., 1] < 70.0), np.nan, xy_m[..., 1])

    ride = shot(at_speed(np.array([[0.0, 0.0], [0.0, 120.0]]), 6.0), ground_m=hole)
    made = many(ride, 100, {"brakes_per_km": 10.0}).ride
    y = made.xyz_m[..., 1]
    assert not made.ground_known[(y > 40.01) & (y < 69.99)].any()
    # A place between two samples is known where both are: at most one step (0.6 m) short of it.
    known = made.filming & ((y < 39.3) | (y > 70.7))
    assert made.ground_known[known].all()
    np.testing.assert_allclose(made.xyz_m[..., 2][known], y[known], atol=1e-6)


def test_same_seed_same_bytes_another_seed_other_rides() -> None:
    ride = shot(bends())
    all_of: dict[str, Any] = {
        "follow_m": 1.0, "own_m": 1.0, "height_m": 0.3, "response": 0.1, "push_m_s2": np.eye(2)
    }  # fmt: skip
    first, again, other = (
        many(ride, 20, {"seed": seed, "brakes_per_km": 5.0}, **all_of) for seed in (1, 1, 2)
    )

    def parts(made: Disturbed) -> dict[str, Array]:
        of_ride = {f.name: np.asarray(getattr(made.ride, f.name)) for f in fields(Ride)}
        return of_ride | {n: getattr(made, n) for n in Disturbed._fields if n != "ride"}

    for name, value in parts(first).items():
        assert value.tobytes() == parts(again)[name].tobytes(), name
    for name in ("own_error_m", "push_m_s2", "delay", "response", "along_m", "known_xyz_m"):
        pairs = zip(parts(first)[name][1:], parts(other)[name][1:], strict=True)
        assert not any(np.array_equal(a[:50], b[:50]) for a, b in pairs if a.ndim), name


def test_taking_one_spread_away_leaves_the_others_as_they_were() -> None:
    ride = straight()
    braked = many(ride, 50, {"brakes_per_km": 20.0}, response=0.1)
    free = many(ride, 50, {"brakes_per_km": 0.0}, response=0.1)
    np.testing.assert_array_equal(braked.delay, free.delay)
    np.testing.assert_array_equal(braked.response, free.response)
    early = slice(0, ride.first)
    np.testing.assert_array_equal(braked.ride.along_m[:, early], free.ride.along_m[:, early])


def test_one_ride_is_the_undisturbed_one() -> None:
    ride = shot(bends())
    alone = many(ride, 1, {"brakes_per_km": 50.0}, follow_m=3.0)
    np.testing.assert_array_equal(alone.ride.known_xyz_m[:, : len(ride.t_s)], ride.xyz_m)
    unmoved = replace(alone.ride, known_xyz_m=alone.ride.xyz_m)
    np.testing.assert_array_equal(unmoved.known_xyz_m, alone.ride.known_xyz_m)


def test_rides_brake_where_others_braked() -> None:
    """A share of them, there and nowhere else; the same seed draws all else the same."""
    ride = straight()
    said = Disturbance(rides=MANY, **EVEN)  # type: ignore[arg-type]
    known = [Braked(60.0, 0.25, 0.0), Braked(500.0, 1.0, 0.0), Braked(-20.0, 1.0, 0.0)]
    made = disturb(ride, said, spread(ride), known)
    slow = np.less(np.asarray(speeds(made.ride), dtype=float), 3.0, dtype=bool)
    slow[:, ~made.ride.filming.any(axis=0)] = False
    does = slow.any(axis=1)
    assert does.mean() == pytest.approx(0.25, abs=0.04)  # four standard errors
    assert not does[0]
    assert ((made.ride.along_m[slow] > 59.0) & (made.ride.along_m[slow] < 90.0)).all()
    np.testing.assert_array_equal(
        disturb(ride, said, spread(ride)).ride.along_m[0, :200], made.ride.along_m[0, :200]
    )
