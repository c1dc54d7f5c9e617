"""Taken apart and put together: other members, order and every character of a feature stay."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.files.geojson_kept import EMPTY, id_of, parts, piece, whole

ODD = """ {
 "name" : "mine, \\u00e9 [x]" , "features":[
   {"type": "Feature", "id": "a", "properties": {"role": "tree", "height_m": 9.10},
    "geometry": {"type": "Point", "coordinates": [14.00000000000000001, 46e0]}}
   ,{"type":"Feature","properties":{"id":"b","role":"place"},"geometry":null}
 ],
 "type":"FeatureCollection", "bbox": [1,2, 3,4]}
"""


def test_features_keep_their_text_and_members_their_order() -> None:
    found = parts(ODD)
    assert [f.id for f in found.features] == ["a", "b"]
    assert "9.10" in found.features[0].text
    assert "14.00000000000000001" in found.features[0].text
    assert list(found.members) == ["name", "type", "bbox"]
    made = whole(found.members, found.features)
    assert json.loads(made) == json.loads(ODD)
    assert list(json.loads(made)) == ["name", "type", "bbox", "features"]
    assert all(f.text in made for f in found.features)


def test_an_empty_one() -> None:
    assert parts(EMPTY).features == ()
    assert json.loads(whole(parts(EMPTY).members, ())) == json.loads(EMPTY)


TEXTS = st.text(max_size=8)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=6,
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(
    before=st.dictionaries(TEXTS.filter(lambda t: t != "features"), VALUES, max_size=3),
    features=st.lists(st.dictionaries(TEXTS, VALUES, max_size=3), max_size=4),
    indent=st.sampled_from([None, 0, 2]),
    ascii_=st.booleans(),
)
def test_any_json_comes_back(
    before: dict[str, Any], features: list[dict[str, Any]], indent: int | None, ascii_: bool
) -> None:
    text = json.dumps({**before, "features": features}, indent=indent, ensure_ascii=ascii_)
    found = parts(text)
    again = whole(found.members, [*found.features, piece({"id": "new"})])
    assert json.loads(again) == {**before, "features": [*features, {"id": "new"}]}
    assert all(f.text in text for f in found.features)


def test_an_id_that_is_null_is_none_as_for_the_reader() -> None:
    assert id_of({"id": None, "properties": {"id": "oak"}}) == "oak"
    assert id_of({"id": "own", "properties": {"id": "oak"}}) == "own"
    assert id_of({"id": 7}) == id_of({"properties": None}) == ""
