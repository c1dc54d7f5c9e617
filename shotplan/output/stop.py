"""When we stop: the same three reasons in the same order on every sheet: 1 people, 2 nobody sees
it, 3 wind."""

from __future__ import annotations

import math
from typing import NamedTuple

from shotplan.judging.judged import Plan
from shotplan.kernels.motion.wind import BEAUFORT, beaufort
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.scene.holding import ROOM_M
from shotplan.scene.landmarks import paces
from shotplan.scene.wind_limits import WindLimit, planned, wind_limits


class Stop(NamedTuple):
    """The three reasons; `wind` for who holds a meter, `seen` the same wind for who does not."""

    people: str
    sight: str
    wind: str
    seen: str


def told(plan: Plan) -> list[int]:
    """The shots that people are told of: those that are flown, all where none may be."""
    found = [i for i, s in enumerate(plan.shots) if s.verdict != Verdict.NO_GO]
    return found or list(range(len(plan.shots)))


def stop(plan: Plan) -> Stop:
    """Of the shots that are flown (of all, where none may be)."""
    people = plan.outing.rules.people
    near = max(ROOM_M, 0.0 if people is None else people.least_m)
    wind, seen = _wind(plan)
    return Stop(f"anybody within {paces(near)} paces ({near:.0f} m)", "nobody sees it", wind, seen)


def wind_m_s(plan: Plan) -> float:
    """The no-go wind from where it is to blow (the worst side, where that is not said), as it is
    felt in the hand, else 10 m up; NaN not known."""
    found = _limits(plan)
    return math.nan if found is None or _felt_m_s(found[0]) < 0.0 else _felt_m_s(found[0])


def _limits(plan: Plan) -> tuple[WindLimit, WindLimit] | None:
    """From where it is to blow, and from the worst side; None without a shot."""
    shots = [plan.shots[i] for i in told(plan)]
    limits = [
        min(each, key=_bears) for each in zip(*(wind_limits(s.scene) for s in shots), strict=True)
    ]
    if not limits:
        return None
    worst = min(limits, key=_felt_m_s)
    now = [one for s in shots if (one := planned(s.scene)) is not None]
    return min(now, key=_bears, default=worst), worst


def _wind(plan: Plan) -> tuple[str, str]:
    """The no-go wind, in the hand and as one sees it: from where it is to blow, and from the worst
    side where that bears less."""
    found = _limits(plan)
    if found is None:
        return "any wind: what it bears is not known", "any wind"
    now, worst = found
    if math.isnan(now.no_go_m_s):
        return "any wind: what it bears is not known", "any wind"
    words = f"over {_hand(now)} from {now.side}"
    if _felt_m_s(worst) < _felt_m_s(now) - 0.1:
        words += f", {_hand(worst, unit='')} from {worst.side}"
    force = beaufort(max(now.no_go_m_s, 0.0))[0]
    return words, BEAUFORT[force][1]


def _bears(limit: WindLimit) -> float:
    return -1.0 if math.isnan(limit.no_go_m_s) else limit.no_go_m_s


def _hand(limit: WindLimit, unit: str = " m/s in the hand") -> str:
    """`3.9 m/s in the hand`; 10 m up where no launch is drawn."""
    if math.isnan(limit.no_go_m_s):
        return "any wind"
    unit = " m/s 10 m up" if unit and math.isnan(_in_hand(limit)) else unit
    return f"{say.rounded_down(_felt_m_s(limit), 0.1):.1f}{unit}"


def _in_hand(limit: WindLimit) -> float:
    """How much of the wind 10 m up is felt in the hand; NaN not known."""
    return limit.hand_m_s / limit.mean_m_s if limit.mean_m_s > 0.0 else math.nan


def _felt_m_s(limit: WindLimit) -> float:
    """The no-go wind in the hand, else 10 m up; what is not known first."""
    if math.isnan(limit.no_go_m_s):
        return -1.0
    share = _in_hand(limit)
    return max(limit.no_go_m_s * (1.0 if math.isnan(share) else share), 0.0)
