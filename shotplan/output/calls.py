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
    Call("stop", "lets go of the sticks: it brakes and stands in the air", "arms crossed overhead"),
    Call("hold", "keeps it where it is; nobody starts until go on is called", "fist straight up"),
    Call("home", "ends the take, climbs to the return height, comes back", "hand flat on the head"),
    Call("people", "stops, goes back the way it came; lands if they come on", "arms straight out"),
)
