from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shotplan.errors import Problems
from shotplan.files import geojson
from shotplan.files.geojson import Feature, read_geojson

RING = [[11.0, 47.0], [11.1, 47.0], [11.1, 47.1], [11.0, 47.0]]


def feature(kind: str = "Point", coordinates: Any = (11.0, 47.0), **more: Any) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "id": "tree-07", "properties": {}, "geometry": geometry, **more}


def read(folder: Path, raw: Any) -> tuple[tuple[Feature, ...] | None, list[str]]:
    text = raw if isinstance(raw, str) else json.dumps(raw)
    (folder / "g.geojson").write_text(text, encoding="utf-8")
    problems = Problems()
    found = read_geojson(folder / "g.geojson", "g.geojson", problems)
    return found, [str(p) for p in problems.found]


def collection(*features: Any, **more: Any) -> dict[str, Any]:
    return {"type": "FeatureCollection", "features": list(features), **more}


def test_a_feature(tmp_path: Path) -> None:
    more = feature(properties={"role": "tree", "id": "tree-07", "height_m": 9})
    found, said = read(tmp_path, collection(more))
    assert said == []
    assert found is not None
    (one,) = found
    assert (one.index, one.id, one.geometry_type) == (1, "tree-07", "Point")
    assert one.coordinates == (11.0, 47.0)
    assert one.properties == {"role": "tree", "height_m": 9}
    assert one.label == "feature 1 (tree-07)"


def test_the_id_may_stand_in_the_properties(tmp_path: Path) -> None:
    inner = feature(properties={"id": "a"})
    del inner["id"]
    found, said = read(tmp_path, collection(inner, feature(properties=None)))
    assert said == []
    assert found is not None
    assert [f.id for f in found] == ["a", "tree-07"]
    assert found[0].properties == {}


@pytest.mark.parametrize(
    ("kind", "coordinates", "wanted"),
    [
        ("Point", [11, 47, 300.0], (11.0, 47.0)),
        ("MultiPoint", [[11, 47]], ((11.0, 47.0),)),
        ("LineString", [[11, 47], [12, 48]], ((11.0, 47.0), (12.0, 48.0))),
        ("MultiLineString", [[[11, 47], [12, 48]]], (((11.0, 47.0), (12.0, 48.0)),)),
        ("Polygon", [RING], (tuple(tuple(p) for p in RING),)),
        ("MultiPolygon", [[RING]], ((tuple(tuple(p) for p in RING),),)),
    ],
)
def test_every_geometry(tmp_path: Path, kind: str, coordinates: Any, wanted: Any) -> None:
    found, said = read(tmp_path, collection(feature(kind, coordinates)))
    assert said == []
    assert found is not None
    assert found[0].coordinates == wanted


def test_a_crs_that_says_what_the_standard_says(tmp_path: Path) -> None:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    found, said = read(tmp_path, collection(feature(), crs=crs))
    assert said == []
    assert found is not None
    assert len(found) == 1


UTM = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::25832"}}
AS_A_WHOLE = [
    ("", "the file is empty"),
    ("{", "is not JSON: Expecting property name"),
    ("[" * 200_000, "is nested too deeply"),
    ("[]", "got an empty list; wanted a FeatureCollection"),
    ("{}", "got a table; wanted a FeatureCollection"),
    (feature(), 'got type "Feature"; wanted a FeatureCollection'),
    ({"type": "FeatureCollection", "features": 3}, 'got type "FeatureCollection"; wanted'),
    ('{"type": "FeatureCollection", "features": [NaN]}', "is not JSON: NaN is not a number"),
    ('{"a": -Infinity}', "is not JSON: -Infinity is not a number"),
    (r'{"a": "x\ud83dy"}', r"holds half a character, \ud83d: save its texts as UTF-8"),
    (r'{"a": "\udf04"}', r"holds half a character, \udf04"),
    ('{"a": 1, "a": 2}', 'is not JSON: key "a" stands twice in the same object'),
    ('{"a": 1' + "0" * 5000 + "}", "is not JSON: Exceeds the limit"),
    (collection(feature(), crs=UTM), "has a crs member; RFC 7946 section 4 has none"),
]


@pytest.mark.parametrize(("raw", "message"), AS_A_WHOLE)
def test_a_file_that_cannot_be_read(tmp_path: Path, raw: Any, message: str) -> None:
    found, said = read(tmp_path, raw)
    assert found is None
    assert len(said) == 1
    assert said[0].startswith("g.geojson: " + message)


HERE = "feature 1 (tree-07): "
WRONG: list[tuple[Any, str]] = [
    (5, "feature 1: got 5; wanted a Feature"),
    ({"type": "Point"}, "feature 1: got a table; wanted a Feature"),
    (feature(id=None), "feature 1: has no id; every feature needs one"),
    (feature(id=7), 'feature 1: id is 7; wanted a text: write "7"'),
    (feature(id=True), "feature 1: id is true; wanted a text"),
    (feature(id=" "), 'feature 1: id is " "; wanted a text'),
    (feature(id="a\x1b"), r'feature 1: id is "a\x1b"; wanted a text'),
    (feature(properties={"id": "x"}), 'feature 1: has two ids, "tree-07" and "x": keep one'),
    (feature(properties=[1]), HERE + "properties is a list of 1; wanted an object"),
    (feature(geometry=None), HERE + 'geometry is null; wanted one of "Point"'),
    (feature("Pont"), HERE + 'geometry type is "Pont"; wanted "Point", "MultiPoint"'),
    (feature("Circle"), HERE + 'geometry type is "Circle"; wanted'),
    (feature([1]), HERE + "geometry type is a list of 1; wanted"),  # type: ignore[arg-type]
    (feature(crs=UTM), HERE + "has a crs member"),
    (feature("Point", None), HERE + "a position is null; wanted [longitude, latitude]"),
    (feature("Point", [11]), HERE + "a position is a list of 1; wanted [longitude, latitude]"),
    (feature("Point", ["11", 47]), HERE + 'a position holds "11"; wanted numbers'),
    (feature("Point", [True, 47]), HERE + "a position holds true; wanted numbers"),
    (feature("Point", [[11, 47]]), HERE + "a position is a list of 1; wanted"),
    (
        feature("Point", [47.0, 146.0]),
        HERE + "a position is longitude 47.0, latitude 146.0; latitude and longitude look swapped",
    ),
    (
        feature("Point", [622000.0, 5220000.0]),
        HERE + "a position is longitude 622000.0, latitude 5220000.0; these look like metres",
    ),
    (
        feature("Point", [200.0, 47.0]),
        HERE + "a position is longitude 200.0, latitude 47.0; wanted",
    ),
    (
        feature("LineString", [[11, 47]]),
        HERE + "a LineString has 1 position(s) in a row; wanted at",
    ),
    (feature("LineString", []), HERE + "coordinates of a LineString hold an empty list where"),
    (feature("LineString", [11, 47]), HERE + "a position is 11; wanted [longitude, latitude]"),
    (feature("Polygon", RING), HERE + "a position is 11.0; wanted"),
    (
        feature("Polygon", [RING[:3]]),
        HERE + "a Polygon has 3 position(s) in a row; wanted at least 4",
    ),
    (feature("Polygon", [[*RING[:3], [0, 0]]]), HERE + "a ring is open: repeat its first position"),
    (feature("MultiPolygon", [RING]), HERE + "a position is 11.0; wanted"),
]


@pytest.mark.parametrize(("member", "message"), WRONG)
def test_what_is_wrong_is_said(tmp_path: Path, member: Any, message: str) -> None:
    sound = feature(id="sound")
    found, said = read(tmp_path, collection(member, sound))
    assert len(said) == 1
    assert said[0].startswith("g.geojson: " + message)
    assert found is not None
    assert [f.id for f in found] == ["sound"]


def test_a_number_too_large_for_a_float_is_not_finite(tmp_path: Path) -> None:
    text = json.dumps(collection(feature("Point", [11, 12345]))).replace("12345", "1e999")
    _, said = read(tmp_path, text)
    assert said == [f"g.geojson: {HERE}a position holds inf; wanted finite numbers"]


def test_whole_characters_written_as_escapes(tmp_path: Path) -> None:
    text = json.dumps(collection(feature(properties={"name": "🌄\\ud83d"})))
    assert r"\ud83c\udf04\\ud83d" in text
    found, said = read(tmp_path, text)
    assert said == []
    assert found is not None
    assert found[0].properties == {"name": "🌄\\ud83d"}


def test_duplicate_ids_are_refused(tmp_path: Path) -> None:
    _, said = read(tmp_path, collection(feature(), feature()))
    assert said == [
        "g.geojson: feature 2 (tree-07): feature 1 has the same id: every id stands once"
    ]


def test_oversized(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(geojson, "LARGEST", 10)
    _, said = read(tmp_path, collection())
    assert said[0].startswith("g.geojson: got a file of 0.0 MB; wanted at most 0 MB")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=8,
)
MEMBERS = st.fixed_dictionaries(
    {"type": st.just("Feature")},
    optional={
        "id": JSON,
        "properties": JSON,
        "geometry": st.fixed_dictionaries(
            {"type": st.sampled_from([*geojson.DEPTH, "Circle"]) | JSON, "coordinates": JSON}
        )
        | JSON,
    },
)


@given(st.lists(MEMBERS | JSON, max_size=3))
def test_features_never_raise_and_all_are_read_or_spoken_of(members: list[Any]) -> None:
    problems = Problems()
    found = geojson._features(members, "g", problems)
    assert len(found) + len(problems) >= len(members)
    for problem in problems.found:
        assert str(problem).isprintable()
