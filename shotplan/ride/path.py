"""The ride as a path in time: where the rider is between fixes, cropped, ridden back again."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shotplan.model.arrays import Array, put

FASTEST_M_S = 45.0  # faster than this is no ride but an error of the recording


@dataclass(frozen=True, kw_only=True)
class Path:
    """Straight and even between points: `t_s (k,)` increasing from 0, `xy_m (k, 2)`."""

    t_s: Array
    xy_m: Array

    def __post_init__(self) -> None:
        """Check shapes; freeze the arrays."""
        (k,) = put(self, "t_s", (None,))
        put(self, "xy_m", (k, 2))

    @cached_property
    def along_m(self) -> Array:
        """`(k,)` level distance from the start."""
        return along(self.xy_m)

    @property
    def length_m(self) -> float:
        """Level length."""
        return float(self.along_m[-1])


def along(xy_m: Array) -> Array:
    """Level distance along a line `xy_m (k, 2)` from its first point, `(k,)`."""
    steps = np.linalg.norm(np.diff(xy_m, axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)])


def at_speed(xy_m: Array, speed_m_s: float) -> Path:
    """A line `xy_m (k, 2)` ridden at one speed; points that repeat are left out."""
    moved = np.concatenate([[True], np.any(np.diff(xy_m, axis=0) != 0.0, axis=1)])
    xy = xy_m[moved]
    return Path(t_s=along(xy) / speed_m_s, xy_m=xy)


def crop(path: Path, from_m: float, to_m: float) -> Path:
    """The part from `from_m` (where he rides on from it) to `to_m` (where he first reaches it)."""
    start, end = 0, len(path.t_s)
    head, tail = np.empty((0, 3)), np.empty((0, 3))
    if from_m > 0.0:
        start = int(np.searchsorted(path.along_m, from_m, side="right"))
        head = _between(path, start, from_m)
    if to_m < path.length_m:
        end = int(np.searchsorted(path.along_m, to_m, side="left"))
        tail = _between(path, end, to_m)
    kept = np.column_stack([path.t_s[start:end], path.xy_m[start:end]])
    points = np.concatenate([head, kept, tail])
    points = points[np.concatenate([[True], np.diff(points[:, 0]) > 0.0])]
    return Path(t_s=points[:, 0] - points[0, 0], xy_m=points[:, 1:])


def _between(path: Path, after: int, along_m: float) -> Array:
    """`(1, 3)` t, x, y at `along_m` on the leg that ends at point `after`."""
    after = min(max(after, 1), len(path.t_s) - 1)
    start_m, end_m = path.along_m[after - 1], path.along_m[after]
    share = (along_m - start_m) / max(end_m - start_m, 1e-12)
    both = np.column_stack([path.t_s, path.xy_m])[after - 1 : after + 1]
    return np.asarray(both[:1] + share * (both[1:] - both[:1]), dtype=float)


def there_and_back(path: Path) -> Path:
    """Out, and back the same way without a pause, everywhere as fast as on the way out."""
    back_t_s = 2.0 * path.t_s[-1] - path.t_s[-2::-1]
    return Path(
        t_s=np.concatenate([path.t_s, back_t_s]),
        xy_m=np.concatenate([path.xy_m, path.xy_m[-2::-1]]),
    )


def too_fast(path: Path) -> tuple[float, float, int] | None:
    """Fastest leg beyond `FASTEST_M_S`: its speed, where it starts along the path, how many."""
    legs_m = np.diff(path.along_m)
    speed_m_s = legs_m / np.diff(path.t_s)
    over = speed_m_s > FASTEST_M_S
    if not over.any():
        return None
    worst = int(np.argmax(speed_m_s))
    return float(speed_m_s[worst]), float(path.along_m[worst]), int(over.sum())
