"""How wide words are in a picture, and what to write where there is little room.

Sizes are points of type, widths pixels of a phone's page: two of the picture, one point each.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from shotplan.output import scripts
from shotplan.output.look import DPI
from shotplan.output.words import plain

TYPE, SMALL = 10.5, 9.5
SHORTEST = 4  # letters of a name that is cut


def font(*, bold: bool = False, size: float, text: str = "") -> Any:
    """The typeface of every picture, with the letters a text has beyond it."""
    return scripts.font(text, bold=bold, size=size)


def writable(text: str) -> str:
    """Text made plain, with a box for every character that no typeface has."""
    text = plain(text)
    return text if text.isascii() else "".join(c if scripts.has(c) else "□" for c in text)


@lru_cache(maxsize=20_000)
def wide(text: str, size: float = TYPE, *, bold: bool = False) -> float:
    """How wide text is written."""
    from matplotlib.font_manager import get_font

    text = writable(text)
    face = get_font([scripts.own(bold=bold), *scripts.wanted(text)])
    face.set_size(size, DPI)
    face.set_text(text, 0.0)
    return float(face.get_width_height()[0]) / 64.0 * 72.0 / DPI


def fitting(wordings: Sequence[Sequence[str]], room: float) -> tuple[str, ...]:
    """The first wording all of which has room; else what of the last one may be cut."""
    for lines in wordings:
        if all(wide(text, SMALL) <= room for text in lines):
            return tuple(lines)
    words = (t for t in wordings[-1] if t[:1].isalpha()) if wordings else ()
    return tuple(t for t in (cut(text, room, size=SMALL) for text in words) if t)


def cut(text: str, room: float, *, size: float = TYPE, bold: bool = False) -> str:
    """Text, cut with an ellipsis where it has no room; "" where hardly anything would be left."""
    text = text[:200]
    if wide(text, size, bold=bold) <= room:
        return text
    begun = [f"{text[:end].rstrip()}…" for end in range(SHORTEST, len(text))]
    fit = bisect_right(begun, room, key=lambda some: wide(some, size, bold=bold))
    return begun[fit - 1] if fit else ""
