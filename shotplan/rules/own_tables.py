"""A user's own pack as TOML: a dataclass per table; what is left out is the base's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shotplan.files.tables import Flag, NonNegative, Positive, Text
from shotplan.model.rules import Known, Reminder
from shotplan.rules.schema import Dark, Eyes, Measured, Observer, Passing, RiderPilot


@dataclass(frozen=True, kw_only=True)
class OwnHeightTable:
    """`[height]` of an own pack; what is left out is the base's."""

    limit_m: Positive | None = None
    measured: Measured | None = None


@dataclass(frozen=True, kw_only=True)
class OwnStructureTable:
    """`[structure]` of an own pack; `radius_m = 0` is no more height near anything."""

    radius_m: NonNegative | None = None
    above_m: NonNegative | None = None
    least_height_m: NonNegative | None = None
    on_request: Flag | None = None


@dataclass(frozen=True, kw_only=True)
class OwnSightTable:
    """`[sight]` of an own pack; `follow_within_m = 0` is never out of sight."""

    eyes: Eyes | None = None
    distance_limit: Flag | None = None
    follow_within_m: NonNegative | None = None


@dataclass(frozen=True, kw_only=True)
class OwnPeopleTable:
    """`[people]` of an own pack."""

    least_m: NonNegative | None = None
    one_to_one: Flag | None = None
    passing: Passing | None = None
    objects_m: NonNegative | None = None


@dataclass(frozen=True, kw_only=True)
class OwnDayTable:
    """`[day]` of an own pack."""

    night: Dark | None = None
    twilight: Dark | None = None


@dataclass(frozen=True, kw_only=True)
class OwnCrewTable:
    """`[crew]` of an own pack."""

    rider_pilot: RiderPilot | None = None
    observer: Observer | None = None


@dataclass(frozen=True, kw_only=True)
class OwnAircraftTable:
    """`[aircraft]` of an own pack: under this mass, whatever its mark."""

    under_kg: Positive | None = None


@dataclass(frozen=True, kw_only=True)
class OwnSpeedTable:
    """`[speed]` of an own pack."""

    at_most_m_s: Positive | None = None


@dataclass(frozen=True, kw_only=True)
class OwnVisibilityTable:
    """`[visibility]` of an own pack."""

    at_least_m: Positive | None = None


@dataclass(frozen=True, kw_only=True)
class OwnReminderTable:
    """One `[[reminders]]` of an own pack: its source may be left out (it is your own)."""

    text: Text
    source: Text = "your own rule"
    known: Known = "read"

    def made(self) -> Reminder:
        """The reminder as it is printed."""
        return Reminder(text=self.text, source=self.source, known=self.known)


@dataclass(frozen=True, kw_only=True)
class OwnPackTable:
    """An own pack: a bundled `base`, and what is stricter than it."""

    base: Text
    format: Literal[1] = 1
    id: Text | None = None
    title: Text | None = None
    height: OwnHeightTable = OwnHeightTable()
    structure: OwnStructureTable = OwnStructureTable()
    sight: OwnSightTable = OwnSightTable()
    people: OwnPeopleTable = OwnPeopleTable()
    day: OwnDayTable = OwnDayTable()
    crew: OwnCrewTable = OwnCrewTable()
    aircraft: OwnAircraftTable = OwnAircraftTable()
    speed: OwnSpeedTable = OwnSpeedTable()
    visibility: OwnVisibilityTable = OwnVisibilityTable()
    reminders: tuple[OwnReminderTable, ...] = ()
