"""A rule pack as the checks read it: numbers, each with document, clause, date, how known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Known = Literal["read", "secondary", "memory"]


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where a number stands and how it is known: read in a published text, at second hand
    (`secondary`), or from memory (to be checked before anybody relies on it)."""

    document: str
    clause: str
    read_on: str
    known: Known

    def __str__(self) -> str:
        """`14 CFR 107.51(b) (read 2026-11-25)`."""
        how = {"read": "read", "secondary": "at second hand", "memory": "from memory, unchecked"}
        return f"{self.document}, {self.clause} ({how[self.known]}, {self.read_on})"


@dataclass(frozen=True, kw_only=True)
class Reminder:
    """Something to remember that no number decides."""

    text: str
    source: str
    known: Known


@dataclass(frozen=True, kw_only=True)
class HeightRule:
    """The ceiling and how it is measured: straight down, or from the nearest point of the
    earth's surface."""

    limit_m: float
    measured: Literal["straight-down", "nearest-surface"]
    source: Source


@dataclass(frozen=True, kw_only=True)
class SightRule:
    """Whose eyes count. `distance_limit`: the published distance formula binds here
    (elsewhere it is only a caution). `follow_within_m`: out of sight allowed while following
    within this slant distance of the pilot (None never)."""

    eyes: Literal["pilot", "pilot-or-observer"]
    distance_limit: bool
    follow_within_m: float | None
    source: Source
    follow_source: Source | None = None


@dataclass(frozen=True, kw_only=True)
class Rules:
    """One pack. `id` as asked for; `base` the bundled pack a user's own pack tightens."""

    id: str
    title: str
    countries: tuple[str, ...]
    european: bool
    read_on: str
    height: HeightRule
    sight: SightRule
    reminders: tuple[Reminder, ...]
    base: str = ""
