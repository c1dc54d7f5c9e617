"""Tell: which ride and sample of a margin decides, its words and numbers."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from shotplan.judging.ask import Asked, ask
from shotplan.judging.judged import Spot
from shotplan.kernels.rides import shares
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Words
from shotplan.scene.scene import Scene


class Told(NamedTuple):
    """What is said of one margin, and which ride it is said of (0 the undisturbed); value, limit
    and margin None where unknown or nothing applies."""

    words: Words
    value: float | None
    limit: float | None
    margin: float | None
    thing: str
    at: Spot | None
    ride: int = 0


def tell(scene: Scene, asked: list[Asked]) -> list[Told]:
    """The undisturbed ride's numbers and words, unless it is sound and others break: then those
    of the worst ride."""
    return [_told(scene, one, index) for index, one in enumerate(asked)]


def _told(scene: Scene, asked: Asked, index: int) -> Told:
    ride = _worst_ride(asked)
    if not ride:
        told = _of_one(scene.first, asked)
        if asked.verdict == Verdict.UNKNOWN and asked.own != Verdict.UNKNOWN:
            return told._replace(words=_too_few(asked))
        return told
    alone = scene.only(ride)
    told = _of_one(alone, ask(asked.check, alone)[index])
    reason = f"{_split(asked)}; in ride {ride}: {told.words.reason}"
    words = told.words._replace(reason=f"{reason}; {scene.led}" if scene.led else reason)
    if asked.whole.broken.any() and asked.verdict == Verdict.UNKNOWN:
        words = words._replace(advice=f"{words.advice}; {_too_few(asked).advice}")
    return told._replace(words=words, ride=ride)


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
        return Told(margin.why(-1, asked.own), None, None, None, "", None)
    words, thing, at = margin.why(i, asked.own), str(margin.thing[i]), spot(scene, i)
    hard, soft = float(asked.samples.least[0, i]), float(asked.samples.least_soft[0, i])
    value, limit = float(margin.value[i]), float(margin.limit[i])
    if math.isnan(hard):
        return Told(words, None, finite(limit), None, thing, at)
    if soft < 0.0 <= hard:
        limit = value - soft if asked.check.binds == "at-least" else value + soft
        hard = soft
    return Told(words, finite(value), finite(limit), finite(hard), thing, at)


def _split(asked: Asked) -> str:
    """How the undisturbed ride fares and how the others do not, in words."""
    least = asked.whole.least
    rides, broken, unknown = len(least), int((least < 0.0).sum()), int(np.isnan(least).sum())
    if np.isnan(least[0]):
        return f"of the undisturbed ride it is not known, {broken} of {rides} rides break it"
    keeps = "the undisturbed ride keeps clear of it"
    if broken:
        return f"{keeps}, {broken} of {rides} rides do not"
    return f"{keeps}, of {unknown} of {rides} rides it is not known"


def _too_few(asked: Asked) -> Words:
    """What so many rides prove, and how many would do."""
    broken, rides, share = int(asked.whole.broken.sum()), len(asked.whole.least), asked.whole.share
    wanted = shares.rides_needed(share, broken)
    count = f"{broken} of {rides} rides break it" if broken else f"none of {rides} rides breaks it"
    return Words(
        f"{count}: that proves a share under {shares.upper_bound(broken, rides):.1%}, not the "
        f"{share:.0%} allowed",
        f"reckon with at least {wanted} rides ([disturbance] rides = {wanted})"
        + (f", of which no more than {broken} break it" if broken else ""),
    )


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
