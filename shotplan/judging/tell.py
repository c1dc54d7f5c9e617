"""Tell: which ride and sample of a margin decides, its words and numbers; and the same of what
is only a caution."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from shotplan.judging.ask import Asked, ask
from shotplan.judging.judged import Also, Spot
from shotplan.judging.verdicts import Floats
from shotplan.kernels.rides import shares
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Words
from shotplan.scene.scene import Scene

NOTHING_LIFTS = "nothing that is set here lifts this: fly it knowing that, or leave it out"


class Told(NamedTuple):
    """What is said of one margin, and which ride it is said of (0 the undisturbed); value, limit
    and margin None where unknown or nothing applies."""

    verdict: Verdict
    words: Words
    value: float | None
    limit: float | None
    margin: float | None
    thing: str
    at: Spot | None
    ride: int = 0
    unit: str = ""

    def also(self) -> Also:
        """As what else is not go."""
        reason, advice, _ = self.words
        return Also(
            self.verdict, self.value, self.limit, self.margin, self.unit, self.thing, self.at,
            reason, advice, self.ride,
        )  # fmt: skip


def tell(scene: Scene, asked: list[Asked]) -> list[Told]:
    """Of each limit the undisturbed ride's numbers and words, unless it is sound and others break:
    then those of the worst ride."""
    return [_of(one, _told(scene, one, index), one.verdict) for index, one in enumerate(asked)]


def warned(scene: Scene, asked: list[Asked]) -> list[Told]:
    """The cautions that have a threshold of their own and are broken, likewise."""
    found = ((one, _warned(scene, one, k)) for k, one in enumerate(asked) if one.warns)
    return [_of(one, told, Verdict.CAUTION) for one, told in found]


def _of(asked: Asked, told: Told, verdict: Verdict) -> Told:
    """With its word; a caution always says what would lift it, or that nothing would."""
    words = told.words
    if verdict == Verdict.CAUTION and words.advice in ("", Words("").advice):
        words = words._replace(advice=NOTHING_LIFTS)
    unit = asked.margin.unit or asked.check.unit
    return told._replace(verdict=verdict, words=words, unit=unit)


def _told(scene: Scene, asked: Asked, index: int) -> Told:
    ride = _worst_ride(asked)
    if not ride:
        told = _of_one(scene.first, asked)
        if asked.verdict == Verdict.UNKNOWN and asked.own != Verdict.UNKNOWN:
            return told._replace(words=_too_few(asked, scene.shot.takes))
        return told
    alone = scene.only(ride)
    told = _of_one(alone, ask(asked.check, alone)[index])
    reason = f"{_split(asked.whole.least)}; in ride {ride}: {told.words.reason}"
    words = told.words._replace(reason=f"{reason}; {scene.led}" if scene.led else reason)
    if asked.whole.broken.any() and asked.verdict == Verdict.UNKNOWN:
        words = words._replace(advice=f"{words.advice}; {_too_few(asked, 1).advice}")
    return told._replace(words=words, ride=ride)


def _warned(scene: Scene, asked: Asked, index: int) -> Told:
    least = asked.whole.least_soft
    ride = 0 if least[0, 0] < 0.0 else int(np.nanargmin(least[:, 0]))
    if not ride:
        return _of_warned(scene.first, asked)
    alone = scene.only(ride)
    told = _of_warned(alone, ask(asked.check, alone)[index])
    reason = f"{_split(least)}; in ride {ride}: {told.words.reason}"
    return told._replace(words=told.words._replace(reason=reason), ride=ride)


def _of_warned(scene: Scene, asked: Asked) -> Told:
    """Of the sample where a caution of its own is tightest."""
    i, margin = asked.warned, asked.margin
    values = margin.value if margin.soft_value is None else margin.soft_value
    soft, value = float(asked.samples.least_soft[0, i]), float(values[i])
    limit = value - soft if asked.check.binds == "at-least" else value + soft
    words, thing = margin.why(i, Verdict.CAUTION), str(margin.thing[i])
    numbers = finite(value), finite(limit), finite(soft)
    return Told(Verdict.CAUTION, words, *numbers, thing, spot(scene, i))


def _worst_ride(asked: Asked) -> int:
    """The ride to tell of: 0, unless the undisturbed one is sound and others are not."""
    least = asked.whole.least[:, 0]
    if least[0] < 0.0 or (np.isnan(least[0]) and asked.verdict != Verdict.NO_GO):
        return 0
    return int(np.nanargmin(least) if (least < 0.0).any() else np.argmax(np.isnan(least)))


def _of_one(scene: Scene, asked: Asked) -> Told:
    """Of the undisturbed ride's deciding sample."""
    i, margin = asked.sample, asked.margin
    if i is None:
        return Told(asked.own, margin.why(-1, asked.own), None, None, None, "", None)
    words, thing, at = margin.why(i, asked.own), str(margin.thing[i]), spot(scene, i)
    hard, soft = float(asked.samples.least[0, i]), float(asked.samples.least_soft[0, i])
    value, limit = float(margin.value[i]), float(margin.limit[i])
    if math.isnan(hard):
        return Told(asked.own, words, None, finite(limit), None, thing, at)
    if soft < 0.0 <= hard and not asked.apart:
        hard = soft
    return Told(asked.own, words, finite(value), finite(limit), finite(hard), thing, at)


def _split(least: Floats) -> str:
    """How the undisturbed ride fares and how the others do not, in words; `least (r, 1)`."""
    rides = len(least) - 1
    broken, unknown = int((least[1:] < 0.0).sum()), int(np.isnan(least[1:]).sum())
    if np.isnan(least[0]):
        return f"of the undisturbed ride it is not known, {broken} of {rides} rides break it"
    keeps = "the undisturbed ride keeps clear of it"
    if broken:
        return f"{keeps}, {broken} of {rides} rides do not"
    return f"{keeps}, of {unknown} of {rides} rides it is not known"


def _too_few(asked: Asked, takes: int) -> Words:
    """What so many rides prove, and how many would do."""
    others = asked.whole.broken[1:]
    broken, rides, share = int(others.sum()), len(others), asked.whole.share
    wanted, bound = shares.rides_needed(share, broken), shares.upper_bound(broken, rides)
    count = f"{broken} of {rides} rides break it" if broken else f"none of {rides} rides breaks it"
    return Words(
        f"{count}: that proves a share under {bound:.1%}{_over(bound, takes)}, not the "
        f"{share:.0%}{_over(share, takes)} allowed",
        f"reckon with at least {wanted} rides ([disturbance] rides = {wanted})"
        + (f", of which no more than {broken} break it" if broken else ""),
    )


def _over(share: float, takes: int) -> str:
    """` (4.9% over 5 takes)`: the chance that one of them breaks it."""
    return f" ({shares.over_takes(share, takes):.1%} over {takes} takes)" if takes > 1 else ""


def spot(scene: Scene, sample: int) -> Spot:
    """Where and when a sample of row 0 is."""
    track = scene.track
    x, y, z = (float(v) for v in track.xyz_m[0, sample])
    return Spot(
        sample,
        float(track.ride.t_s[sample]),
        float(track.ride.along_m[0, sample]),
        (x, y, z),
        float(scene.height_above_launch_m[0, sample]),
        float(scene.height_m[0, sample]),
        float(scene.surface_m[sample]),
    )


def finite(value: float) -> float | None:
    """None for what is not a number or without end."""
    return value if math.isfinite(value) else None
