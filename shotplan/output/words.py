"""What a plan says, as plain data: the terminal and the pages lay the same words out their way."""

from __future__ import annotations

import unicodedata
from typing import NamedTuple

import numpy as np

from shotplan.model import say
from shotplan.model.judged import Finding, Plan, ShotPlan, Spot, Stretch
from shotplan.model.verdict import Verdict

KNOWN = {"read": "read", "secondary": "at second hand", "memory": "from memory, to be checked"}
_FAMILIES = ("harm", "rule", "picture")


class Row(NamedTuple):
    """One finding. `pin` marks it on the map ("" nowhere); `distance` value against limit;
    `where` its place; `rides` how many of the disturbed rides break it; `notes` its remarks."""

    pin: str
    check: str
    verdict: Verdict
    distance: str
    where: str
    reason: str
    advice: str
    rides: str
    notes: tuple[str, ...]
    source: str


class ShotWords(NamedTuple):
    """One shot. `deciding` rows carry its verdict; `rest` the others, worst first."""

    letter: str
    name: str
    style: str
    part: str
    verdict: Verdict
    deciding: tuple[Row, ...]
    rest: tuple[Row, ...]
    stretches: tuple[str, ...]

    @property
    def rows(self) -> tuple[Row, ...]:
        """All rows, what decides first."""
        return self.deciding + self.rest


class Reminding(NamedTuple):
    """A reminder of the rule pack, where it stands and how that is known."""

    text: str
    source: str
    known: str


class Answer(NamedTuple):
    """Everything said about a plan."""

    site: str
    rules: str
    verdict: Verdict
    shots: tuple[ShotWords, ...]
    reminders: tuple[Reminding, ...]
    cautions: tuple[str, ...]


def plain(text: str) -> str:
    """Text from a file made fit to print: control, format and direction characters become `·`,
    so that a name can neither colour a terminal nor turn a line around."""
    return "".join("·" if unicodedata.category(c) in {"Cc", "Cf", "Cs"} else c for c in text)


def letter(index: int) -> str:
    """A, B, ... Z, AA, AB, ...: what a shot is called on the map."""
    head, tail = divmod(index, 26)
    return (letter(head - 1) if head else "") + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[tail]


def ranked(shot: ShotPlan) -> tuple[Finding, ...]:
    """Its findings, what decides first: the worst word, then harm before rule before picture,
    then the least margin (unknown before known)."""

    def key(found: Finding) -> tuple[int, int, float, str]:
        margin = -1e9 if found.margin is None and found.verdict == Verdict.UNKNOWN else found.margin
        return (
            -int(found.verdict),
            _FAMILIES.index(found.family),
            float("inf") if margin is None else margin,
            found.check,
        )

    return tuple(sorted(shot.findings, key=key))


def pins(shot: ShotPlan, shot_letter: str) -> dict[str, str]:
    """Check -> pin (`A1`, `A2`) of the places worth a look: whatever is not `go`, and where all
    is, the tightest place that could do harm."""
    order = [f for f in ranked(shot) if f.at is not None]
    chosen = [f for f in order if f.verdict != Verdict.GO] or order[:1]
    return {f.check: f"{shot_letter}{i}" for i, f in enumerate(chosen, start=1)}


def amount(value: float | None, unit: str, beside: float | None = None) -> str:
    """`0.6 m`; with another decimal where it would read like the number beside it."""
    if value is None:
        return "unknown"
    if unit.startswith("of "):
        return f"{amount(100.0 * value, '%', 100.0).replace(' ', '')} {unit}"
    digits = 0 if abs(value) >= 100.0 else 1
    if beside is not None:
        while digits < 3 and value != beside and f"{value:.{digits}f}" == f"{beside:.{digits}f}":
            digits += 1
    return f"{value:.{digits}f} {unit}".rstrip()


def distance(found: Finding) -> str:
    """`0.6 m, needs 2.2 m` or `131 m, at most 120 m`."""
    if found.value is None:
        return "unknown" if found.verdict == Verdict.UNKNOWN else "nothing near"
    value = amount(found.value, found.unit, found.limit)
    if found.limit is None or found.unit.startswith("of "):
        return value
    limit = amount(found.limit, found.unit, found.value)
    return f"{value}, {'at most' if at_most(found) else 'needs'} {limit}"


def at_most(found: Finding) -> bool:
    """Whether less is safer: then margins are limit - value, at most samples at least."""
    with np.errstate(invalid="ignore"):
        over = found.values - found.limits
        falls, rises = np.abs(found.margins + over) < 1e-6, np.abs(found.margins - over) < 1e-6
    return bool(falls.sum() > rises.sum())


def where(at: Spot | None) -> str:
    """`212 m along the ride, 28.7 s into the shot: 6.2 m high, 9.1 m above launch`."""
    if at is None:
        return ""
    return f"{say.place(at.ride_m, at.time_s)}: {heights(at)}"


def _where(found: Finding) -> str:
    """The place, less what the reason has said already."""
    if found.at is not None and say.place(found.at.ride_m, found.at.time_s) in found.reason:
        return f"there it is {heights(found.at)}"
    return where(found.at)


def heights(at: Spot) -> str:
    """The height words of a place, each with its own measure."""
    text = f"{_or_unknown(at.height_m)} high, {_or_unknown(at.height_above_launch_m)} above launch"
    if abs(at.height_m - at.surface_m) > 0.5:
        text += f", {_or_unknown(at.surface_m)} from the nearest ground"
    return text


def _or_unknown(value: float) -> str:
    return "unknown" if value != value else say.metres(value)


def stretch(part: Stretch) -> str:
    """`40 to 62 m: go (clearance, 3.1 m to spare)`."""
    why = plain(part.binding)
    if why and part.margin is not None:
        why += f", {abs(part.margin):.1f} {'to spare' if part.margin >= 0 else 'short'}"
    tail = f" ({why})" if why else ""
    return f"{part.from_m:.0f} to {part.to_m:.0f} m: {part.verdict.word}{tail}"


def answer(plan: Plan) -> Answer:
    """Everything a plan says, in the order it is read."""
    rules = plan.outing.rules
    return Answer(
        site=plain(plan.outing.site.name),
        rules=f"{plain(rules.id)}: {plain(rules.title)}, read {rules.read_on}",
        verdict=plan.verdict,
        shots=tuple(_shot(s, letter(i)) for i, s in enumerate(plan.shots)),
        reminders=tuple(
            Reminding(plain(r.text), plain(r.source), KNOWN[r.known]) for r in rules.reminders
        ),
        cautions=cautions(plan),
    )


def cautions(plan: Plan) -> tuple[str, ...]:
    """The plan's own, then what reading mended or left out; each once."""
    lines = (*plan.cautions, *plan.outing.repairs, *plan.outing.site.remarks)
    return tuple(dict.fromkeys(plain(line) for line in lines))


def assumptions(plan: Plan) -> dict[str, tuple[str, ...]]:
    """Every assumption once, with the checks that rest on it, in the order met."""
    found: dict[str, list[str]] = {}
    for shot in plan.shots:
        for finding in shot.findings:
            for line in finding.assumptions:
                checks = found.setdefault(plain(line), [])
                if finding.check not in checks:
                    checks.append(finding.check)
    return {line: tuple(checks) for line, checks in found.items()}


def sources(plan: Plan) -> tuple[str, ...]:
    """`check: source` of every finding, each once."""
    lines = [f"{f.check}: {plain(f.source)}" for s in plan.shots for f in s.findings if f.source]
    return tuple(dict.fromkeys(lines))


def _shot(shot: ShotPlan, shot_letter: str) -> ShotWords:
    at = pins(shot, shot_letter)
    rows = [_row(f, at.get(f.check, ""), shot.rides) for f in ranked(shot)]
    decides = [r for r in rows if r.verdict == shot.verdict and shot.verdict != Verdict.GO]
    return ShotWords(
        letter=shot_letter,
        name=plain(shot.scene.shot.name),
        style=plain(shot.scene.shot.style.words()),
        part=f"{shot.ride_from_m:.0f} to {shot.ride_to_m:.0f} m of the ride, "
        f"{shot.duration_s:.0f} s, {_flown(shot.rides)}",
        verdict=shot.verdict,
        deciding=tuple(decides),
        rest=tuple(r for r in rows if r not in decides),
        stretches=tuple(stretch(s) for s in shot.stretches),
    )


def _flown(rides: int) -> str:
    return "one ride, as given" if rides == 1 else f"{rides} rides"


def _row(found: Finding, pin: str, rides: int) -> Row:
    broken = ""
    if rides > 1 and found.rides_breaking:
        broken = f"{found.rides_breaking} of {rides} rides break it"
        if found.share_bound is not None:
            broken += f" (at most {found.share_bound:.1%} of all such rides)"
    return Row(
        pin=pin,
        check=found.check,
        verdict=found.verdict,
        distance=distance(found),
        where=_where(found),
        reason=plain(found.reason),
        advice=plain(found.advice),
        rides=broken,
        notes=tuple(
            plain(line)
            for line in (
                *(limit.text for limit in found.go_if),
                *(
                    f"{r.text} [{r.source}]" if r.source else r.text
                    for r in found.remarks
                    if r.text not in found.reason
                ),
            )
        ),
        source=plain(found.source),
    )
