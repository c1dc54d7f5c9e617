"""A FeatureCollection changed feature by feature: every other byte of the text stays."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from shotplan.files.geojson_kept import after_blank, features_of, id_of, members_of
from shotplan.files.spelled import in_own_units, lay

EMPTY = '{"type": "FeatureCollection", "features": [\n]}\n'


class Part(NamedTuple):
    """A feature as it stands in the text, from `begin` to `end`, and what it says."""

    begin: int
    end: int
    feature: dict[str, Any]

    @property
    def id(self) -> str:
        """Its id, or its properties' id."""
        return id_of(self.feature)


def parts(text: str) -> list[Part]:
    """Every feature of a FeatureCollection with where it stands. ValueError where it is none."""
    found = [Part(begin, end, value) for value, begin, end in features_of(text, _features_at(text))]
    if not all(isinstance(part.feature, dict) for part in found):
        raise ValueError("a feature is no object")
    return found


def plain(text: str) -> list[dict[str, Any]]:
    """The features as a page has them: `id`, `properties` in own units, `geometry`."""
    return [
        {
            "id": part.id,
            "properties": _without_id(in_own_units(part.feature.get("properties") or {})),
            "geometry": part.feature.get("geometry"),
        }
        for part in parts(text)
    ]


def edited(
    text: str, changed: Mapping[str, Mapping[str, Any]], removed: Sequence[str]
) -> str:  # fmt: skip
    """The text with features `changed` (id -> as in `plain`; a new id is a new feature, which comes
    last) and without those `removed`."""
    there = parts(text)
    known = {part.id for part in there}
    pieces = [text[p.begin : p.end] for p in there]
    step = _step(pieces)
    kept = [
        _written(_laid(p.feature, changed[p.id]), step) if p.id in changed else piece
        for p, piece in zip(there, pieces, strict=True)
        if p.id not in removed
    ]
    kept += [_written(_new(i, one), step) for i, one in changed.items() if i not in known]
    first = there[0].begin if there else _features_at(text) + 1
    last = there[-1].end if there else after_blank(text, first)
    between = _between(text, there)
    before = "" if there else "\n"
    after = "" if there or text[last - 1 : last] == "\n" else "\n"
    return text[:first] + before * bool(kept) + between.join(kept) + after + text[last:]


def _between(text: str, there: Sequence[Part]) -> str:
    return text[there[0].end : there[1].begin] if len(there) > 1 else ",\n"


def _step(pieces: Sequence[str]) -> tuple[int | None, int]:
    """How features are indented inside, and how far in they stand; None: one to a line."""
    for piece in pieces:
        inner = re.search(r"\n( +)\S", piece)
        last = re.search(r"\n( *)\}$", piece)
        if inner and last:
            outer = len(last.group(1))
            return max(1, len(inner.group(1)) - outer), outer
    return None, 0


def _written(feature: Mapping[str, Any], step: tuple[int | None, int]) -> str:
    inside, outer = step
    made = json.dumps(feature, ensure_ascii=False, indent=inside, allow_nan=False)
    return made.replace("\n", "\n" + " " * outer)


def _laid(raw: dict[str, Any], wanted: Mapping[str, Any]) -> dict[str, Any]:
    """The feature with other properties or another shape; members that nobody knows stay."""
    made = json.loads(json.dumps(raw))
    properties = made.get("properties") or {}
    own = {"id": properties["id"]} if "id" in properties else {}
    lay(properties, {**own, **wanted["properties"]})
    made["properties"] = properties
    if _flat(made.get("geometry")) != _flat(wanted["geometry"]):
        made["geometry"] = wanted["geometry"]
    return dict(made)


def _new(name: str, wanted: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {"id": name, **wanted["properties"]},
        "geometry": wanted["geometry"],
    }


def _without_id(properties: Mapping[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in properties.items() if k != "id"}


def _flat(geometry: Any) -> list[Any]:
    """A geometry's type and numbers in a row, third ones of positions left out."""
    if not isinstance(geometry, Mapping):
        return [geometry]
    return [geometry.get("type"), *_positions(geometry.get("coordinates"))]


def _positions(nested: Any) -> Iterator[Any]:
    if isinstance(nested, list) and nested and not isinstance(nested[0], list):
        yield tuple(nested[:2])
        return
    for one in nested if isinstance(nested, list) else ():
        yield from _positions(one)
        yield "end"


def _features_at(text: str) -> int:
    """Where the list of features begins: its `[`."""
    for name, begin, _ in members_of(text):
        if name == "features" and text[begin] == "[":
            return begin
    raise ValueError("no list of features")
