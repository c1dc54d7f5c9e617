"""The brief and the landowner's page as PDF, set by typst.

typst is given templates of ours and, beside them, words as JSON and pictures: no name is ever part
of a source. Its own fonts, behind them those of the pictures; no clock, no packages: the same plan
gives the same bytes.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

from shotplan.output import scripts
from shotplan.output.brief.brief import Brief

PAPERS = {"a4": "a4", "letter": "us-letter"}
SHARED = ("sheet.typ", "person.typ")
LEAST_MAP_MM = 55.0


class Size(NamedTuple):
    """Type of what is read outdoors and of the fine print, points; of the map where it does not
    take what room there is, and of a shot from the side that shares its page, mm; `lead` between
    lines, em."""

    body: float
    fine: float
    map: float
    side: float
    lead: float = 0.42


SIZES = (
    Size(13.0, 11.0, 90.0, 62.0),
    Size(12.5, 10.5, 82.0, 58.0),
    Size(12.0, 10.0, 75.0, 55.0),
    Size(11.5, 9.5, 68.0, 52.0),
    Size(11.0, 9.0, 62.0, 48.0),
    Size(11.0, 8.5, 56.0, 42.0),
    Size(11.0, 8.0, 52.0, 36.0),
    Size(11.0, 7.5, 48.0, 30.0),
    Size(11.0, 7.0, 42.0, 30.0),
    Size(11.0, 7.0, 40.0, 30.0, 0.36),
    Size(11.0, 7.0, 32.0, 24.0, 0.33),
)
"""Largest first: the largest that fits is taken. Where not even the smallest fits there are more
pages than promised: nothing is ever cut off."""


class _Facts(NamedTuple):
    """What a layout came to: pages, the page on which the shots end, height of the map in mm."""

    pages: int
    shots: int
    map: float


def brief(said: Brief, pictures: Mapping[str, bytes], paper: str) -> bytes:
    """The brief, `paper` a key of `PAPERS`; `pictures` those of `brief.pictures`."""
    with _Setter("brief.typ", said, pictures, paper) as setter:
        tried = {size: setter.facts(size) for size in SIZES}
        pages = said.pages - len(said.people)
        if len(said.shots) == 1:
            size = next((s for s, f in tried.items() if f.pages <= pages), SIZES[-1])
            return setter.pdf(size, size)
        before = pages - 1
        roomy = (s for s, f in tried.items() if f.shots <= before and f.map >= LEAST_MAP_MM)
        last = (s for s, f in tried.items() if f.pages == f.shots + 1)
        return setter.pdf(next(roomy, SIZES[-1]), next(last, SIZES[-1]))


def landowner(said: Any, pictures: Mapping[str, bytes], paper: str) -> bytes:
    """The landowner's page."""
    with _Setter("landowner.typ", said, pictures, paper) as setter:
        tried = ((s, setter.facts(s)) for s in SIZES)
        fits = (s for s, f in tried if f.pages == 1 and f.map >= LEAST_MAP_MM)
        size = next(fits, SIZES[-1])
        return setter.pdf(size, size)


class _Setter:
    """A folder with a template and its data, and typst over it."""

    def __init__(self, template: str, said: Any, pictures: Mapping[str, bytes], paper: str) -> None:
        self._template, self._paper, self._said = template, PAPERS[paper], _plain(said)
        self._files = {
            **{name: (files(__package__) / name).read_bytes() for name in (template, *SHARED)},
            **pictures,
            "brief.json": json.dumps(self._said).encode("utf-8"),
        }

    def __enter__(self) -> _Setter:
        self._folder = tempfile.TemporaryDirectory()
        self._root = Path(self._folder.name)
        for name, data in self._files.items():
            (self._root / name).write_bytes(data)
        self._fonts = self._root / "fonts"  # of this machine, for letters that typst has none of
        self._fonts.mkdir()
        own = (scripts.own(bold=False), scripts.own(bold=True))
        for path in (*own, *scripts.wanted(json.dumps(self._said, ensure_ascii=False))):
            shutil.copy(path, self._fonts)
        return self

    def __exit__(self, *_: object) -> None:
        self._folder.cleanup()

    def facts(self, size: Size) -> _Facts:
        """How it comes out without the pages of people, all in one size."""
        return _Facts(
            **json.loads(self._typst(size, size, people=False).query("<facts>", "value", one=True))
        )

    def pdf(self, outdoors: Size, last: Size) -> bytes:
        """The document; the day, the emergencies and the fine print in the size `last`."""
        made: bytes = self._typst(outdoors, last, people=True).compile(format="pdf")
        return made

    def _typst(self, outdoors: Size, last: Size, *, people: bool) -> Any:
        import typst

        look: dict[str, Any] = {"open": outdoors._asdict(), "last": last._asdict()}
        look["people"] = people
        look |= {"paper": self._paper, "map": outdoors.map, "side": outdoors.side}
        (self._root / "look.json").write_text(json.dumps(look), encoding="utf-8")
        return typst.Compiler(
            str(self._root / self._template),
            root=str(self._root),
            ignore_system_fonts=True,
            font_paths=[str(self._fonts)],
            package_path=str(self._root),
            package_cache_path=str(self._root),
        )


def _plain(value: Any) -> Any:
    """Named tuples as objects, all the way down."""
    if hasattr(value, "_asdict"):
        return {key: _plain(part) for key, part in value._asdict().items()}
    if isinstance(value, tuple | list):
        return [_plain(part) for part in value]
    return value
