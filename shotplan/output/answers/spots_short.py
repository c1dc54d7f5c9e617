"""Where to stand, in short: what was not found, and of everybody whether to stand elsewhere."""

from __future__ import annotations

import math

from shotplan.advice.vantage import ROLES, Role, Vantage, Vantages
from shotplan.output.words import letter, plain

WORTH_MOVING = 0.03  # of the score: less is no reason to stand elsewhere (own setting)


def in_short(found: Vantages) -> list[tuple[str, str]]:
    """Label and text, a line each."""
    told = [
        *(_nothing(found, role) for role in ROLES if not found.proposals[role]),
        *(_whether_to_move(found, one) for one in found.now if one.ground is not None),
    ]
    return [("in short" if i == 0 else "", line) for i, line in enumerate(told)]


def _nothing(found: Vantages, role: Role) -> str:
    """That no place was found, and what is in the way of most."""
    said, reasons = f"no place for a {role} was found", found.ruled_out[role]
    if not reasons:
        return said
    why, count = reasons[0]
    return f"{said}: {count} of {found.tried[role]} points tried are out for: {plain(why)}"


def _whether_to_move(found: Vantages, one: Vantage) -> str:
    part = "" if len(one.shots) == len(found.outing.shots) else letters(one.shots)
    place = plain(one.place)
    who = f"{' and '.join(plain(name) for name in one.who) or one.role}{part}: {place}"
    best = next(iter(found.proposals[one.role]), None)
    if one.against:
        free = best is not None and not best.against
        other = f"; {one.role} 1 has nothing against it" if free else ""
        return f"{who} has against it: {plain(', '.join(one.against))}{other}"
    if best is None:
        return f"{who} is compared with nothing"
    if math.isnan(one.score):
        return f"{who}: what it is worth is not known"
    if best.score - one.score < WORTH_MOVING:
        return f"{who} is as good as any place found"
    return (
        f"{who} scores {one.score:.2f}, {one.role} 1 {best.score:.2f}: that sees "
        f"{share(best.watched.seen)} of the flight instead of {share(one.watched.seen)}"
    )


def letters(shots: tuple[int, ...]) -> str:
    """` in A, C`."""
    return f" in {', '.join(letter(i) for i in shots)}"


def share(value: float) -> str:
    """`97 %`, rounded down: no more is claimed than is seen."""
    return f"{math.floor(100.0 * value + 1e-9):.0f} %"
