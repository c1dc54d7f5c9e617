"""How much wind a brief allows, as it is felt in the hand and seen on the trees."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from shotplan.judging.judged import Plan
from shotplan.kernels.motion.wind import BEAUFORT, beaufort
from shotplan.model import say
from shotplan.output import stop
from shotplan.scene.scene import Scene
from shotplan.scene.wind_limits import SIDES, WindLimit, planned


class Side(NamedTuple):
    """The least wind over all shots from one side: in the hand, at 10 m, its Beaufort number."""

    name: str
    hand_m_s: float
    mean_m_s: float
    force: int

    @property
    def words(self) -> str:
        """`from N over 2.7 m/s in the hand (force 3: twigs move all the time)`."""
        if math.isnan(self.mean_m_s):
            return f"from {self.name}: not known"
        most = self.mean_m_s if math.isnan(self.hand_m_s) else self.hand_m_s
        at = "10 m up" if math.isnan(self.hand_m_s) else "in the hand"
        seen = f" (force {self.force}: {BEAUFORT[self.force][1]})"
        return f"from {self.name} over {say.rounded_down(max(most, 0.0), 0.1):.1f} m/s {at}{seen}"


def sides(limits: tuple[tuple[WindLimit, ...], ...]) -> tuple[Side, ...]:
    """The least over shots from each of eight sides; NaN where one is not known."""
    found = []
    for name, *each in zip(SIDES, *limits, strict=True):
        hand, mean = (
            float(np.min([getattr(one, key) for one in each])) for key in ("hand_m_s", "mean_m_s")
        )
        force = beaufort(max(mean, 0.0))[0] if math.isfinite(mean) else -1
        found.append(Side(name, hand, mean, force))
    return tuple(found)


def today(scene: Scene, plan: Plan) -> Side | None:
    """The side the forecast wind is from; never more than what stops everybody."""
    one, ends_m_s = planned(scene), stop.wind_m_s(plan)
    if one is None:
        return None
    key = "mean_m_s" if math.isnan(one.hand_m_s) else "hand_m_s"
    most = getattr(one, key)
    capped = one if math.isnan(ends_m_s) else one._replace(**{key: min(most, ends_m_s)})
    return Side(one.side, capped.hand_m_s, capped.mean_m_s, one.force)


def worst_side(found: tuple[Side, ...]) -> Side:
    """The side from which least is borne; one that is not known first."""
    return min(found, key=lambda s: -1.0 if math.isnan(s.mean_m_s) else s.mean_m_s)
