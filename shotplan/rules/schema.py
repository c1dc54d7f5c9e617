"""The bundled rule pack's TOML, a dataclass per table, and what each becomes.

A bundled pack says everything, as does a user's own that stands alone; one that has a base
(`own_tables.py`) says only what it tightens. A new table of rules is one dataclass here, one
there, and its rule in `model/rules.py`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from shotplan.files.kinds import ClassMark
from shotplan.files.tables import Date, Flag, NonNegative, Positive, Text
from shotplan.model.rules import (
    AircraftRule,
    CrewRule,
    DayRule,
    HeightRule,
    Known,
    LimitRule,
    ObjectKind,
    PeopleRule,
    Reminder,
    Rules,
    SightRule,
    Source,
    StructureRule,
    Takes,
)

Measured = Literal["straight-down", "nearest-surface"]
Eyes = Literal["pilot", "pilot-or-observer"]
Passing = Literal["no-go", "caution"]
Dark = Literal["any", "light", "no"]
TwilightIs = Literal["fixed-30-min", "sun-6-deg"]
RiderPilot = Literal["yes", "sparsely-populated", "no", "not-said"]
Observer = Literal["anywhere", "alongside", "co-located", "none"]


@dataclass(frozen=True, kw_only=True)
class SourcedTable:
    """What every table of rules says beside its numbers: where they stand, how they are known."""

    document: Text
    clause: Text
    read_on: Date
    known: Known

    @property
    def source(self) -> Source:
        """The source of the table's numbers."""
        return Source(
            document=self.document,
            clause=self.clause,
            read_on=self.read_on.isoformat(),
            known=self.known,
        )


@dataclass(frozen=True, kw_only=True)
class HeightTable(SourcedTable):
    """`[height]`."""

    limit_m: Positive
    measured: Measured

    def made(self) -> HeightRule:
        """The rule the height check reads."""
        return HeightRule(limit_m=self.limit_m, measured=self.measured, source=self.source)


@dataclass(frozen=True, kw_only=True)
class StructureTable(SourcedTable):
    """`[structure]`: more height near a man-made structure. `least_height_m` left out: the text
    says no height."""

    radius_m: Positive
    above_m: Positive
    on_request: Flag
    least_height_m: Positive | None = None

    def made(self) -> StructureRule:
        """The rule the height check reads."""
        return StructureRule(
            radius_m=self.radius_m,
            above_m=self.above_m,
            least_height_m=self.least_height_m,
            on_request=self.on_request,
            source=self.source,
        )


@dataclass(frozen=True, kw_only=True)
class FollowTable(SourcedTable):
    """`[sight.follow]`: out of sight allowed while following this near the pilot."""

    within_m: Positive


@dataclass(frozen=True, kw_only=True)
class SightTable(SourcedTable):
    """`[sight]`. Without `[sight.follow]` following out of sight is never allowed."""

    eyes: Eyes
    distance_limit: Flag
    follow: FollowTable | None = None

    def made(self) -> SightRule:
        """The rule the sight check reads."""
        return SightRule(
            eyes=self.eyes,
            distance_limit=self.distance_limit,
            follow_within_m=self.follow.within_m if self.follow else None,
            source=self.source,
            follow_source=self.follow.source if self.follow else None,
        )


@dataclass(frozen=True, kw_only=True)
class ObjectsTable(SourcedTable):
    """`[people.objects]`: level distance to other people's things of these kinds."""

    least_m: Positive
    kinds: tuple[ObjectKind, ...]


@dataclass(frozen=True, kw_only=True)
class PeopleTable(SourcedTable):
    """`[people]`: who is not part of the shoot."""

    least_m: NonNegative
    one_to_one: Flag
    passing: Passing
    objects: ObjectsTable | None = None

    def made(self) -> PeopleRule:
        """The rule the people check reads."""
        rule = PeopleRule(
            least_m=self.least_m,
            one_to_one=self.one_to_one,
            passing=self.passing,
            source=self.source,
        )
        if self.objects is None:
            return rule
        return replace(
            rule,
            objects_m=self.objects.least_m,
            objects=self.objects.kinds,
            objects_source=self.objects.source,
        )


@dataclass(frozen=True, kw_only=True)
class DayTable(SourcedTable):
    """`[day]`: night, twilight, and what twilight is."""

    night: Dark
    twilight: Dark
    twilight_is: TwilightIs
    light: str = ""

    def made(self) -> DayRule:
        """The rule the light check reads."""
        return DayRule(
            night=self.night,
            twilight=self.twilight,
            twilight_is=self.twilight_is,
            light=self.light,
            source=self.source,
        )


@dataclass(frozen=True, kw_only=True)
class CrewTable(SourcedTable):
    """`[crew]`: who may steer, whose eyes count."""

    rider_pilot: RiderPilot
    observer: Observer

    def made(self) -> CrewRule:
        """The rule the crew and sight checks read."""
        return CrewRule(rider_pilot=self.rider_pilot, observer=self.observer, source=self.source)


@dataclass(frozen=True, kw_only=True)
class TakesTable:
    """One `[[aircraft.takes]]`."""

    marks: tuple[ClassMark, ...] = ()
    under_kg: Positive | None = None
    doubt: str = ""

    def made(self) -> Takes:
        """The aircraft it takes."""
        return Takes(marks=self.marks, under_kg=self.under_kg, doubt=self.doubt)


@dataclass(frozen=True, kw_only=True)
class AircraftTable(SourcedTable):
    """`[aircraft]`: which aircraft the pack is for."""

    takes: tuple[TakesTable, ...]

    def made(self) -> AircraftRule:
        """The rule the aircraft check reads."""
        return AircraftRule(takes=tuple(t.made() for t in self.takes), source=self.source)


@dataclass(frozen=True, kw_only=True)
class SpeedTable(SourcedTable):
    """`[speed]`: the greatest speed over the ground."""

    at_most_m_s: Positive

    def made(self) -> LimitRule:
        """The rule the pace check reads."""
        return LimitRule(value=self.at_most_m_s, source=self.source)


@dataclass(frozen=True, kw_only=True)
class VisibilityTable(SourcedTable):
    """`[visibility]`: the least visibility."""

    at_least_m: Positive

    def made(self) -> LimitRule:
        """The rule the light check reads."""
        return LimitRule(value=self.at_least_m, source=self.source)


@dataclass(frozen=True, kw_only=True)
class ReminderTable:
    """One `[[reminders]]`."""

    text: Text
    source: Text
    known: Known

    def made(self) -> Reminder:
        """The reminder as it is printed."""
        return Reminder(text=self.text, source=self.source, known=self.known)


@dataclass(frozen=True, kw_only=True)
class PackTable:
    """A whole pack. A table that is left out is a rule the pack does not have."""

    format: Literal[1]
    id: Text
    title: Text
    countries: tuple[Text, ...]
    european: Flag
    read_on: Date
    height: HeightTable
    sight: SightTable
    crew: CrewTable
    aircraft: AircraftTable | None = None
    structure: StructureTable | None = None
    people: PeopleTable | None = None
    day: DayTable | None = None
    speed: SpeedTable | None = None
    visibility: VisibilityTable | None = None
    reminders: tuple[ReminderTable, ...] = ()

    def made(self) -> Rules:
        """The pack as the checks read it."""
        return Rules(
            id=self.id,
            title=self.title,
            countries=self.countries,
            european=self.european,
            read_on=self.read_on.isoformat(),
            height=self.height.made(),
            sight=self.sight.made(),
            crew=self.crew.made(),
            aircraft=self.aircraft.made() if self.aircraft else None,
            structure=self.structure.made() if self.structure else None,
            people=self.people.made() if self.people else None,
            day=self.day.made() if self.day else None,
            max_speed_m_s=self.speed.made() if self.speed else None,
            least_visibility_m=self.visibility.made() if self.visibility else None,
            reminders=tuple(r.made() for r in self.reminders),
        )
