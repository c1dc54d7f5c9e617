"""Of a shot the word of each check along the ride, worst check first: the rows of its strip.

First stands what all checks say together, then a row for each check that is not go
everywhere. Cells are runs of metres of one word, with the thing that binds there. A check that is
not go for the shot as a whole (a crew that does not fit, a remark) is one cell.
"""

from __future__ import annotations

import numpy as np

from shotplan.judging.judged import Finding, ShotPlan, Stretch
from shotplan.kernels.rides import by_place, runs
from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict
from shotplan.output import words
from shotplan.output.measures import spare
from shotplan.output.strip import strip

LINE_LETTERS = 56  # of a sentence in a cell as wide as the picture


def clock(shot: ShotPlan) -> strip.Clock:
    """Where the undisturbed rider is when; a place where he stands is passed as he comes to it."""
    ride = shot.scene.track.ride
    along = ride.along_m[0]
    rising = np.concatenate([[True], np.diff(along) > 1e-9])
    at, when = along[rising], ride.t_s[rising]
    end = max(float(at[-1]), float(at[0]) + 1.0)
    return strip.Clock(np.append(at, end), np.append(when, ride.t_s[-1]))


def rows(shot: ShotPlan) -> tuple[strip.Row, ...]:
    """All checks together, then each that is not go everywhere, what decides first."""
    whole = tuple(_merged(shot, part) for part in shot.stretches)
    found = [f for f in words.ranked(shot) if _worst(f) != Verdict.GO]
    return (
        strip.Row("all checks", whole, f"the shot: {shot.verdict.word}"),
        *(strip.Row(f.check, _cells(shot, f), f"the shot: {f.verdict.word}") for f in found),
    )


def _worst(found: Finding) -> Verdict:
    return max(found.verdict, Verdict(int(found.metre_codes.max(initial=0))))


def _merged(shot: ShotPlan, part: Stretch) -> strip.Cell:
    """A stretch, told by the check that decides it."""
    ends = part.from_m, part.to_m
    if not part.binding:
        return strip.Cell(*ends, part.verdict)
    found, last_m = shot.finding(part.binding), max(part.from_m, part.to_m - 1.0)
    told = _told(shot, found, part.from_m, last_m, part.verdict)
    fullest = ", ".join(told[0]) if told else ""
    named = [(f"{part.binding}: {fullest}",), (part.binding, fullest)] if told else []
    named += [(part.binding, *said[:1]) for said in told]
    return strip.Cell(*ends, part.verdict, (*named, (part.binding,)))


def _cells(shot: ShotPlan, found: Finding) -> tuple[strip.Cell, ...]:
    """Runs of metres of one word; one cell where the shot as a whole is worse than any metre."""
    metres = by_place.metres(shot.scene.track.ride.along_m[0])
    ends = float(shot.ride_from_m), float(shot.ride_to_m)
    codes = found.metre_codes
    if int(codes.max(initial=0)) < int(found.verdict):
        return (strip.Cell(*ends, found.verdict, (_broken(found.reason),)),)
    cells = []
    for low, high in runs.runs(codes):
        start = ends[0] if low == 0 else float(metres[low])
        end = ends[1] if high == len(codes) else float(metres[high])
        code = Verdict(int(codes[low]))
        told = _told(shot, found, float(metres[low]), float(metres[high - 1]), code)
        cells.append(strip.Cell(start, end, code, told))
    return tuple(cells)


def _told(
    shot: ShotPlan, found: Finding, first_m: float, last_m: float, code: Verdict
) -> tuple[tuple[str, ...], ...]:
    """What binds from the first to the last metre, the fullest wording first. Thing and number are
    the undisturbed ride's; where that is better than the word, it says whose the word is."""
    along, near_m = shot.scene.track.ride.along_m[0], by_place.WITHIN_M
    near = np.flatnonzero((along >= first_m - near_m) & (along <= last_m + near_m))
    at = int(near[np.argmin(_rank(found, code)[near])])
    thing = words.plain(found.thing_at(at))
    thing = "" if thing == found.check else thing  # the row says it
    hard, soft = float(found.margins[at]), float(found.softs[at])
    told = tuple(t for t in (thing, _number(found, code, hard, soft)) if t)
    whose = _whose(found, code, hard, soft)
    if not told:
        return () if code == Verdict.GO else (_broken(whose or found.reason),)
    fuller = ((", ".join((*told, whose)),), (", ".join(told), whose)) if whose else ()
    return (*fuller, (", ".join(told),), told, told[:1])


def _number(found: Finding, code: Verdict, hard: float, soft: float) -> str:
    """How much is to spare or short; "" where that is no plain number."""
    margin = soft if code == Verdict.CAUTION and soft < 0.0 <= hard else hard
    if not np.isfinite(margin) or not found.unit or found.unit.startswith("of "):
        return ""
    return spare(margin, found.unit)


def _whose(found: Finding, code: Verdict, hard: float, soft: float) -> str:
    """Whose word it is, where the undisturbed ride's would be better."""
    if code == Verdict.GO or not (hard >= 0.0 and (soft >= 0.0 or code != Verdict.CAUTION)):
        return ""
    rides = max(len(found.least) - 1, 1)
    if found.rides_breaking:
        return f"{found.rides_breaking} of {rides} rides break it"
    return f"{rides} rides are too few to prove it" if code == Verdict.UNKNOWN else ""


def _rank(found: Finding, code: Verdict) -> Array:
    """`(n,)` by which sample a word is told: unknown by one that is not known, else by the least
    margin, of caution the soft one too."""
    hard, soft = found.margins, found.softs
    if code == Verdict.UNKNOWN:
        return np.where(np.isnan(hard), -np.inf, hard)
    rank = np.where(np.isnan(hard), np.inf, hard)
    return np.fmin(rank, soft) if code == Verdict.CAUTION else rank


def _broken(sentence: str) -> tuple[str, ...]:
    """A sentence in two lines."""
    half = words.plain(sentence)[: LINE_LETTERS + 1].rfind(" ")
    if len(sentence) <= LINE_LETTERS or half < 0:
        return (words.plain(sentence),)
    return words.plain(sentence)[:half], words.plain(sentence)[half + 1 :]
