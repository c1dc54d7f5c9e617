"""Extracts of OpenStreetMap: made ones of a few lines, and real ones against another reader."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from shotplan.errors import Problems
from shotplan.intake.found import Found
from shotplan.intake.osm.read import CREDIT, read_osm
from shotplan.intake.osm.tags import meaning, size_m
from shotplan.model.arrays import Array
from shotplan.outing import read
from shotplan.plan import make
from tests.conftest import real_folder
from tests.worlds import FRAME, lonlat, write_site

RIDE = np.array([lonlat(0.0, -100.0), lonlat(0.0, 100.0)])
LIFTS = np.array([(9.6042, 47.1052), (9.604, 47.1)])
STREETS = np.array([(24.944, 60.172), (24.945, 60.173)])


def osm(folder: Path, nodes: dict[int, tuple[float, float]], things: str, head: str = "") -> Path:
    """An extract of nodes in metres east and north of the middle, and ways as text."""
    text = "".join(
        f'<node id="{i}" version="1" lon="{lonlat(*p)[0]:.8f}" lat="{lonlat(*p)[1]:.8f}" '
        'timestamp="2025-04-03T10:00:00Z"/>'
        for i, p in nodes.items()
    )
    path = folder / "made.osm"
    path.write_text(f'<osm version="0.6" generator="t">{head}{text}{things}</osm>', "utf-8")
    return path


def way(id_: int, refs: list[int], **tags: str) -> str:
    inner = "".join(f'<nd ref="{r}"/>' for r in refs)
    keys = "".join(f'<tag k="{k.replace("__", ":")}" v="{v}"/>' for k, v in tags.items())
    return f'<way id="{id_}" version="1" timestamp="2025-04-03T10:00:00Z">{inner}{keys}</way>'


def found(path: Path, ride: Array = RIDE, within_m: float = 300.0) -> Found:
    problems = Problems()
    made = read_osm(path, ride, problems, within_m=within_m)
    assert problems.found == []
    assert made is not None
    return made


def by_id(made: Found) -> dict[str, Any]:
    return {f["properties"]["id"]: f for f in made.features}


def refusal(path: Path, ride: Array = RIDE) -> str:
    problems = Problems()
    assert read_osm(path, ride, problems) is None
    (problem,) = problems.found
    return str(problem)


NODES = {
    1: (-250.0, 0.0), 2: (250.0, 0.0), 3: (900.0, 0.0), 4: (20.0, 20.0), 5: (30.0, 20.0),
    6: (30.0, 30.0), 7: (2000.0, 0.0), 8: (40.0, -50.0), 9: (60.0, -50.0),
}  # fmt: skip


def test_a_line_keeps_whole_spans_and_its_height_stays_unknown(tmp_path: Path) -> None:
    made = by_id(found(osm(tmp_path, NODES, way(1, [1, 2, 3, 7], power="line", voltage="220000"))))
    wire = made["osm-wire-w1"]
    assert wire["properties"]["kind"] == "transmission"
    assert "height_m" not in wire["properties"]
    xy = FRAME.xy_m(np.array(wire["geometry"]["coordinates"]))
    np.testing.assert_allclose(xy[:, 0], [-250.0, 250.0, 900.0], atol=0.05)  # not to 2000 m


def test_what_a_way_lacks_is_said_and_the_rest_drawn(tmp_path: Path) -> None:
    made = found(osm(tmp_path, NODES, way(5, [4, 5, 6, 99, 4], building="yes", height="40 ft")))
    says = by_id(made)["osm-building-w5"]["properties"]
    assert says["height_m"] == pytest.approx(40 * 0.3048, abs=0.01)
    assert any("not whole" in s and "w5" in s for s in made.said)


def test_date_credit_and_nothing_surveyed(tmp_path: Path) -> None:
    made = found(osm(tmp_path, NODES, way(8, [8, 9], highway="path")))
    assert (made.credit, made.on) == (CREDIT, date(2025, 4, 3))
    assert {f["properties"]["role"] for f in made.features} == {"people"}


def test_a_hole_of_a_wood_stays_open_and_a_lost_one_is_filled(tmp_path: Path) -> None:
    ring = {1: (-50.0, -50.0), 2: (50.0, -50.0), 3: (50.0, 50.0), 4: (-50.0, 50.0)}
    hole = {5: (-10.0, -10.0), 6: (10.0, -10.0), 7: (10.0, 10.0), 8: (-10.0, 10.0)}
    ways = way(1, [1, 2, 3]) + way(2, [3, 4, 1])
    relation = (
        '<relation id="9" version="1"><member type="way" ref="1" role="outer"/>'
        '<member type="way" ref="2" role="outer"/><member type="way" ref="3" role="inner"/>'
        '<tag k="type" v="multipolygon"/><tag k="natural" v="wood"/></relation>'
    )
    for more, area_m2 in ((way(3, [5, 6, 7, 8, 5]), 9600.0), ("", 10000.0)):
        made = by_id(found(osm(tmp_path, {**ring, **hole}, ways + more + relation)))
        shape = shapely.geometry.shape(made["osm-wood-r9"]["geometry"])
        assert shapely.transform(shape, FRAME.xy_m).area == pytest.approx(area_m2, rel=1e-3)


def test_aerodromes_and_cliffs_are_remarks(tmp_path: Path) -> None:
    things = way(1, [3, 7], aeroway="runway", name="&lt;b&gt;") + way(2, [8, 9], natural="cliff")
    made = found(osm(tmp_path, NODES, things))
    assert made.features == ()
    assert any("runway (<b>), 900 m east" in s for s in made.said)
    assert any("1 cliffs, the nearest 40 m" in s for s in made.said)


@pytest.mark.parametrize(
    ("text", "metres"),
    [("12", 12.0), ("12,5 m", 12.5), ("40'", 12.192), ("6'6\"", 1.9812), ("tall", None),
     ("0", None), ("-3", None), ("1e9", None), (None, None)],
)  # fmt: skip
def test_sizes(text: str | None, metres: float | None) -> None:
    assert size_m(text) == (None if metres is None else pytest.approx(metres))


@pytest.mark.parametrize(
    ("tags", "kind", "role"),
    [({"power": "minor_line"}, "line", "wire"),
     ({"power": "line", "location": "underground"}, "line", None),
     ({"aerialway": "t-bar"}, "line", "wire"), ({"power": "tower"}, "point", "pole"),
     ({"natural": "tree_row"}, "line", "wood"), ({"barrier": "hedge"}, "line", "wood"),
     ({"barrier": "wall"}, "line", "building"), ({"building": "no"}, "area", None),
     ({"leisure": "nature_reserve"}, "area", "keep-out"), ({"landuse": "forest"}, "area", "wood"),
     ({"natural": "water"}, "area", "water"), ({"leisure": "playground"}, "area", "people"),
     ({"highway": "proposed"}, "line", None)],
)  # fmt: skip
def test_roles(tags: dict[str, str], kind: str, role: str | None) -> None:
    made = meaning(tags, kind)
    assert (made.role if made else None) == role


def test_bad_files_are_refused(tmp_path: Path) -> None:
    text = tmp_path / "x.osm.pbf"
    text.write_text("<html>not found</html>")
    assert "get it again" in refusal(text)
    assert "no such file" in refusal(tmp_path / "none.osm")
    (tmp_path / "x.shp").write_text("x")
    assert ".osm.pbf" in refusal(tmp_path / "x.shp")
    away = refusal(osm(tmp_path, NODES, way(8, [8, 9], highway="path")), STREETS)
    assert "take the extract of" in away
    assert "24.94" in away


def test_the_site_made_of_it_is_read_and_planned(tmp_path: Path) -> None:
    things = way(1, [1, 2, 3], power="line") + way(5, [4, 5, 6, 4], building="yes")
    made = found(osm(tmp_path, NODES, things + way(8, [8, 9], highway="path")))
    folder = write_site(tmp_path / "site", features=made.features)
    plan = make(read(folder), rides=1)
    assert str(plan.verdict) in ("no-go", "unknown")  # a wire of unknown height over the ride


def gdal(name: str, layer: str, ride: Array, within_m: float, where: str) -> int:
    """How many things GDAL finds within reach, counted in another projection."""
    pyogrio = pytest.importorskip("pyogrio")
    from pyproj import Transformer

    _, _, shapes, _ = pyogrio.raw.read(real_folder() / "osm" / name, layer=layer, where=where)
    zone = 32600 + int(ride[0, 0] // 6) + 31
    turn: Any = Transformer.from_crs(4326, zone, always_xy=True).transform
    line = shapely.transform(shapely.LineString(ride), turn, interleaved=False)
    turned = shapely.transform(shapely.from_wkb(shapes), turn, interleaved=False)
    return int((shapely.distance(turned, line) < within_m * 1.01).sum())


@pytest.mark.real
def test_real_lifts_and_woods_as_another_reader_counts_them() -> None:
    name = "liechtenstein-2013-08-03.osm.pbf"
    made = found(real_folder() / "osm" / name, LIFTS)
    ids = list(by_id(made))
    assert made.on == date(2013, 8, 3)
    lifts = len({i.split("-")[2] for i in ids if i.startswith("osm-wire")})
    lifts_with_ropes = "aerialway IS NOT NULL AND aerialway <> 'magic_carpet'"
    assert lifts == gdal(name, "lines", LIFTS, 300.0, lifts_with_ropes) > 0
    houses = sum(i.startswith("osm-building") for i in ids)
    assert houses == gdal(name, "multipolygons", LIFTS, 300.0, "building IS NOT NULL") > 0


@pytest.mark.real
def test_real_trees_as_another_reader_counts_them() -> None:
    ids = list(by_id(found(real_folder() / "osm" / "Helsinki.osm.pbf", STREETS, 200.0)))
    wanted = 'other_tags LIKE \'%"natural"=>"tree"%\''
    trees = sum(i.startswith("osm-tree") for i in ids)
    assert trees == gdal("Helsinki.osm.pbf", "points", STREETS, 200.0, wanted) > 0


@pytest.mark.real
def test_an_extract_of_elsewhere_or_cut_short_is_refused(tmp_path: Path) -> None:
    real = real_folder() / "osm" / "Helsinki.osm.pbf"
    assert "latitude 60.16 to 60.18" in refusal(real, LIFTS)
    short = tmp_path / "short.osm.pbf"
    short.write_bytes(real.read_bytes()[:300_000])
    assert "cut short" in refusal(short, STREETS)
