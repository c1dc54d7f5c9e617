"""A GeoJSON file taken apart and put together again: what is not changed keeps every character."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

EMPTY = '{"type": "FeatureCollection", "features": []}'
_DECODER = json.JSONDecoder()
_BLANK = re.compile(r"[ \t\r\n]*")


class Piece(NamedTuple):
    """A feature as JSON has it, and its text."""

    value: Mapping[str, Any]
    text: str

    @property
    def id(self) -> str:
        """Its id, wherever it stands; "" none."""
        return id_of(self.value)

    def of(self, source: str) -> bool:
        """Whether its id begins like those that a source gives."""
        return self.id.startswith(f"{source}-")


class Parts(NamedTuple):
    """`members` beside the features, name -> text of the value, in their order."""

    members: Mapping[str, str]
    features: tuple[Piece, ...]


def id_of(feature: Mapping[str, Any]) -> str:
    """A feature's own id or that among its properties; "" where it has none."""
    inner = (feature.get("properties") or {}).get("id")
    found = feature.get("id", inner)
    return found if isinstance(found, str) else ""


def piece(feature: Mapping[str, Any]) -> Piece:
    """A new feature, on one line."""
    return Piece(feature, json.dumps(feature, ensure_ascii=False, allow_nan=False))


def parts(text: str) -> Parts:
    """A FeatureCollection that `read_geojson` accepts, taken apart."""
    members: dict[str, str] = {}
    features: tuple[Piece, ...] = ()
    at = _skip(text, _skip(text, 0) + 1)  # past the first brace
    while text[at] != "}":
        name, at = _DECODER.raw_decode(text, at)
        start = _skip(text, _skip(text, at) + 1)  # past the colon
        value, end = _DECODER.raw_decode(text, start)
        if name == "features":
            features = tuple(_pieces(text, start, value))
        else:
            members[name] = text[start:end]
        at = _skip(text, end)
        if text[at] == ",":
            at = _skip(text, at + 1)
    return Parts(members, features)


def whole(members: Mapping[str, str], features: Sequence[Piece]) -> str:
    """The file's text: its members, then a feature after the other."""
    head = "".join(f"{json.dumps(k, ensure_ascii=False)}: {v}, " for k, v in members.items())
    return f'{{{head}"features": [\n' + ",\n".join(f.text for f in features) + "\n]}\n"


def _pieces(text: str, start: int, values: Sequence[Mapping[str, Any]]) -> Iterator[Piece]:
    at = start + 1  # past the bracket
    for value in values:
        begins = _skip(text, at)
        _, end = _DECODER.raw_decode(text, begins)
        yield Piece(value, text[begins:end])
        at = _skip(text, end) + 1  # past the comma


def _skip(text: str, at: int) -> int:
    found = _BLANK.match(text, at)
    return found.end() if found else at
