from __future__ import annotations

import math
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pyogrio
import pytest
import shapely
import xmlschema

from shotplan.files.kml import NAMESPACE, Style, write_kml
from tests.files import schemas
from tests.files.made_placed import HOLE, LINE, RING, flown, folders, wood
from tests.output.hostile import EVERY

IN = {"k": NAMESPACE}
STYLES = {"track-go": Style("#2f86b7", 4.0), "wood": Style("#3c5340", 1.5, "#6f8a6c", 0.45)}


def placemark(data: bytes, name: str) -> ET.Element:
    found = [p for p in ET.fromstring(data).iterfind(".//k:Placemark", IN)
             if p.findtext("k:name", "", IN) == name]  # fmt: skip
    assert len(found) == 1
    return found[0]


def test_it_is_valid_against_the_ogc_schema() -> None:
    data = write_kml("plan", "what it is\nheights", folders(), STYLES)
    assert schemas.faults(schemas.kml(), ET.fromstring(data)) == []


def test_the_schema_does_refuse() -> None:
    data = write_kml("plan", "", folders(), STYLES)
    changes = (
        (b"absolute", b"onTheRoof"),
        (b"ffb7862f", b"#2f86b7"),
        (b"<extrude>0</extrude>", b"<extrude>0</extrude><height>3</height>"),
    )
    for good, bad in changes:
        assert good in data
        with pytest.raises(xmlschema.XMLSchemaValidationError):
            schemas.kml().validate(ET.fromstring(data.replace(good, bad, 1)))


def test_an_independent_reader_gets_the_same_numbers(tmp_path: Path) -> None:
    path = tmp_path / "a.kml"
    path.write_bytes(write_kml("plan", "", folders(), STYLES))
    assert pyogrio.list_layers(path)[:, 0].tolist() == ["shot A", "around"]
    meta, _, wkb, fields = pyogrio.raw.read(path, layer="shot A")
    column = dict(zip(meta["fields"], fields, strict=True))
    assert column["Name"].tolist() == ["A go", "A1", "rider"]
    line, point, rider = shapely.from_wkb(wkb)
    read = shapely.get_coordinates(line, include_z=True)
    np.testing.assert_allclose(read[:, :2], LINE, atol=1e-7)
    assert read[:, 2].tolist() == [90.0, 91.25, 92.5]
    assert (point.x, point.y, point.z) == (-8.1, 54.2, 90.0)
    assert not rider.has_z
    assert column["altitudeMode"].tolist() == ["absolute", "absolute", "clampToGround"]
    _, _, wkb, _ = pyogrio.raw.read(path, layer="around")
    area = shapely.from_wkb(wkb)[0]
    assert area.equals(shapely.Polygon(RING, [HOLE]))


def test_heights_say_which_they_are() -> None:
    data = write_kml("plan", "", folders(), STYLES)
    modes = {p.findtext("k:name", "", IN): p.findtext(".//k:altitudeMode", "", IN)
             for p in ET.fromstring(data).iterfind(".//k:Placemark", IN)}  # fmt: skip
    assert modes == {"A go": "absolute", "A1": "absolute", "rider": "clampToGround",
                     "wood": "relativeToGround", "thorn": "relativeToGround"}  # fmt: skip


@pytest.mark.parametrize("thing", [flown(z_m=(90.0, math.nan, 92.0)), wood(math.nan)])
def test_an_unknown_height_clamps_the_whole_thing(thing: object) -> None:
    data = write_kml("p", "", [folders()[0]._replace(things=(thing,))], STYLES)  # type: ignore[arg-type]
    root = ET.fromstring(data)
    assert root.findtext(".//k:altitudeMode", "", IN) == "clampToGround"
    assert "nan" not in root.findtext(".//k:coordinates", "", IN)
    assert root.findtext(".//k:coordinates", "", IN).split()[0] == "-8.1000000,54.2000000"


def test_colours_are_alpha_blue_green_red() -> None:
    root = ET.fromstring(write_kml("p", "", folders(), STYLES))
    style = root.find(".//k:Style[@id='wood']", IN)
    assert style is not None
    assert style.findtext("k:LineStyle/k:color", "", IN) == "ff40533c"
    assert style.findtext("k:PolyStyle/k:color", "", IN) == "736c8a6f"  # 0.45 of 255 is 0x73
    assert root.find(".//k:Style[@id='tree']", IN) is None


def test_hostile_text_is_shown_as_written() -> None:
    evil = f"{EVERY} $[name] ]]> \x00\ufffe\nnext"
    data = write_kml(evil, evil, folders(flown(evil, evil)), STYLES)
    assert schemas.faults(schemas.kml(), ET.fromstring(data)) == []
    assert b"<img" not in data
    assert b"<script" not in data
    told = evil.translate(dict.fromkeys((0, 0xFFFE, 0x1B, 7, 0x2028, 0x2029, 0x202E), "·"))
    assert placemark(data, told).findtext("k:name", "", IN) == told
    html = placemark(data, told).findtext("k:description", "", IN)
    assert "&lt;script&gt;" in html  # a viewer that reads it as HTML shows it, and runs nothing
    assert html.replace("<br/>", "").count("<") == 0
    assert "$[" not in html


def test_no_reference_leaves_the_file() -> None:
    root = ET.fromstring(write_kml("p", "", folders(), STYLES))
    hrefs = [e for e in root.iter() if e.tag.rpartition("}")[2] in {"href", "Icon", "NetworkLink"}]
    assert hrefs == []
    used = [e.text for e in root.iterfind(".//k:styleUrl", IN)]
    assert used == ["#track-go", "#wood"]


def test_values_for_machines() -> None:
    data = placemark(write_kml("p", "", folders(), STYLES), "A go")
    told = {d.get("name"): d.findtext("k:value", "", IN) for d in data.iterfind(".//k:Data", IN)}
    assert told == {"verdict": "go", "n": "3"}
