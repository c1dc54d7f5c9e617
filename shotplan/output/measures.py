"""Numbers and places of a finding as they are read."""

from __future__ import annotations

from shotplan.judging.judged import Finding, Spot
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import AGAINST


def amount(value: float | None, unit: str, beside: float | None = None) -> str:
    """`0.6 m`; with another decimal where it would read like the number beside it."""
    if value is None:
        return "unknown"
    if unit.startswith("of "):
        return f"{amount(100.0 * value, '%', 100.0)} {unit}"
    digits = 0 if abs(value) >= 100.0 else 1
    if beside is not None:
        while digits < 3 and value != beside and f"{value:.{digits}f}" == f"{beside:.{digits}f}":
            digits += 1
    return f"{value:.{digits}f}{'' if unit == '°' else ' '}{unit}".rstrip()


def distance(found: Finding) -> str:
    """`0.6 m, needs 2.2 m`, `131 m, at most 120 m` or `needs 146 % of what it has`."""
    if found.value is None:
        return "unknown" if found.verdict == Verdict.UNKNOWN else "nothing near"
    value = amount(found.value, found.unit, found.limit)
    shown = found.of.shown if found.unit == found.of.unit else AGAINST
    if found.limit is None and "{limit}" in shown:
        return value
    limit = amount(found.limit, found.unit, found.value)
    return shown.format(
        value=value,
        limit=f"{side(found)} {limit}",
        spare=spare(found.value, found.unit),
    )


def spare(margin: float, unit: str) -> str:
    """`3.1 m to spare` or `0.4 m short`."""
    return f"{amount(abs(margin), unit)} {'to spare' if margin >= 0.0 else 'short'}"


def side(found: Finding) -> str:
    """On which side of its limit a number is safe."""
    return "at most" if found.of.binds == "at-most" else "needs"


def where(at: Spot | None, *, launch: bool = True) -> str:
    """`212 m along the ride, 28.7 s into the shot: your display reads 5.5 m; ...`."""
    if at is None:
        return ""
    return f"{say.place(at.ride_m, at.time_s)}: {heights(at, launch=launch)}"


def whereabouts(found: Finding, *, launch: bool) -> str:
    """The place, less what the reason has said already."""
    if found.at is not None and say.place(found.at.ride_m, found.at.time_s) in found.reason:
        return f"there {heights(found.at, launch=launch)}"
    return where(found.at, launch=launch)


def heights(at: Spot, *, launch: bool = True) -> str:
    """The height words of a place, first what the pilot's display shows: the height above
    `launch`, where one is drawn."""
    shown = at.height_above_launch_m
    display = f"your display reads {say.metres(shown)}"
    if shown != shown:
        display = "what your display reads is not known" if launch else "no launch is drawn"
    text = f"{display}; {_or_unknown(at.height_m)} above the ground below"
    if abs(at.height_m - at.surface_m) > 0.5:
        text += f", {_or_unknown(at.surface_m)} from the nearest ground"
    return text


def _or_unknown(value: float) -> str:
    return "unknown" if value != value else say.metres(value)
