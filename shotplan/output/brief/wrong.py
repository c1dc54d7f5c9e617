"""What goes wrong: findings in the words of somebody who watches, the likeliest first."""

from __future__ import annotations

import math
from typing import NamedTuple

from shotplan.aids.last_call import last_calls
from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.model.verdict import Verdict
from shotplan.output.brief.rows import on_ride, put
from shotplan.output.reasons import reason

WORST = 3


class Wrong(NamedTuple):
    """One way it may go wrong, in the order of `rank`."""

    rank: tuple[float, ...]
    shot: int
    found: Finding


def likeliest(plan: Plan) -> list[Wrong]:
    """The worst of all findings, whatever is not go before what is; first each of another shot,
    then of another kind."""
    left = sorted(
        (w for i, s in enumerate(plan.shots) for f in s.findings if (w := _of(i, f, s.rides))),
        key=lambda w: w.rank,
    )
    chosen: list[Wrong] = []
    while left and len(chosen) < WORST:
        checks, shots = {c.found.check for c in chosen}, {c.shot for c in chosen}
        bad = [w for w in left if w.found.verdict != Verdict.GO] or left
        other = [w for w in bad if w.shot not in shots]
        fresh = [w for w in bad if w.found.check not in checks]
        both = [w for w in other if w in fresh]
        best = next(iter(both if bad is left else other or fresh), None) or (fresh or bad)[0]
        chosen.append(best)
        left.remove(best)
    return chosen


def _of(shot: int, found: Finding, rides: int) -> Wrong | None:
    """None for what is go with nothing near, or is go and no stray would change it."""
    if found.verdict == Verdict.GO and (found.margin is None or not found.of.told.strays):
        return None
    family = ("harm", "rule", "picture").index(found.family)
    room = math.inf
    if found.told.margin is not None and found.told.limit:
        room = found.told.margin / abs(found.told.limit)
    if found.verdict == Verdict.UNKNOWN:
        room = -1.0
    rank = (-int(found.verdict), family, -found.rides_breaking / max(rides, 1), room, shot)
    return Wrong(rank, shot, found)


def against(plan: Plan, shot: int) -> tuple[str, ...]:
    """What is not go in one shot, worst first."""
    one = plan.shots[shot]
    every = [w for f in one.findings if (w := _of(shot, f, one.rides))]
    bad = [w for w in every if w.found.verdict != Verdict.GO]
    return tuple(said(plan, w) for w in sorted(bad, key=lambda w: w.rank))


def said(plan: Plan, wrong: Wrong) -> str:
    """`it hits the larch: 0.6 m, needs 2.2 m; 2 s after the gate; call stop by: …`."""
    found, shot = wrong.found, plan.shots[wrong.shot]
    if found.verdict == Verdict.UNKNOWN:
        return reason(found, plan.outing.site)
    one = found.told
    parts = [reason(found, plan.outing.site)]
    if one.at is not None:
        parts.append(on_ride(plan, shot, one.at.ride_m))
        if found.of.nature.hits == "bodies" and one.ride == 0:
            blind = shot.scene.blind[0, one.at.sample]
            parts.append("it senses nothing that way" if blind else "")
    if found.verdict != Verdict.NO_GO:
        parts.append(_call_for(plan, shot, found))
    return "; ".join(p for p in parts if p)


def _call_for(plan: Plan, shot: ShotPlan, found: Finding) -> str:
    """The last call that stops it before the place of a finding."""
    for call in last_calls(shot, plan.marks):
        one = found.told
        same = call.check == found.check and call.thing == one.thing
        if same and one.at is not None and abs(call.tight_m - one.at.ride_m) < 10.0:
            return "" if call.first else f"call stop by: {put(call.phrase)}"
    return ""
