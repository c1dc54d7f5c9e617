from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import shapely

from shotplan.files.geojson_out import write_geojson
from tests.files.made_placed import HOLE, LINE, RING, flown, folders
from tests.output.hostile import EVERY


def written(**about: str) -> dict[str, Any]:
    said: dict[str, Any] = json.loads(write_geojson(folders(), about))
    return said


def test_it_is_a_feature_collection_with_its_own_members_beside() -> None:
    said = written(name="plan", note="heights")
    assert list(said) == ["type", "name", "note", "features"]
    # RFC 7946, section 7.1: members of the other kinds may not stand in a FeatureCollection
    assert not {"coordinates", "geometries", "geometry", "properties"} & set(said)
    assert all(set(f) == {"type", "geometry", "properties"} for f in said["features"])


def test_positions_have_two_numbers() -> None:
    shapes = [shapely.from_geojson(json.dumps(f["geometry"])) for f in written()["features"]]
    assert not any(s.has_z for s in shapes)
    assert all(s.is_valid for s in shapes)


def test_outer_rings_run_anticlockwise_and_holes_clockwise() -> None:
    for feature in written()["features"]:
        shape = shapely.from_geojson(json.dumps(feature["geometry"]))
        if isinstance(shape, shapely.Polygon):
            assert shape.exterior.is_ccw  # RFC 7946, section 3.1.6
            assert not any(hole.is_ccw for hole in shape.interiors)
    assert not shapely.LinearRing(RING).is_ccw  # the drawn one had to be turned


def test_an_independent_reader_gets_the_same_numbers(tmp_path: Path) -> None:
    path = tmp_path / "a.geojson"
    path.write_bytes(write_geojson(folders(), {"name": "plan"}))
    meta, _, wkb, fields = pyogrio.raw.read(path)
    column = dict(zip(meta["fields"], fields, strict=True))
    assert column["name"].tolist() == ["A go", "A1", "rider", "wood", "thorn"]
    shapes = shapely.from_wkb(wkb)
    np.testing.assert_allclose(shapely.get_coordinates(shapes[0]), LINE, atol=1e-7)
    assert shapes[3].equals(shapely.Polygon(RING, [HOLE]))
    assert meta["crs"] == "EPSG:4326"


def test_unknown_is_null() -> None:
    values = written()["features"][0]["properties"]
    assert values["height_m"] == [5.0, None, 7.123]
    assert values["limit"] is None
    assert (values["verdict"], values["n"], values["folder"]) == ("go", 3, "shot A")


def test_hostile_text_stays_text() -> None:
    evil = f'{EVERY} "}}]}} \\ \x00'
    said = json.loads(write_geojson(folders(flown(evil, evil)), {"note": evil}))
    told = evil.translate(dict.fromkeys((0, 0x1B, 7, 0x2028, 0x2029, 0x202E), "·"))
    assert said["note"] == told
    assert said["features"][3]["properties"]["words"] == told
