"""The rule pack TOML, a dataclass per table, and what it becomes.

A bundled pack says everything (`PackTable`); a user's own pack says only what it tightens
(`OwnPackTable`). A new table of rules is one dataclass in each of the two forms.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shotplan.files.tables import Date, Flag, NonNegative, Positive, Text
from shotplan.model.rules import HeightRule, Known, Reminder, Rules, SightRule, Source

Measured = Literal["straight-down", "nearest-surface"]
Eyes = Literal["pilot", "pilot-or-observer"]


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
    """A whole pack."""

    format: Literal[1]
    id: Text
    title: Text
    countries: tuple[Text, ...]
    european: Flag
    read_on: Date
    height: HeightTable
    sight: SightTable
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
            reminders=tuple(r.made() for r in self.reminders),
        )


@dataclass(frozen=True, kw_only=True)
class OwnHeightTable:
    """`[height]` of an own pack; what is left out is the base's."""

    limit_m: Positive | None = None
    measured: Measured | None = None


@dataclass(frozen=True, kw_only=True)
class OwnSightTable:
    """`[sight]` of an own pack; `follow_within_m = 0` is never out of sight."""

    eyes: Eyes | None = None
    distance_limit: Flag | None = None
    follow_within_m: NonNegative | None = None


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
    sight: OwnSightTable = OwnSightTable()
    reminders: tuple[OwnReminderTable, ...] = ()
