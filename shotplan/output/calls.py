"""The words to call and the signs to give: one list for the card, the brief, whoever else.

Our own choice, kept to four short words that do not sound alike; a crew agrees on them before it
flies. What the pilot does is the same however the word comes.
"""

from __future__ import annotations

from typing import NamedTuple


class Call(NamedTuple):
    """A `word`, what the pilot `does` at it, and the `sign` for where no voice carries."""

    word: str
    does: str
    sign: str


CALLS: tuple[Call, ...] = (
    Call(
        "stop",
        "ends the following and lets go of the sticks: it brakes and stands in the air",
        "both arms crossed over the head",
    ),
    Call(
        "hold",
        "keeps it where it is and starts nothing until somebody calls go on",
        "one arm straight up, fist closed",
    ),
    Call(
        "home",
        "ends the take, climbs to the return height and brings it back",
        "one hand flat on the head",
    ),
    Call(
        "people",
        "stops, then goes away from them by the way it came, and lands if they come on",
        "both arms straight out to the sides",
    ),
)
