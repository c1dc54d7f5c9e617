from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pyogrio
import pytest
import shapely
import xmlschema

from shotplan.errors import Problems
from shotplan.files.gpx import read_gpx
from shotplan.files.gpx_out import ELE, NO_ELE, write_gpx
from shotplan.files.placed import Folder
from tests.files import schemas
from tests.files.made_placed import HOLE, LINE, START, flown, folders
from tests.output.hostile import EVERY

IN = {"g": "http://www.topografix.com/GPX/1/1"}


def written(*more: Folder) -> bytes:
    return write_gpx("plan", "what", (*folders(), *more), creator="maker 1", at=START)


def test_it_is_valid_against_the_schema() -> None:
    assert schemas.faults(schemas.gpx(), ET.fromstring(written())) == []


def test_the_schema_does_refuse() -> None:
    data = written()
    for good, bad in ((b'lat="54.2"', b'lat="154.2"'), (b"<trkseg>", b"<seg/><trkseg>"),
                      (b"<ele>90.0</ele>", b"<ele>high</ele>")):  # fmt: skip
        assert good in data
        with pytest.raises(xmlschema.XMLSchemaValidationError):
            schemas.gpx().validate(ET.fromstring(data.replace(good, bad, 1)))


def test_an_independent_reader_gets_the_same_numbers(tmp_path: Path) -> None:
    path = tmp_path / "a.gpx"
    path.write_bytes(written())
    meta, _, wkb, fields = pyogrio.raw.read(path, layer="track_points")
    column = dict(zip(meta["fields"], fields, strict=True))
    first = column["track_fid"] == 0
    np.testing.assert_allclose(shapely.get_coordinates(shapely.from_wkb(wkb[first])), LINE,
                               atol=1e-7)  # fmt: skip
    assert column["ele"][first].tolist() == [90.0, 91.25, 92.5]
    # 20:10 in a zone one hour before UTC
    assert [str(t) for t in column["time"][first]] == [
        "2026-06-20T19:10:00.000", "2026-06-20T19:10:00.500", "2026-06-20T19:10:01.000"
    ]  # fmt: skip
    meta, _, wkb, fields = pyogrio.raw.read(path, layer="waypoints")
    column = dict(zip(meta["fields"], fields, strict=True))
    assert column["name"].tolist() == ["A1", "thorn"]
    assert column["type"].tolist() == ["pin-go", "tree"]
    tree = shapely.from_wkb(wkb[1])
    np.testing.assert_allclose((tree.x, tree.y), HOLE.mean(axis=0), atol=1e-7)


def test_our_own_reader_takes_it(tmp_path: Path) -> None:
    (tmp_path / "a.gpx").write_bytes(written())
    problems = Problems()
    fixes = read_gpx(tmp_path / "a.gpx", "a.gpx", problems)
    assert problems.found == []
    assert fixes is not None
    assert fixes.elevation_m[:3].tolist() == [90.0, 91.25, 92.5]


def test_ele_is_an_elevation_and_says_so() -> None:
    root = ET.fromstring(written())
    told = {t.findtext("g:name", "", IN): t for t in root.iterfind("g:trk", IN)}
    assert list(told) == ["go", "rider", "wood"]
    assert told["go"].findtext("g:cmt", "", IN) == ELE
    assert [e.text for e in told["rider"].iterfind(".//g:ele", IN)] == ["84.0", "85.0"]
    # a wood's height above the ground is no <ele>
    assert told["wood"].findtext("g:cmt", "", IN) == NO_ELE
    assert told["wood"].find(".//g:ele", IN) is None
    tree = root.findall("g:wpt", IN)[1]
    assert (tree.findtext("g:cmt", "", IN), tree.find("g:ele", IN)) == (NO_ELE, None)


def test_lines_of_one_track_are_its_segments_and_areas_are_closed() -> None:
    more = Folder("B", "", (flown("B go", "later"), flown("C go")._replace(track="go, C")))
    root = ET.fromstring(written(more))
    tracks = {t.findtext("g:name", "", IN): t for t in root.iterfind("g:trk", IN)}
    assert [len(t.findall("g:trkseg", IN)) for t in tracks.values()] == [2, 1, 2, 1]
    assert tracks["go"].findtext("g:desc", "", IN) == "as flown\nlater"
    ring = [p.attrib for p in tracks["wood"].findall("g:trkseg", IN)[0]]
    assert len(ring) == 5
    assert ring[0] == ring[-1]
    assert root.find("g:rte", IN) is None


def test_hostile_text_stays_text() -> None:
    evil = f"{EVERY} ]]> \x00\ufffe"
    data = write_gpx(evil, evil, (Folder(evil, evil, (flown(evil, evil)._replace(track=evil),)),),
                     creator=evil, at=START)  # fmt: skip
    root = ET.fromstring(data)
    assert schemas.faults(schemas.gpx(), root) == []
    assert b"<img" not in data
    assert b"<script" not in data
    told = evil.translate(dict.fromkeys((0, 0xFFFE, 0x1B, 7, 0x2028, 0x2029, 0x202E), "·"))
    assert root.findtext("g:trk/g:name", "", IN) == told
    assert not set("<>&\"'") & set(root.get("creator", ""))
