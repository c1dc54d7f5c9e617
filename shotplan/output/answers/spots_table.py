"""Under the map of places: what each proposal scores and sees, and of what its score is made."""

from __future__ import annotations

from typing import Any, NamedTuple

from shotplan.advice.vantage import ROLES, WEIGHTS, Role, Vantages
from shotplan.output import look, paper
from shotplan.output.answers.spots_short import share
from shotplan.output.lettering import cut

WIDE = look.WIDTH_PX / look.DPI * 72.0
SIZE, ROW, EDGE = 8.5, 12.5, 6.0
SHORT = {
    "seen": "flight in sight", "level": "level ground", "open": "open sky",
    "wind": "not downwind", "sun": "sun not in the eyes", "walk": "a short way",
    "near": "flight near", "launch": "close to launch 1", "together": "seen by one of two",
}  # fmt: skip
MOST_TERMS = 3  # of a score, the weightiest


class Style(NamedTuple):
    """A role's letter, the fill and ink of its tag."""

    letter: str
    fill: str
    ink: str


STYLES: dict[Role, Style] = {
    "launch": Style("L", look.INK, "white"),
    "pilot": Style("P", "#ffffff", look.INK),
    "spotter": Style("S", "#f0b429", look.INK),
}
HEADS: dict[Role, str] = {"launch": "to launch", "pilot": "the pilot", "spotter": "the spotter"}


def draw(axes: Any, found: Vantages, high: float) -> None:
    """A column a role over `high` points: its proposals, then of what the score is, out of 1."""
    axes.set_xlim(0.0, WIDE)
    axes.set_ylim(high, 0.0)
    step = (WIDE - 2.0 * EDGE) / len(ROLES)
    for k, role in enumerate(ROLES):
        left, room, style = EDGE + k * step, step - 8.0, STYLES[role]
        paper.box(axes, left, 6.0, 18.0, 11.0, facecolor=style.fill, edgecolor=look.INK,
                  linewidth=1.2)  # fmt: skip
        paper.write(axes, left + 24.0, 11.5, HEADS[role], size=SIZE, bold=True)
        lines = [
            f"{style.letter}{v.number}  score {v.score:.2f}, sees {share(v.watched.seen)}"
            for v in found.proposals[role]
        ] or ["no place found"]
        for row, line in enumerate(lines):
            paper.write(axes, left, 26.0 + ROW * row, cut(line, room, size=SIZE), size=SIZE)
        for row, line in enumerate(_made_of(role)):
            text = cut(line, room, size=SIZE)
            paper.write(axes, left, 30.0 + ROW * (3 + row), text, size=SIZE, ink="#3b4148")


def _made_of(role: Role) -> list[str]:
    """The weightiest terms of a score, and how much the others are together."""
    weights = sorted(WEIGHTS[role].items(), key=lambda one: -one[1])
    told = [f"{100 * w:.0f} %  {SHORT[name]}" for name, w in weights[:MOST_TERMS]]
    rest = sum(w for _, w in weights[MOST_TERMS:])
    return [*told, f"{100 * rest:.0f} %  other things"] if rest else told
