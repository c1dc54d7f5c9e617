"""What a person reads of a scan: each sentence changes what they do."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

import numpy as np

from shotplan.intake.lidar.ground import KNOWN_M, Ground
from shotplan.intake.lidar.standing import Body

ROLES = ("tree", "wood", "building", "pole")
BLIND = "lidar sees no wires and few trunks: look for those yourself"
OLD_DAYS = 365
YEAR_DAYS = 365.25


class Days(NamedTuple):
    """When it was scanned, first and last; None where that is not said. `written`: when the files
    were; `today`."""

    scanned: tuple[date, date] | None
    written: date | None
    today: date


def counted(found: Iterable[Body]) -> str:
    """How many of what."""
    roles: list[str] = [body.role for body in found]
    listed = [f"{n} {role}{'s' * (n != 1)}" for role in ROLES if (n := roles.count(role))]
    return ", ".join(listed) or "nothing"


def bodies(found: Iterable[Body], outside: int, of: int, least_m: float) -> str:
    """How many of what, and what is left out."""
    share = 100.0 * outside / max(of, 1)
    return (
        f"{counted(found)} found; {share:.1f} % of the returns higher than "
        f"{least_m:g} m are left outside. A tree here is a name for a body, not a count of stems"
    )


def ground(found: Ground) -> str:
    """Where it is not known."""
    near = found.within
    blank = near & ~np.isfinite(found.z_m)
    widest_m = float(found.gap_m[near].max(initial=0.0))
    whole = f"the widest gap in the ground is {widest_m:.0f} m from a return of it"
    if not blank.any():
        return whole
    share = 100.0 * float(blank.sum()) / float(near.sum())
    return (
        f"{max(share, 0.1):.1f} % of the ground has no return of it round it within "
        f"{KNOWN_M:g} m (roofs, leaves) and stays unknown; {whole}"
    )


def voids(not_m2: float) -> str:
    """What was not looked at; "" where all was."""
    if not_m2 < 1.0:
        return ""
    return f"{not_m2:,.0f} m² near the ride has no return at all: not surveyed, look there yourself"


def when(days: Days) -> str:
    """The day of the scan and how long ago."""
    if days.scanned is None:
        wrote = f" (the file was written on {days.written})" if days.written else ""
        return f"when it was scanned is not said{wrote}: ask the publisher, and give each body `on`"
    first, last = days.scanned
    span = f"on {first}" if first == last else f"from {first} to {last}"
    age = (days.today - first).days
    old = f"{age / YEAR_DAYS:.0f} years" if age >= 1.5 * YEAR_DAYS else f"{age} days"
    grown = ": trees have grown and things were built since" if age > OLD_DAYS else ""
    return f"scanned {span}, {old} ago{grown}"
