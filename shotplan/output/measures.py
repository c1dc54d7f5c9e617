"""Numbers and places of a finding as they are read."""

from __future__ import annotations

from shotplan.files.words import one_line
from shotplan.judging.judged import Also, Finding, Spot
from shotplan.kernels.rides.shares import over_takes
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


def distance(found: Finding, one: Also | None = None) -> str:
    """`0.6 m, needs 2.2 m`, `131 m, at most 120 m` or `needs 146 % of what it has`: of what a
    finding's word rests on, or of `one` thing of it; a remark in its own few words."""
    one = one or found.told
    if one.short:
        return one_line(one.short)
    if one.value is None:
        return "unknown" if one.verdict == Verdict.UNKNOWN else "nothing near"
    value = amount(one.value, one.unit, one.limit)
    shown = found.of.shown if one.unit == found.of.unit else AGAINST
    if one.limit is None and "{limit}" in shown:
        return value
    limit = amount(one.limit, one.unit, one.value)
    return shown.format(
        value=value,
        limit=f"{side(found)} {limit}",
        spare=spare(one.value, one.unit),
    )


def spare(margin: float, unit: str) -> str:
    """`3.1 m to spare` or `0.4 m short`."""
    return f"{amount(abs(margin), unit)} {'to spare' if margin >= 0.0 else 'short'}"


def at_most(share: float, takes: int) -> str:
    """`under 1.0 % of all such rides (5 takes: 4.9 %)`, rounded up."""
    all_takes = f" ({takes} takes: {100.0 * over_takes(share, takes):.1f} %)" if takes > 1 else ""
    return f"under {say.rounded_up(100.0 * share, 0.1):.1f} % of all such rides{all_takes}"


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
    at = found.told.at
    if at is not None and say.place(at.ride_m, at.time_s) in found.reason:
        return f"there {heights(at, launch=launch)}"
    return where(at, launch=launch)


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
