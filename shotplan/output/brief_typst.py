"""The brief and the landowner's page as PDF, set by typst.

typst is given two templates of ours and, beside them, words as JSON and the map as a picture: no
name is ever part of a source. Its own fonts only, no clock, no packages: the same plan gives the
same bytes.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

from shotplan.output.brief import Brief

PAPERS = {"a4": "a4", "letter": "us-letter"}


class Sizes(NamedTuple):
    """Type of the body and of the fine print, points; height of the map, mm."""

    body: float
    fine: float
    map: float


SIZES = (
    Sizes(12.5, 10.5, 95.0),
    Sizes(12.0, 10.0, 85.0),
    Sizes(11.5, 9.5, 78.0),
    Sizes(11.0, 9.0, 70.0),
    Sizes(11.0, 8.5, 62.0),
    Sizes(11.0, 8.0, 56.0),
    Sizes(11.0, 7.5, 50.0),
    Sizes(11.0, 7.0, 46.0),
)
"""Largest first: the first with which it has no more pages than it is to have is taken. Where even
the smallest needs more, it has more: nothing is ever cut off."""


def brief(said: Brief, picture: bytes, paper: str) -> bytes:
    """The brief; `paper` a key of `PAPERS`."""
    return _fitted("brief.typ", _plain(said), picture, paper, said.pages, apart=len(said.shots) > 1)


def landowner(said: Mapping[str, Any], picture: bytes, paper: str) -> bytes:
    """The landowner's page."""
    return _fitted("landowner.typ", dict(said), picture, paper, 1, apart=False)


def _plain(value: Any) -> Any:
    """Named tuples as objects, all the way down."""
    if hasattr(value, "_asdict"):
        return {key: _plain(part) for key, part in value._asdict().items()}
    if isinstance(value, tuple | list):
        return [_plain(part) for part in value]
    return value


def _fitted(
    template: str, said: Any, picture: bytes, paper: str, pages: int, *, apart: bool
) -> bytes:
    with tempfile.TemporaryDirectory() as made:
        root = Path(made)
        (root / template).write_bytes((files("shotplan.output") / template).read_bytes())
        (root / "map.png").write_bytes(picture)
        (root / "brief.json").write_text(json.dumps(_plain(said)), encoding="utf-8")
        return _first_that_fits(root, template, PAPERS[paper], pages, SIZES, apart=apart)


def _first_that_fits(
    root: Path, template: str, paper: str, pages: int, sizes: Sequence[Sizes], *, apart: bool
) -> bytes:
    import typst

    for size in sizes:
        look = {**size._asdict(), "paper": paper, "apart": apart}
        (root / "look.json").write_text(json.dumps(look), encoding="utf-8")
        setter = typst.Compiler(
            str(root / template),
            root=str(root),
            ignore_system_fonts=True,
            package_path=str(root),
            package_cache_path=str(root),
        )
        if size == sizes[-1]:
            break
        counted = json.loads(setter.query("<pages>", field="value", one=True))
        if counted <= pages:
            break
    made: bytes = setter.compile(format="pdf")
    return made
