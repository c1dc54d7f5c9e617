"""The fixes of a recording, whatever file it came in, and the guards all of them pass."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.errors import Problems
from shotplan.files.words import printable

HIGHEST_M = 9000.0  # no ground is higher, none lower than -500 m (general knowledge)
LOWEST_M = -500.0
FIRST_CIVIL_S = datetime(1990, 1, 1, tzinfo=UTC).timestamp()
NO_ZONE = "its times say no zone and are taken as UTC"


class Waypoint(NamedTuple):
    """A place somebody marked, by the name it was given."""

    name: str
    lon_deg: float
    lat_deg: float


class Fixes(NamedTuple):
    """`(n,)` each, in the file's order; `elevation_m`, `time_s` (UTC seconds since 1970) are NaN
    where missing; `segment` counts from 0; `remarks` plain sentences about what was found;
    `waypoints` on this earth that have a name."""

    lon_deg: NDArray[np.float64]
    lat_deg: NDArray[np.float64]
    elevation_m: NDArray[np.float64]
    time_s: NDArray[np.float64]
    segment: NDArray[np.intp]
    name: str
    remarks: tuple[str, ...] = ()
    waypoints: tuple[Waypoint, ...] = ()

    @property
    def lonlat_deg(self) -> NDArray[np.float64]:
        """`(n, 2)`."""
        return np.column_stack([self.lon_deg, self.lat_deg])


def fixes_of(
    rows: NDArray[np.float64] | Iterable[tuple[float, float, float, float, float]],
    name: str,
    remarks: Iterable[str],
    where: str,
    problems: Problems,
    *,
    of: str,
    unread: Iterable[str] = (),
) -> Fixes | None:
    """Fixes of `rows (n, 5)`: lon, lat, elevation, time, segment; None where there are fewer than
    two (`of`: what of the file holds them) or any lies off this earth. `unread`: times as they are
    written that could not be read."""
    table = np.array(rows if isinstance(rows, np.ndarray) else list(rows), dtype=float)
    table = table.reshape(-1, 5)
    said = list(remarks)
    fixes = Fixes(
        lon_deg=table[:, 0],
        lat_deg=table[:, 1],
        elevation_m=_elevations(table[:, 2], said),
        time_s=table[:, 3],
        segment=table[:, 4].astype(np.intp),
        name=printable(name),
        remarks=(*said, *_about_times(list(unread), table[:, 3])),
    )
    return fixes if _in_range(fixes, of, where, problems) else None


def epoch_s(time: datetime | None) -> float:
    """Seconds since 1970; NaN where missing or with an offset no zone has."""
    if time is None:
        return float("nan")
    try:
        return (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        return float("nan")


def joined(count: int, kind: str) -> list[str]:
    """What is said where a file holds several `kind`."""
    return [f"{count} {kind} joined in the order of the file"] if count > 1 else []


def _elevations(elevation_m: NDArray[np.float64], remarks: list[str]) -> NDArray[np.float64]:
    """Elevations with those no ground has made NaN."""
    with np.errstate(invalid="ignore"):
        wrong = (elevation_m < LOWEST_M) | (elevation_m > HIGHEST_M)
    if wrong.any():
        remarks.append(f"{wrong.sum()} of its elevations cannot be right and count as missing")
    return np.where(wrong, np.nan, elevation_m)


def _about_times(unread: list[str], time_s: NDArray[np.float64]) -> list[str]:
    """What is odd about the times of the fixes: written but unreadable, or before 1990."""
    remarks = []
    missing = np.isnan(time_s)
    if unread:
        remarks.append(
            f'{len(unread)} of its times cannot be read, for example "{printable(unread[0])}", '
            "and count as missing"
        )
    old = int((time_s[~missing] < FIRST_CIVIL_S).sum())
    if old:
        remarks.append(
            f"{old} of its {int((~missing).sum())} times have dates before 1990, when no civil "
            "receiver recorded rides"
        )
    return remarks


def _in_range(fixes: Fixes, of: str, where: str, problems: Problems) -> bool:
    """Whether there are two fixes or more and all are on this earth."""
    count = len(fixes.lon_deg)
    if count < 2:
        problems.add(where, f"got {count} point(s) in {of}; wanted at least 2")
        return False
    for word, values, most in (
        ("latitude", fixes.lat_deg, 90.0),
        ("longitude", fixes.lon_deg, 180.0),
    ):
        wrong = np.flatnonzero(~(np.abs(values) <= most))
        if len(wrong):
            problems.add(
                f"{where}: point {wrong[0] + 1}",
                f"{word} is {values[wrong[0]]:g}; wanted -{most:.0f} to {most:.0f}"
                + (f" ({len(wrong)} such points)" if len(wrong) > 1 else ""),
            )
            return False
    return True
