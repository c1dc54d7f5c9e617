"""Where no style works: what forbids it everywhere, and what would have to change."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from shotplan.advice.style_table import StyleTable
from shotplan.checks import CHECKS
from shotplan.judging.judged import ShotPlan
from shotplan.model.verdict import Verdict, worst
from shotplan.output.words import plain
from shotplan.scene.margin import Check

TITLE = "Nothing works as things are"
LEFT = "What is left once that has changed (not recommended as things are)"
MOST, NAMES = 3, 3  # told: checks, and things of each


class Forbids(NamedTuple):
    """A check that is in the way of every style, why, and what would have to change."""

    of: Check
    reason: str
    change: str

    @property
    def text(self) -> str:
        """Both, a line each."""
        return f"{self.reason}\nWould have to change: {self.change}"

    @property
    def data(self) -> dict[str, str]:
        """The same for machines."""
        return {"check": self.of.id, "reason": self.reason, "change": self.change}


def forbids(table: StyleTable) -> tuple[Forbids, ...]:
    """What makes the whole no-go; nothing where something works."""
    if table.word != Verdict.NO_GO:
        return ()
    return tuple(_of_legs(table)) if table.legs else tuple(_of_everything(table))


def else_(plan: ShotPlan) -> Verdict:
    """The word of a leg but for what refuses it whatever the style."""
    asked = (f.verdict for f in plan.findings)
    return worst([v for v in asked if v != Verdict.NO_GO] or [Verdict.GO])


def _of_legs(table: StyleTable) -> Iterator[Forbids]:
    """What refuses the way that passed the search: of each check the worst leg's words."""
    told = {c.check: c for c in table.common if c.verdict == Verdict.NO_GO}
    for check in CHECKS:
        if check.id in told:
            one = told[check.id]
            yield Forbids(check, plain(one.reason), plain(one.advice))
            continue
        found = (leg.plan.asked(check.id) for leg in table.legs)
        for refused in (f for f in found if f and f.verdict == Verdict.NO_GO):
            yield Forbids(check, plain(refused.reason), check.lifts or plain(refused.advice))
            break
    if not told and all(leg.plan.verdict != Verdict.NO_GO for leg in table.legs):
        yield from _too_many(table)


def _too_many(table: StyleTable) -> Iterator[Forbids]:
    """Each leg passes; the rides they break together are too many."""
    counts = Counter({c: sum(_broken(leg.plan, c) for leg in table.legs) for c in CHECKS})
    for check, count in counts.most_common(1):
        if count:
            reason = f"{check.question} Each part passes, but too many rides break it together"
            yield Forbids(check, reason, "less of the ride in one go: one of its parts alone")


def _broken(plan: ShotPlan, check: Check) -> int:
    found = plan.asked(check.id)
    return found.rides_breaking if found else 0


def _of_everything(table: StyleTable) -> Iterator[Forbids]:
    """What refuses most of all that was tried, over all stretches."""
    refused = table.verdict == int(Verdict.NO_GO)
    count = Counter(str(b) for b in table.binding[refused])
    total = max(int(refused.sum()), 1)
    by_id = {check.id: check for check in CHECKS}
    for name, times in count.most_common(MOST):
        check = by_id[name]
        things = Counter(str(t) for t in table.thing[refused & (table.binding == name)] if t)
        near = ", ".join(plain(t) for t, _ in things.most_common(NAMES))
        share = f"{np.ceil(100.0 * times / total):.0f} %"
        reason = f"{check.question} {share} of what was tried is refused for it"
        yield Forbids(check, f"{reason}{f': {near}' if near else ''}", check.lifts)
