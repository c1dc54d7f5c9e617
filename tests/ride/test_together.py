"""Several recordings of one ride: against lines that are known, and by another way."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import shapely

from shotplan.model.arrays import Array
from shotplan.ride.brakes import brakes_of
from shotplan.ride.path import Path, along
from shotplan.ride.together import Together, error_m, independent, mean_of

DRIFT_M = 2.0


def truth() -> Array:
    """A trail with a hairpin whose legs are 15 m apart, a point every 0.5 m or so; `(k, 2)`."""
    s = np.linspace(0.0, 1.0, 400)
    out = np.column_stack([300.0 * s, 12.0 * np.sin(9.0 * s)])
    turn = np.pi * np.linspace(-0.5, 0.5, 40)
    bend = out[-1] + [0.0, 7.5] + 7.5 * np.column_stack([np.cos(turn), np.sin(turn)])
    back = np.column_stack([300.0 - 250.0 * s, bend[-1, 1] + 12.0 * np.sin(9.0 * (1 - s)) - 4.9])
    return np.concatenate([out, bend, back])


def recorded(seed: int, *, factor: float = 1.0, brake_at_m: float | None = None) -> Path:
    """The trail ridden at 6 m/s times `factor`, begun and ended at places of its own; a slow drift
    of `DRIFT_M` each way; he may brake to 1 m/s."""
    rng = np.random.default_rng(seed)
    line = truth()
    metres = along(line)
    s = np.arange(rng.uniform(0.0, 20.0), metres[-1] - rng.uniform(0.0, 20.0), 0.2)
    speed = np.full(len(s), 6.0 * factor)
    if brake_at_m is not None:
        speed = np.where(s > brake_at_m, np.sqrt(np.maximum(
            speed**2 - 2.0 * 3.0 * (s - brake_at_m), 1.0)), speed)  # fmt: skip
        speed = np.where(s > brake_at_m + 8.0, 6.0 * factor, speed)
    t = np.concatenate([[0.0], np.cumsum(np.diff(s) / speed[1:])])
    keep = np.exp(-np.diff(t, prepend=t[0]) / 30.0)
    drift = DRIFT_M * rng.standard_normal((len(s), 2))
    for k in range(1, len(s)):
        drift[k] = keep[k] * drift[k - 1] + np.sqrt(1.0 - keep[k] ** 2) * drift[k]
    even = np.ones(15) / 15.0  # as a smoother leaves it
    drift = np.stack([np.convolve(np.pad(d, 7, mode="edge"), even, "valid") for d in drift.T], -1)
    xy = np.stack([np.interp(s, metres, c) for c in line.T], axis=-1) + drift
    return Path(t_s=t, xy_m=xy)


def off_m(path: Path) -> float:
    """Root of the mean square distance from the true line: shapely's own."""
    away = shapely.distance(shapely.points(path.xy_m), shapely.LineString(truth()))
    return float(np.sqrt(np.mean(away**2)))


@cache
def four() -> tuple[tuple[Path, ...], Together]:
    paths = tuple(recorded(seed, factor=f) for seed, f in enumerate((1.0, 1.1, 0.9, 1.05)))
    found = mean_of(paths, [True] * 4)
    assert isinstance(found, Together)
    return paths, found


def test_the_mean_is_nearer_to_the_truth_than_each() -> None:
    paths, found = four()
    each = [off_m(p) for p in paths]
    assert off_m(found.path) < min(each)
    # independent drifts: by the root of 4, with room for the sample being small
    assert off_m(found.path) < 0.75 * float(np.mean(each))


def test_over_many_worlds_it_falls_with_the_root() -> None:
    ratios = []
    for world in range(3):
        paths = [recorded(100 + 4 * world + k) for k in range(4)]
        found = mean_of(paths, [True] * 4)
        assert isinstance(found, Together)
        ratios.append(off_m(found.path) / float(np.mean([off_m(p) for p in paths])))
    assert 0.35 < float(np.mean(ratios)) < 0.65


def test_its_spread_is_the_drift_across() -> None:
    _, found = four()
    assert DRIFT_M * 0.6 < found.spread_m < DRIFT_M * 1.4


def test_it_covers_what_all_share() -> None:
    paths, found = four()
    length = float(along(truth())[-1])
    assert length - 45.0 < found.path.length_m < length + 10.0
    assert found.path.length_m <= max(p.length_m for p in paths) + 10.0


def test_it_keeps_the_times_of_the_middle_one() -> None:
    paths, found = four()
    lasts = sorted((p.t_s[-1], k) for k, p in enumerate(paths))
    assert found.kept in {lasts[1][1], lasts[2][1]}
    speed = found.path.length_m / found.path.t_s[-1]
    own = paths[found.kept]
    assert speed == pytest.approx(own.length_m / own.t_s[-1], rel=0.02)


def test_the_same_line_stays_as_it_is() -> None:
    one = recorded(3)
    found = mean_of([one, one], [True, True])
    assert isinstance(found, Together)
    assert found.spread_m < 0.05
    line = shapely.LineString(one.xy_m)
    assert float(shapely.distance(shapely.points(found.path.xy_m), line).max()) < 0.1


def test_one_without_times_gives_its_line_only() -> None:
    paths, _ = four()
    found = mean_of(paths, [False, False, True, False])
    assert isinstance(found, Together)
    assert found.kept == 2
    assert found.braked == ()


def test_another_way_and_the_way_back_are_named() -> None:
    paths, _ = four()
    far = Path(t_s=paths[1].t_s, xy_m=paths[1].xy_m + 500.0)
    assert mean_of([paths[0], paths[2], far], [True] * 3) == 2
    back = Path(t_s=paths[1].t_s[-1] - paths[1].t_s[::-1], xy_m=paths[1].xy_m[::-1])
    assert mean_of([paths[0], paths[2], back], [True] * 3) == 2  # 15 m beside, on the other leg


def test_a_brake_that_only_some_made() -> None:
    paths = [recorded(1), recorded(2, brake_at_m=200.0), recorded(3, factor=1.03)]
    (brake,) = brakes_of(paths[1])
    assert brake.to == pytest.approx(1.0 / 6.0, abs=0.25)
    assert brakes_of(paths[0]) == []
    found = mean_of(paths, [True, True, True])
    assert isinstance(found, Together)
    assert found.kept == 0
    (place,) = found.braked
    assert place.share == pytest.approx(1 / 3)
    # the metre of the mean at which the true line has it
    true = shapely.line_interpolate_point(shapely.LineString(truth()), 200.0)
    got = np.interp(place.at_m, found.path.along_m, found.path.xy_m[:, 0])
    assert got == pytest.approx(true.x, abs=8.0)


@pytest.mark.parametrize(("count", "wanted"), [(1, 2.5), (4, np.hypot(1.0, 5.25**0.5 / 2))])
def test_the_error_of_a_mean(count: int, wanted: float) -> None:
    assert error_m(2.5, 0.5, count) == pytest.approx(wanted)


def test_the_error_never_falls_below_what_all_repeat() -> None:
    assert error_m(2.5, 0.0, 10_000) == pytest.approx(1.0, abs=0.01)
    assert error_m(6.0, 0.0, 10_000) == pytest.approx(2.4, abs=0.01)
    assert error_m(2.5, 8.0, 2) == pytest.approx(np.hypot(1.0, 8.0 / 2**0.5))


def test_what_counts_for_itself() -> None:
    assert independent([(0.0, 10.0), (20.0, 30.0)]) == 2
    assert independent([(0.0, 10.0), (5.0, 30.0), (29.0, 40.0)]) == 1
    assert independent([(0.0, 10.0), (20.0, 30.0), None, None]) == 2
    assert independent([None, None]) == 1
