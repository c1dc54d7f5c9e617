"""Letters of any script: fonts of this machine for what the pictures' own typeface does not have.

None is kept here. The same machine gives the same picture; where no font has a letter, a box
stands for it, and one warning names the name.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

from shotplan.outing import Outing
from shotplan.output.words import plain

FAMILY = "shotplan"
DRAWN = ("emoji", "color", "lastresort")  # letters that are pictures cannot be written


@cache
def own(*, bold: bool) -> str:
    """matplotlib's own font file, so that a picture is the same on every machine."""
    from matplotlib import get_data_path

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return str(Path(get_data_path()) / "fonts" / "ttf" / name)


@cache
def letters(path: str) -> frozenset[int]:
    """What a font file has; nothing where it cannot be read."""
    from matplotlib.font_manager import get_font

    try:
        return frozenset(get_font(path).get_charmap())
    except (OSError, RuntimeError):
        return frozenset()


@cache
def machine() -> tuple[str, ...]:
    """Font files of this machine, plain upright sans first."""
    from matplotlib.font_manager import findSystemFonts

    def key(path: str) -> tuple[bool, bool, str, str]:
        name = Path(path).name.lower()
        return ("sans" not in name, "regular" not in name, name, path)

    found = (p for p in findSystemFonts() if not any(d in Path(p).name.lower() for d in DRAWN))
    return tuple(sorted(found, key=key))


@cache
def _having(letter: int) -> str:
    return next((path for path in machine() if letter in letters(path)), "")


def wanted(text: str) -> tuple[str, ...]:
    """The font files, beside the own one, that a text needs: as few as do."""
    if text.isascii():
        return ()
    missing = sorted(set(map(ord, text)) - letters(own(bold=False)))
    found: list[str] = []
    for letter in missing:
        if not any(letter in letters(path) for path in found):
            path = _having(letter)
            found += [path] if path else []
    return tuple(found)


def has(letter: str) -> bool:
    """Whether some font has it."""
    return ord(letter) in letters(own(bold=False)) or bool(_having(ord(letter)))


@cache
def family(path: str) -> str:
    """The name by which matplotlib finds a font file."""
    from matplotlib.font_manager import FontEntry, fontManager

    name = f"{FAMILY} {path}"
    entry = FontEntry(
        fname=path, name=name, weight=400, style="normal", variant="normal", stretch="normal",
        size="scalable",
    )  # fmt: skip
    fontManager.ttflist.append(entry)
    return name


def font(text: str, *, bold: bool, size: float) -> Any:
    """The own typeface, and behind it what a text wants beside it."""
    from matplotlib.font_manager import FontProperties

    more = wanted(text)
    if not more:
        return FontProperties(fname=own(bold=bold), size=size)
    return FontProperties(family=[family(p) for p in (own(bold=bold), *more)], size=size)


def boxed(outing: Outing) -> str:
    """`no font on this machine has all letters of …: boxes stand for them`; "" where all are
    written."""
    names = [n for n in dict.fromkeys(map(plain, _names(outing))) if not all(map(has, n))]
    if not names:
        return ""
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    return f"no font on this machine has all letters of {names[0]}{more}: boxes stand for them"


def _names(outing: Outing) -> Iterator[str]:
    """All that people may have named."""
    site = outing.site
    yield site.name
    yield from (shot.name for shot in outing.shots)
    yield from (person.name for person in outing.day.crew)
    yield from (place.name for place in site.places.values())
    every: tuple[Iterable[Any], ...] = (
        site.obstacles.things, site.people, site.zones, site.wildlife,
    )  # fmt: skip
    for things in every:
        yield from (one.name for one in things)
