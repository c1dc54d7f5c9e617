"""The nearest changes that work: of every shot that is not go, found by flying them.

What is tried is near what was asked for, what changes the picture least first. The undisturbed
ride decides; what passes is flown over all rides the site asks for, with a seed that chose nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import NamedTuple

from shotplan import plan as planning
from shotplan.advice.mending import words
from shotplan.advice.mending.search import Search
from shotplan.checks import CHECKS
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.model.change import Mended
from shotplan.model.nearby import Reach
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing
from shotplan.side_by_side import each


class _Wanted(NamedTuple):
    """A shot to mend, begun at `start`: the worst word that will do, and the checks that refuse
    with their reasons."""

    number: int
    start: datetime
    most: Verdict
    refuse: dict[str, str]


def mended(
    plan: Plan,
    progress: Callable[[str], None] = lambda _: None,
    *,
    reach: Reach = Reach(),
    workers: int | None = None,
) -> Plan:
    """The plan with what would mend each of its shots (`ShotPlan.mended`); one that is go has no
    changes. `reach` says what is tried and what it costs; the rest as `plan.make` has it."""
    outing = plan.outing
    asked = [_wanted(i, s) for i, s in enumerate(plan) if s.verdict > Verdict.GO]
    ask = partial(_mended, outing, reach)
    answers = each(ask, asked, shared=planning.shared(outing), workers=workers)
    found = [Mended()] * len(plan.shots)
    for wanted in asked:
        progress(f"mending {plan.shots[wanted.number].name}")
        found[wanted.number] = next(answers)
    shots = tuple(replace(s, mended=m) for s, m in zip(plan, found, strict=True))
    return replace(plan, shots=shots)


def _wanted(index: int, shot: ShotPlan) -> _Wanted:
    most = Verdict(min(int(Verdict.CAUTION), int(shot.verdict) - 1))
    refuse = {f.check: f.reason for f in shot.findings if f.verdict > most}
    start = shot.scene.start or shot.scene.day.start
    return _Wanted(index, start, most, refuse)


def _mended(outing: Outing, reach: Reach, wanted: _Wanted) -> Mended:
    refused = Counter(dict.fromkeys(wanted.refuse, 1))
    shot = outing.shots[wanted.number]
    search = Search(outing, shot, wanted.start, wanted.most, reach, refused)
    stuck = search.stuck()
    if stuck is not None:
        return Mended(in_the_way=words.stuck(wanted.refuse[stuck.id]))
    found = search.run()
    if found:
        return Mended(changes=found)
    return Mended(in_the_way=words.in_the_way(search.refused, wanted.refuse, CHECKS))
