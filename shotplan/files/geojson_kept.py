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
    found = feature.get("id")
    if found is None:
        found = (feature.get("properties") or {}).get("id")
    return found if isinstance(found, str) else ""


def piece(feature: Mapping[str, Any]) -> Piece:
    """A new feature, on one line."""
    return Piece(feature, json.dumps(feature, ensure_ascii=False, allow_nan=False))


def parts(text: str) -> Parts:
    """A FeatureCollection that `read_geojson` accepts, taken apart."""
    members: dict[str, str] = {}
    features: tuple[Piece, ...] = ()
    for name, begin, end in members_of(text):
        if name == "features":
            found = features_of(text, begin)
            features = tuple(Piece(value, text[low:high]) for value, low, high in found)
        else:
            members[name] = text[begin:end]
    return Parts(members, features)


def members_of(text: str) -> Iterator[tuple[str, int, int]]:
    """The name of each member of an object, and where its value begins and ends. ValueError where
    the text is no object."""
    at = after_blank(text, 0)
    if text[at : at + 1] != "{":
        raise ValueError("no object")
    at = after_blank(text, at + 1)
    while text[at : at + 1] == '"':
        name, at = _DECODER.raw_decode(text, at)
        begin = after_blank(text, after_blank(text, at) + 1)  # past the colon
        _, end = _DECODER.raw_decode(text, begin)
        yield name, begin, end
        at = after_blank(text, end)
        if text[at : at + 1] == ",":
            at = after_blank(text, at + 1)


def features_of(text: str, begin: int) -> Iterator[tuple[Any, int, int]]:
    """Each value of the list that begins there, and where it begins and ends. ValueError where the
    list does not end."""
    at = after_blank(text, begin + 1)
    while text[at : at + 1] != "]":
        if text[at : at + 1] == ",":
            at = after_blank(text, at + 1)
        value, end = _DECODER.raw_decode(text, at)
        yield value, at, end
        at = after_blank(text, end)


def whole(members: Mapping[str, str], features: Sequence[Piece]) -> str:
    """The file's text: its members, then a feature after the other."""
    head = "".join(f"{json.dumps(k, ensure_ascii=False)}: {v}, " for k, v in members.items())
    return f'{{{head}"features": [\n' + ",\n".join(f.text for f in features) + "\n]}\n"


def after_blank(text: str, at: int) -> int:
    """The next place that is not blank."""
    found = _BLANK.match(text, at)
    return found.end() if found else at
