"""A user's own pack laid over the bundled one it tightens. Loosening is refused, key by key."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from shotplan.errors import Problems
from shotplan.files.words import shown
from shotplan.model.rules import HeightRule, Rules, SightRule, Source
from shotplan.rules.schema import OwnHeightTable, OwnPackTable, OwnSightTable

_MEASURES = {"straight-down": 0, "nearest-surface": 1}  # straight down is never the shorter way
_EYES = {"pilot": 0, "pilot-or-observer": 1}


def tightened(base: Rules, own: OwnPackTable, name: str, problems: Problems) -> Rules:
    """`base` with what `own` (read from the file `name`) makes stricter."""
    return replace(
        base,
        id=own.id or name,
        title=own.title or f"{base.title}, made stricter by {name}",
        height=_height(base, own.height, name, problems),
        sight=_sight(base, own.sight, name, problems),
        reminders=(*(r.made() for r in own.reminders), *base.reminders),
        base=base.id,
    )


class _Tightening:
    """Takes one key after another; a looser value than the base's goes to the problems."""

    def __init__(self, base: Rules, where: str, problems: Problems) -> None:
        self.base, self.where, self.problems = base.id, where, problems
        self.changed: list[str] = []

    def take(self, key: str, base: Any, own: Any, looseness: Callable[[Any], float]) -> Any:
        """The own value where it is given and not looser, else the base's."""
        if own is None or own == base:
            return base
        if looseness(own) > looseness(base):
            says = "none" if base is None else shown(base)
            self.problems.add(
                f"{self.where}: {key}",
                f"got {shown(own)}, looser than {self.base}, which has {says}; an own pack may "
                "only tighten: leave it out or make it stricter",
            )
            return base
        self.changed.append(key)
        return own

    def source(self, base: Source, name: str) -> Source:
        """The base's source, saying first which keys are your own."""
        if not self.changed:
            return base
        keys = " and ".join(self.changed)
        return replace(base, document=f"your own {keys} in {name}, stricter than {base.document}")


def _height(base: Rules, own: OwnHeightTable, name: str, problems: Problems) -> HeightRule:
    rule, keys = base.height, _Tightening(base, f"{name}: height", problems)
    return replace(
        rule,
        limit_m=keys.take("limit_m", rule.limit_m, own.limit_m, float),
        measured=keys.take("measured", rule.measured, own.measured, _MEASURES.__getitem__),
        source=keys.source(rule.source, name),
    )


def _sight(base: Rules, own: OwnSightTable, name: str, problems: Problems) -> SightRule:
    rule, where = base.sight, f"{name}: sight"
    keys, follow = _Tightening(base, where, problems), _Tightening(base, where, problems)
    within = follow.take(
        "follow_within_m", rule.follow_within_m, own.follow_within_m, lambda m: m or 0.0
    )
    return replace(
        rule,
        eyes=keys.take("eyes", rule.eyes, own.eyes, _EYES.__getitem__),
        distance_limit=keys.take(
            "distance_limit", rule.distance_limit, own.distance_limit, lambda binds: not binds
        ),
        source=keys.source(rule.source, name),
        follow_within_m=within or None,
        follow_source=rule.follow_source and follow.source(rule.follow_source, name),
    )
