"""What a folder does not say, and which questions stay open for it: from the checks themselves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from shotplan.checks import CHECKS
from shotplan.outing import Outing
from shotplan.output.words import plain
from shotplan.scene import needs
from shotplan.scene.margin import Check

MANY = 5  # questions: so many are counted, not told


class Missing(NamedTuple):
    """Things of one kind that nobody gave, where ("" everywhere), what to do, and the checks that
    may stay unknown for it."""

    what: str
    things: tuple[str, ...]
    where: str
    give: str
    checks: tuple[Check, ...]

    @property
    def text(self) -> str:
        """`no gust: does it bear the wind? does the battery last? unknown until you give ...`."""
        told = " ".join(part for part in (self.what, ", ".join(self.things), self.where) if part)
        open_ = " ".join(check.question for check in self.checks)
        if len(self.checks) == len(CHECKS):
            open_ = "whatever is asked"
        elif len(self.checks) > MANY:
            rest = len(self.checks) - MANY
            open_ = " ".join(c.question for c in self.checks[:MANY]) + f" and {rest} more"
        return plain(f"{told}: {open_} may stay unknown until you {self.give}")

    @property
    def data(self) -> dict[str, Any]:
        """The same for machines."""
        return {
            "missing": self.things,
            "where": self.where,
            "give": self.give,
            "checks": [check.id for check in self.checks],
        }


def missing(outing: Outing) -> tuple[Missing, ...]:
    """In the order worth giving: what leaves most open first, harm counting before all else."""
    found: dict[tuple[str, str, str], tuple[list[str], list[Check]]] = {}
    for check, need in _needs():
        where = need.lacks(outing)
        if where is None:
            continue
        things, checks = found.setdefault((need.what, need.give, where), ([], []))
        things += [need.thing] if need.thing not in things else []
        checks += [check] if check not in checks else []
    lines = (
        Missing(what, tuple(things), where, give, tuple(checks))
        for (what, give, where), (things, checks) in found.items()
    )
    return tuple(sorted(lines, key=_worth))


def _needs() -> Iterator[tuple[Check, needs.Need]]:
    for check in CHECKS:
        for need in (*needs.EVERY, *check.needs):
            yield check, need


def _worth(one: Missing) -> tuple[int, int]:
    harms: Sequence[Check] = [check for check in one.checks if check.family == "harm"]
    return -len(harms), -len(one.checks)
