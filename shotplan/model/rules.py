"""A rule pack as the checks read it: numbers, each with document, clause, date, how known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Known = Literal["read", "secondary", "memory"]
OWN = "own pack"
ObjectKind = Literal["building", "pole", "wire"]


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
class StructureRule:
    """More height near a man-made structure: within `radius_m` level of one at least
    `least_height_m` tall (None: the text says no height), up to `above_m` over its top;
    `on_request`: only when whoever is responsible for it asks. Told, and never counted: no text
    says what a structure is."""

    radius_m: float
    above_m: float
    on_request: bool
    source: Source
    least_height_m: float | None = None


@dataclass(frozen=True, kw_only=True)
class PeopleRule:
    """People who are not part of the shoot. `least_m`: level distance to keep (0: not above
    them); `one_to_one`: never nearer than the height; `passing`: what `people` areas that may be
    passed at any time make of a shot that comes too near; `objects_m`: level distance to things
    that are somebody else's, of the kinds in `objects` (None: no such rule)."""

    least_m: float
    one_to_one: bool
    passing: Literal["no-go", "caution"]
    source: Source
    objects_m: float | None = None
    objects: tuple[ObjectKind, ...] = ("building", "pole", "wire")
    objects_source: Source | None = None


@dataclass(frozen=True, kw_only=True)
class DayRule:
    """Night and twilight. `night`, `twilight`: any (no rule), light (a light on the aircraft),
    no. `twilight_is`: the fixed 30 minutes beside sunrise and sunset, or the sun down to -6°.
    `light`: which light that is ("" not said)."""

    night: Literal["any", "light", "no"]
    twilight: Literal["any", "light", "no"]
    twilight_is: Literal["fixed-30-min", "sun-6-deg"]
    source: Source
    light: str = ""


@dataclass(frozen=True, kw_only=True)
class CrewRule:
    """`rider_pilot`: may the rider be the pilot while moving: yes, sparsely-populated (only over
    sparsely populated ground, a caution), no, not-said. `observer`: where one must be to count:
    anywhere, alongside (the pilot), co-located, none (no observer counts)."""

    rider_pilot: Literal["yes", "sparsely-populated", "no", "not-said"]
    observer: Literal["anywhere", "alongside", "co-located", "none"]
    source: Source


@dataclass(frozen=True, kw_only=True)
class LimitRule:
    """One plain number: a greatest speed or a least visibility."""

    value: float
    source: Source


@dataclass(frozen=True, kw_only=True)
class Takes:
    """Aircraft that a pack takes: with one of `marks` ("" no class mark; none listed: whatever it
    is marked) and under `under_kg` (None: the mark settles it). `doubt`: what makes it only a
    caution."""

    marks: tuple[str, ...] = ()
    under_kg: float | None = None
    doubt: str = ""

    def __str__(self) -> str:
        """`C1 under 0.9 kg`."""
        marks = " or ".join(mark or "no class mark" for mark in self.marks)
        under = "" if self.under_kg is None else f"under {self.under_kg:g} kg"
        return f"{marks} {under}".strip() or "any"


@dataclass(frozen=True, kw_only=True)
class AircraftRule:
    """Which aircraft the pack is for: any that one of `takes` takes."""

    takes: tuple[Takes, ...]
    source: Source


@dataclass(frozen=True, kw_only=True)
class Rules:
    """One pack. `id` as asked for; `own` a user's, `base` the bundled pack it tightens ("" it
    stands alone). A rule that is None is not in the pack."""

    id: str
    title: str
    countries: tuple[str, ...]
    european: bool
    read_on: str
    height: HeightRule
    sight: SightRule
    reminders: tuple[Reminder, ...]
    own: bool = False
    base: str = ""
    structure: StructureRule | None = None
    people: PeopleRule | None = None
    day: DayRule | None = None
    crew: CrewRule | None = None
    aircraft: AircraftRule | None = None
    max_speed_m_s: LimitRule | None = None
    least_visibility_m: LimitRule | None = None

    def elsewhere(self, country: str) -> str:
        """What to say where a site's country is not one of the pack's; "" where it is, or where
        nobody said which it is."""
        if not country or country in self.countries:
            return ""
        own = self.countries if len(self.countries) <= 3 else (f"{len(self.countries)} others",)
        return (
            f"the site is in {country}; {self.id} is for {', '.join(own)}: other rules hold there"
        )
