"""From a recording's fixes to a path: every repair is made once and said in a plain sentence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from shotplan.errors import Problems
from shotplan.model.arrays import Array, Bools
from shotplan.model.frame import Frame
from shotplan.ride.path import FASTEST_M_S, Path, at_speed
from shotplan.ride.smooth import smooth

if TYPE_CHECKING:
    from shotplan.files.fixes import Fixes

GAP_S = 10.0
OLDEST_S = 631_152_000.0  # 1990-01-01 UTC: satellite navigation had no civil receivers before
ELEVATION_OFF_M = 15.0


@dataclass(frozen=True, kw_only=True)
class Cleaned:
    """`path`; `xy_m (m, 2)`, `elevation_m (m,)` the fixes kept, to compare with the terrain (NaN
    not recorded); `remarks` what was mended."""

    path: Path
    xy_m: Array
    elevation_m: Array
    remarks: tuple[str, ...]


def clean(
    fixes: Fixes, frame: Frame, speed_m_s: float | None, where: str, problems: Problems
) -> Cleaned | None:
    """The path a recording describes; None where it describes none (problems say why).

    With `speed_m_s` the recording's own speeds are replaced: it gives the line only.
    """
    xy = frame.xy_m(np.column_stack([fixes.lon_deg, fixes.lat_deg]))
    t = np.asarray(fixes.time_s, dtype=float)
    remarks: list[str] = []
    doubt = why_not_timed(t)
    keep = np.ones(len(t), dtype=bool)
    if doubt and speed_m_s is None:
        problems.add(where, f"{doubt}: give [ride] speed_m_s, the speed it is ridden at")
        return None
    if doubt:
        remarks.append(f"{doubt}: only its line is used")
    else:
        keep = _timed(t, remarks)
        keep[keep] = _plausible(t[keep], xy[keep], remarks)
    xy, t, elevation = xy[keep], t[keep], np.asarray(fixes.elevation_m, dtype=float)[keep]
    if not doubt:
        _say_gaps(t, xy, remarks)
    if len(xy) < 2 or not np.any(xy != xy[0]):
        problems.add(where, f"got {len(xy)} usable point(s) that lead nowhere; wanted a line")
        return None
    path = None if doubt else smooth(t, xy, remarks)
    if speed_m_s is not None:
        if path:
            remarks.append(f"its speeds are replaced by speed_m_s = {speed_m_s:g}")
        path = at_speed(path.xy_m if path else xy, speed_m_s)
    assert path is not None
    return Cleaned(path=path, xy_m=xy, elevation_m=elevation, remarks=tuple(remarks))


def why_not_timed(t_s: Array) -> str:
    """Why times `(k,)` (seconds since 1970, NaN none) cannot be used; "" where they can."""
    known = t_s[np.isfinite(t_s)]
    if not len(known):
        return "the recording has no times"
    if 2 * len(known) < len(t_s):
        return f"only {len(known)} of {len(t_s)} points have a time"
    if known.min() < OLDEST_S:
        return "its times cannot be right (dates before 1990)"
    steps = np.diff(known)
    if (steps < 0.0).any():
        return f"its times run backward {int((steps < 0.0).sum())} time(s)"
    if 2 * int((steps == 0.0).sum()) > len(steps):
        return "most of its points have the same time"
    return ""


def _timed(t_s: Array, remarks: list[str]) -> Bools:
    keep = np.isfinite(t_s)
    if not keep.all():
        remarks.append(f"{_points(~keep)} without a time left out")
    where = np.flatnonzero(keep)
    again = np.concatenate([[False], np.diff(t_s[where]) == 0.0])
    if again.any():
        remarks.append(f"{_points(again)} with the time of the point before left out")
    keep[where[again]] = False
    return np.asarray(keep, dtype=bool)


def _points(which: Bools) -> str:
    count = int(which.sum())
    return "1 point" if count == 1 else f"{count} points"


def _plausible(t_s: Array, xy_m: Array, remarks: list[str]) -> Bools:
    """False for spikes: fixes out of reach both ways whose neighbours are within reach."""
    keep = np.ones(len(t_s), dtype=bool)
    while True:
        at = np.flatnonzero(keep)
        spikes = _spikes(t_s[at], xy_m[at])
        if not len(spikes):
            break
        keep[at[spikes]] = False
    if not keep.all():
        remarks.append(
            f"{_points(~keep)} left out that would need more than {FASTEST_M_S:.0f} m/s to reach"
        )
    return keep


def _spikes(t_s: Array, xy_m: Array) -> NDArray[np.intp]:
    """Indexes of spikes, no two of them neighbours (so that each is judged by points kept)."""
    if len(t_s) < 3:
        return np.empty(0, dtype=np.intp)
    over = np.linalg.norm(np.diff(xy_m, axis=0), axis=1) > FASTEST_M_S * np.diff(t_s)
    skip_m = np.linalg.norm(xy_m[2:] - xy_m[:-2], axis=1)
    fits = skip_m <= FASTEST_M_S * (t_s[2:] - t_s[:-2])
    found = 1 + np.flatnonzero(over[:-1] & over[1:] & fits)
    first = np.concatenate([[True], np.diff(found) > 1]) if len(found) else found.astype(bool)
    return np.asarray(found[first], dtype=np.intp)


def _say_gaps(t_s: Array, xy_m: Array, remarks: list[str]) -> None:
    steps_s = np.diff(t_s)
    gaps = steps_s > GAP_S
    if not gaps.any():
        return
    longest = int(np.argmax(steps_s))
    over_m = float(np.linalg.norm(xy_m[longest + 1] - xy_m[longest]))
    count = "1 gap" if gaps.sum() == 1 else f"{int(gaps.sum())} gaps"
    remarks.append(
        f"{count} longer than {GAP_S:.0f} s bridged straight, the longest "
        f"{steps_s[longest]:.0f} s over {over_m:.0f} m"
    )


def elevations_off(elevation_m: Array, ground_m: Array) -> str:
    """A remark where recorded elevations `(m,)` and the terrain's `(m,)` differ much; else ""."""
    both = np.isfinite(elevation_m) & np.isfinite(ground_m)
    if not both.any():
        return ""
    off_m = float(np.median(elevation_m[both] - ground_m[both]))
    if abs(off_m) <= ELEVATION_OFF_M:
        return ""
    word = "above" if off_m > 0 else "below"
    return (
        f"its elevations lie {abs(off_m):.0f} m {word} the terrain (median), which is used: "
        "check that it is the right place and the same datum"
    )
