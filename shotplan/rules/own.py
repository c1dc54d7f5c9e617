"""A user's own pack laid over the bundled one it tightens. Loosening is refused, key by key."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, TypeVar

from shotplan.errors import Problems
from shotplan.files.words import shown
from shotplan.model.rules import (
    CrewRule,
    DayRule,
    HeightRule,
    LimitRule,
    PeopleRule,
    Rules,
    SightRule,
    Source,
    StructureRule,
)
from shotplan.rules.own_tables import OwnHeightTable, OwnPackTable, OwnPeopleTable, OwnSightTable

Rule = TypeVar("Rule", StructureRule, PeopleRule, DayRule, CrewRule)
Looseness = Callable[[Any], float]
Keys = Mapping[str, Looseness]


def _less(value: float | None) -> float:
    """Less of it is stricter; none of it the strictest."""
    return value or 0.0


def _more(value: float | bool | None) -> float:
    """More of it is stricter."""
    return -float(value or 0.0)


# Straight down is never the shorter way: it is the stricter measure.
_HEIGHT: Keys = {"limit_m": _less, "measured": ("straight-down", "nearest-surface").index}
_SIGHT: Keys = {"eyes": ("pilot", "pilot-or-observer").index, "distance_limit": _more}
_STRUCTURE: Keys = {
    "radius_m": _less,
    "above_m": _less,
    "least_height_m": _more,
    "on_request": _more,
}
_PEOPLE: Keys = {"least_m": _more, "one_to_one": _more, "passing": ("no-go", "caution").index}
_DAY: Keys = {"night": ("no", "light", "any").index, "twilight": ("no", "light", "any").index}
_CREW: Keys = {
    "rider_pilot": {"no": 0, "sparsely-populated": 1, "not-said": 1, "yes": 2}.__getitem__,
    "observer": {"none": 0, "alongside": 1, "co-located": 1, "anywhere": 2}.__getitem__,
}


def tightened(base: Rules, own: OwnPackTable, name: str, problems: Problems) -> Rules:
    """`base` with what `own` (read from the file `name`) makes stricter."""
    to = _Tightener(base, name, problems)
    free = to.free
    return replace(
        base,
        id=own.id or name,
        title=own.title or f"{base.title}, made stricter by {name}",
        height=to.height(own.height),
        sight=to.sight(own.sight),
        structure=to.rule(
            "structure",
            base.structure,
            own.structure,
            _STRUCTURE,
            StructureRule(
                radius_m=0.0, above_m=0.0, least_height_m=0.0, on_request=False, source=free
            ),
        ),
        people=to.people(own.people),
        day=to.rule(
            "day",
            base.day,
            own.day,
            _DAY,
            DayRule(night="any", twilight="any", twilight_is="sun-6-deg", source=free),
        ),
        crew=to.rule(
            "crew",
            base.crew,
            own.crew,
            _CREW,
            CrewRule(rider_pilot="yes", observer="anywhere", source=free),
        ),
        max_speed_m_s=to.limit(
            "speed", "at_most_m_s", base.max_speed_m_s, own.speed.at_most_m_s, _less
        ),
        least_visibility_m=to.limit(
            "visibility", "at_least_m", base.least_visibility_m, own.visibility.at_least_m, _more
        ),
        reminders=(*(r.made() for r in own.reminders), *base.reminders),
        base=base.id,
    )


class _Keys:
    """Takes one key after another; a looser value than the base's goes to the problems."""

    def __init__(self, base: str, table: str, name: str, problems: Problems) -> None:
        self.base, self.table, self.name, self.problems = base, table, name, problems
        self.without = False  # the base has no such table
        self.changed: list[str] = []

    def take(self, key: str, base: Any, own: Any, looseness: Looseness) -> Any:
        """The own value where it is given and not looser, else the base's."""
        if own is None or own == base:
            return base
        if looseness(own) > (0.0 if base is None else looseness(base)):
            says = "none" if base is None or self.without else shown(base)
            self.problems.add(
                f"{self.name}: {self.table}: {key}",
                f"got {shown(own)}, looser than {self.base}, which has {says}; an own pack may "
                "only tighten: leave it out or make it stricter",
            )
            return base
        self.changed.append(key)
        return own

    def taken(self, rule: Any, own: Any, looseness: Keys) -> dict[str, Any]:
        """All keys of a table."""
        return {
            key: self.take(key, getattr(rule, key), getattr(own, key), loose)
            for key, loose in looseness.items()
        }

    def source(self, base: Source) -> Source:
        """The base's source, saying first which keys are your own."""
        if not self.changed:
            return base
        keys = " and ".join(self.changed)
        return replace(
            base, document=f"your own {keys} in {self.name}, stricter than {base.document}"
        )


class _Tightener:
    """Lays one table after another over the base."""

    def __init__(self, base: Rules, name: str, problems: Problems) -> None:
        self.base, self.name, self.problems = base, name, problems
        self.free = Source(
            document=f"{base.id}, which has no such rule",
            clause="none",
            read_on=base.read_on,
            known="read",
        )

    def keys(self, table: str) -> _Keys:
        """The keys of one table of the own pack."""
        return _Keys(self.base.id, table, self.name, self.problems)

    def rule(
        self,
        table: str,
        base: Rule | None,
        own: object,
        looseness: Keys,
        loosest: Rule,
    ) -> Rule | None:
        """A table whose keys are the rule's; `loosest` stands in where the base has no rule."""
        keys, start = self.keys(table), base or loosest
        keys.without = base is None
        taken = keys.taken(start, own, looseness)
        if base is None and not keys.changed:
            return None
        return replace(start, **taken, source=keys.source(start.source))

    def height(self, own: OwnHeightTable) -> HeightRule:
        """`[height]`, which every pack has."""
        rule, keys = self.base.height, self.keys("height")
        return replace(rule, **keys.taken(rule, own, _HEIGHT), source=keys.source(rule.source))

    def people(self, own: OwnPeopleTable) -> PeopleRule | None:
        """`[people]`; distance to objects has a source of its own."""
        loosest = PeopleRule(least_m=0.0, one_to_one=False, passing="caution", source=self.free)
        base, objects = self.base.people, self.keys("people")
        rule = self.rule("people", base, own, _PEOPLE, loosest)
        before = base.objects_m if base else None
        least = objects.take("objects_m", before, own.objects_m, _more)
        if not objects.changed:
            return rule
        source = (base.objects_source if base else None) or self.free
        return replace(
            rule or loosest, objects_m=least or None, objects_source=objects.source(source)
        )

    def sight(self, own: OwnSightTable) -> SightRule:
        """`[sight]`; following out of sight has a source of its own."""
        rule, keys, follow = self.base.sight, self.keys("sight"), self.keys("sight")
        within = follow.take("follow_within_m", rule.follow_within_m, own.follow_within_m, _less)
        return replace(
            rule,
            **keys.taken(rule, own, _SIGHT),
            source=keys.source(rule.source),
            follow_within_m=within or None,
            follow_source=rule.follow_source and follow.source(rule.follow_source),
        )

    def limit(
        self,
        table: str,
        key: str,
        base: LimitRule | None,
        own: float | None,
        looseness: Looseness,
    ) -> LimitRule | None:
        """A table of one number; where the base has none any number is stricter."""
        keys = self.keys(table)
        if base is None:
            if own is None:
                return None
            keys.changed.append(key)
            return LimitRule(value=own, source=keys.source(self.free))
        value = keys.take(key, base.value, own, looseness)
        return LimitRule(value=value, source=keys.source(base.source))
