"""What this person sees of a shot: their watcher's picture, for paper."""

from __future__ import annotations

from shotplan.judging.judged import Plan
from shotplan.model.day import Person
from shotplan.output import paper
from shotplan.output.watch import names, picture
from shotplan.output.watch.view import looked
from shotplan.output.words import letter

EDGE, HIGH, DPI = 4.0, 100.0, 200
WIDE = 470.0
UNDER = 32.0


def png(plan: Plan, person: Person, index: int) -> bytes | None:
    """None where it is not known where they stand."""
    across = WIDE - 2.0 * EDGE
    one = looked(plan.shots[index], letter(index), person, across, HIGH)
    if one is None:
        return None
    frame = names.frame_at(one, EDGE, 2.0, across)
    axes = paper.sheet(WIDE, frame.bottom + UNDER, DPI, paper="white")
    picture.draw(axes, frame, one)
    for x, text, side in ((frame.left, "left", "left"), (frame.right, "right", "right")):
        paper.write(axes, x, frame.bottom + 26.0, text, size=8.5, bold=True, align=side)
    paper.write(axes, WIDE / 2.0, frame.bottom + 26.0, "fists from where it begins", size=8.5,
                align="center")  # fmt: skip
    return paper.png(axes.figure)
