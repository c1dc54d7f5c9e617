"""Laser scans: every return stands in some body, and what is not known stays unknown."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
import shapely
from pyproj import Transformer
from scipy.spatial import cKDTree
from shapely.geometry import shape

from shotplan import plan as planning
from shotplan.errors import Problems
from shotplan.intake.found import Found
from shotplan.intake.lidar.read import Settings, read_lidar
from shotplan.model.frame import Frame
from shotplan.outing import read
from tests import scans
from tests.scans import GROUND, HIGH_LEAVES, MADE_CRS, NOISE, Array, made_ride, made_xyz, write_las

TODAY = date(2026, 12, 1)
RIDE = made_ride((5.0, 30.0), (55.0, 30.0))
FEET_M, SURVEY_FEET_M = 0.3048, 1200.0 / 3937.0
SCANNED_S = 1_400_000_000.0  # GPS seconds: 2024-05-17
TREES = [(15.0, 15.0, 3.0, 9.0), (30.0, 45.0, 4.0, 14.0), (47.0, 40.0, 2.0, 6.0)]
ROOF = (36.0, 8.0, 52.0, 18.0, 5.0)


def found_in(paths: list[Path], ride: Array = RIDE, crs: str = "", **told: float) -> Found:
    """What is read, without a problem."""
    problems = Problems()
    settings = Settings()._replace(**told)  # type: ignore[arg-type]
    found = read_lidar(paths, ride, problems, crs=crs, settings=settings, today=TODAY)
    assert problems.found == []
    assert found is not None
    return found


def refused(paths: list[Path], ride: Array = RIDE, crs: str = "") -> str:
    """Why nothing is read."""
    problems = Problems()
    assert read_lidar(paths, ride, problems, crs=crs, today=TODAY) is None
    assert len(problems) > 0
    return " | ".join(str(p) for p in problems.found)


def of_role(found: Found, *roles: str) -> list[dict[str, Any]]:
    return [dict(f) for f in found.features if f["properties"]["role"] in roles]


def metres(feature: dict[str, Any]) -> Any:
    """A made scan's feature in metres from its corner."""
    to = Transformer.from_crs("EPSG:4326", MADE_CRS, always_xy=True)
    return shapely.transform(
        shape(feature["geometry"]),
        lambda p: np.column_stack(to.transform(p[:, 0], p[:, 1])) - scans.CORNER,
    )


# --- real scans -----------------------------------------------------------------------------------


class Real(NamedTuple):
    pattern: str
    crs: str = ""
    upright_m: float = 1.0
    within_m: float = 60.0


REAL = {
    "town": Real("test_data_77*.laz", within_m=15.0),
    "forest": Real("Topography.laz", within_m=35.0),
    "feet": Real("autzen_trim.laz", "heights in feet", FEET_M),
    "survey feet": Real("file_with_both_wkt_and_geotiff_vlrs.las", "", SURVEY_FEET_M),
}


@pytest.mark.real
@pytest.mark.parametrize("name", list(REAL))
def test_every_return_of_a_real_scan_stands_in_some_body(real: Path, name: str) -> None:
    which = REAL[name]
    paths = sorted((real / "lidar").glob(which.pattern))
    scan = scans.read_scan(paths, upright_m=which.upright_m)
    ride = scan.diagonal()
    found = found_in(paths, ride, which.crs, within_m=which.within_m)
    outside = scans.left_out(found, scan, ride, which.within_m)
    print(name, outside, len(found.features))
    assert outside.of > 1000
    assert outside.share <= 0.01
    assert outside.farthest_m <= 2.0
    assert "0.0 % of the returns" in " ".join(found.said)


@pytest.mark.real
def test_returns_stand_in_what_the_package_makes_of_a_sloping_forest(
    real: Path, tmp_path: Path
) -> None:
    """A wood's top follows the ground, cell by cell: by the package's own distance to what is
    drawn, without any growth, nothing sticks out; and such a site can be planned."""
    scan = scans.read_scan([real / "lidar" / "Topography.laz"])
    ride = scan.lonlat(np.array([(273440.0, 5274440.0), (273470.0, 5274460.0)]))
    found = found_in([real / "lidar" / "Topography.laz"], ride, within_m=25.0)
    assert {"tree", "wood"} <= {f["properties"]["role"] for f in found.features}
    hold = {"name": "high", "style": "side-track", "side": "left", "distance_m": 5.0,
            "height_m": 30.0}  # fmt: skip
    site = {"rules": "ca-basic", "surroundings": None, "shot": [hold]}
    walked = {**of_role(found, "surveyed")[0], "properties": {"id": "walked", "role": "surveyed"}}
    folder = scans.write_scan_site(
        tmp_path, found, ride, around_m=22.0, site=site, features=[walked]
    )
    outing = read(folder)
    its = outing.site
    rest = scan.xyz[(scan.kind != GROUND) & (scan.kind != scans.WATER)]
    xyz = np.column_stack([its.frame.xy_m(scan.lonlat(rest[:, :2])), rest[:, 2]])
    line = shapely.LineString(its.frame.xy_m(ride)).buffer(24.0)
    over = xyz[:, 2] - its.terrain.ground_m(xyz[:, :2])
    xyz = xyz[shapely.contains_xy(line, *xyz[:, :2].T) & (over > 0.5)]
    away = its.obstacles.rest_drawn.nearest(xyz).distance_m
    doubt = its.obstacles.rest_drawn.doubt_m(xyz)
    assert len(xyz) > 1000
    assert np.ptp(its.terrain.ground_m(xyz[:, :2])) > 4.0, "no slope: it proves nothing"
    assert float(np.minimum(away, doubt).max()) < 0.02
    assert float((away > 0.0).mean()) < 0.05, "nearly all of it has a height"
    (shot,) = planning.make(outing, rides=1)
    clearance = shot.finding("clearance")
    assert clearance.verdict.word == "go"
    assert clearance.reason.startswith("lidar-")


@pytest.mark.real
def test_tops_are_those_of_a_count_by_hand(real: Path) -> None:
    """Popescu and Wynne's window, asked cell by cell of a tree of neighbours."""
    from scipy.ndimage import gaussian_filter

    from shotplan.intake.lidar import crowns

    scan = scans.read_scan([real / "lidar" / "Megaplot.laz"])  # its heights are over the ground
    at = np.floor(scan.xyz[:, :2] - scan.xyz[:, :2].min(axis=0)).astype(int)
    height = np.zeros(at.max(axis=0) + 1)
    np.maximum.at(height, tuple(at.T), scan.xyz[:, 2])
    found = np.argwhere(crowns.tops(height, 1.0, 3.0))
    smooth = gaussian_filter(height, 0.7)
    cells = np.argwhere(height >= 3.0)
    every = np.argwhere(np.ones(height.shape, dtype=bool))
    reach = 0.5 * (2.51503 + 0.00901 * height[tuple(cells.T)] ** 2)
    near = cKDTree(every).query_ball_point(cells, np.maximum(reach, np.sqrt(2.0)))
    tops = [
        tuple(cell)
        for cell, others in zip(cells, near, strict=True)
        if smooth[tuple(cell)] >= smooth[tuple(every[others].T)].max()
    ]
    print(len(found), len(tops))
    assert len(tops) > 300
    assert {tuple(p) for p in found} == set(tops)


@pytest.mark.real
def test_heights_over_the_ground_are_no_elevations(real: Path) -> None:
    path = real / "lidar" / "Megaplot.laz"
    said = refused([path], scans.read_scan([path]).diagonal())
    assert "all its ground at 0" in said


@pytest.mark.real
def test_feet_that_do_not_say_their_heights_are_asked(real: Path) -> None:
    path = real / "lidar" / "autzen_trim.laz"
    ride = scans.read_scan([path]).diagonal()
    assert '--lidar-crs "heights in feet"' in refused([path], ride)
    high = [
        max(f["properties"]["height_m"] for f in of_role(found, "tree", "wood"))
        for found in (found_in([path], ride, f"heights in {u}", within_m=20.0)
                      for u in ("feet", "metres"))
    ]  # fmt: skip
    assert high[0] == pytest.approx(FEET_M * high[1], rel=0.02)


# --- made scans -----------------------------------------------------------------------------------


def slope(x: Array, y: Array) -> Array:
    return np.asarray(100.0 + 0.2 * x + 0.1 * y)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three trees, a roof, a mast, a hedge on a slope; noise above and below it."""
    xyz, kind = made_xyz(per_m2=14.0, ground=slope, trees=TREES, roofs=[ROOF])
    rng = np.random.default_rng(5)
    mast = np.column_stack([np.full(30, 8.0), np.full(30, 40.0), np.linspace(1.0, 11.0, 30)])
    hedge = np.column_stack([rng.uniform(10.0, 26.0, 400), rng.uniform(33.0, 34.2, 400),
                             rng.uniform(0.2, 1.8, 400)])  # fmt: skip
    more = np.concatenate([mast, hedge])
    more[:, 2] += slope(more[:, 0], more[:, 1])
    noise = np.array([(20.0, 20.0, 400.0), (25.0, 25.0, 20.0)])
    every = np.concatenate([xyz, np.concatenate([more, noise]) + np.array([*scans.CORNER, 0.0])])
    kinds = np.concatenate([kind, np.full(30, 64), np.full(400, 1), [NOISE, scans.HIGH_NOISE]])
    return write_las(tmp_path_factory.mktemp("made") / "made.laz", every, kinds, gps_s=SCANNED_S)


@pytest.fixture(scope="module")
def read_made(made: Path) -> Found:
    return found_in([made])


def test_what_was_made_is_found(read_made: Found) -> None:
    trees = [f for f in of_role(read_made, "tree") if f["properties"]["height_m"] > 4.0]
    assert len(trees) == len(TREES)
    for east, north, radius, height in TREES:
        tree = min(trees, key=lambda t: metres(t).distance(shapely.Point(east, north)))
        assert metres(tree).distance(shapely.Point(east, north)) < 0.7
        assert tree["properties"]["height_m"] == pytest.approx(height, abs=0.6)
        assert 0.75 * radius < tree["properties"]["radius_m"] < radius + 0.7
        assert tree["properties"]["base_m"] > 2.0, "its leaves begin at 0.6 of its height"
    (roof,) = of_role(read_made, "building")
    drawn, true = metres(roof), shapely.box(*ROOF[:4])
    assert true.buffer(-0.3).within(drawn)
    assert drawn.within(true.buffer(1.2))
    assert roof["properties"]["height_m"] == pytest.approx(ROOF[4], abs=0.5)
    (mast,) = of_role(read_made, "pole")
    assert metres(mast).distance(shapely.Point(8.0, 40.0)) < 0.3
    assert mast["properties"]["height_m"] == pytest.approx(11.0, abs=0.3)
    hedge = shapely.union_all([metres(f) for f in of_role(read_made, "wood")])
    assert shapely.box(10.5, 33.2, 25.5, 34.0).within(hedge)
    assert hedge.area < 3.0 * 16.0 * 1.2


def test_made_returns_stand_in_their_bodies(read_made: Found, made: Path) -> None:
    outside = scans.left_out(read_made, scans.read_scan([made]), RIDE, 60.0)
    assert outside.of > 1000
    assert outside.share < 0.001


def test_it_says_what_it_is(read_made: Found) -> None:
    said = " | ".join(read_made.said)
    assert read_made.on == date(2024, 5, 17)
    assert "returns on a square metre; the ground in cells of 0.5 m" in said
    assert "scanned on 2024-05-17, 3 years ago" in said
    assert "lidar sees no wires and few trunks" in said
    assert read_made.keys == {"terrain": "lidar-terrain.tif", "terrain_error_m": 0.2}
    for feature in of_role(read_made, "tree", "building", "wood", "pole"):
        says = feature["properties"]
        assert says["error_m"] == 0.3
        assert says["height_error_m"] == max(1.0, round(0.05 * says["height_m"], 2))
        assert says["on"] == "2024-05-17"
    for area in of_role(read_made, "surveyed"):
        assert area["properties"]["looked_for"] == ["trees", "buildings"]


def test_the_ground_is_that_of_the_returns(read_made: Found, made: Path) -> None:
    """Means of the slope, and nothing farther than 5 m from a return of it: under the roof it is
    unknown."""
    z, affine, _ = scans.terrain_of(read_made)
    scan = scans.read_scan([made])
    bare = cKDTree(scan.xyz[scan.kind == GROUND, :2])
    row, col = np.mgrid[: z.shape[0], : z.shape[1]]
    x, y = affine * (col + 0.5, row + 0.5)
    away, _ = bare.query(np.stack([x, y], axis=-1))
    known = np.isfinite(z)
    assert affine.a == pytest.approx(0.5, abs=0.001)
    assert away[known].max() <= 5.0
    assert (~known & (x > scans.CORNER[0] + 42) & (x < scans.CORNER[0] + 46)
            & (y > scans.CORNER[1] + 12.9) & (y < scans.CORNER[1] + 13.1)).any()  # fmt: skip
    off = z[known] - slope(x[known] - scans.CORNER[0], y[known] - scans.CORNER[1])
    assert np.abs(off).max() < 0.15


def test_pieces_make_no_difference(read_made: Found, made: Path) -> None:
    pieces = found_in([made], piece=1000)
    assert pieces.features == read_made.features
    assert pieces.files == read_made.files
    assert pieces.said == read_made.said


def test_tiles_make_no_difference(read_made: Found, made: Path, tmp_path: Path) -> None:
    """Of two tiles, in LAS 1.2 with keys and in LAZ 1.4, the same is found."""
    scan = scans.read_scan([made])
    west = scan.xyz[:, 0] < scans.CORNER[0] + 30.0
    tiles = [
        write_las(tmp_path / "west.las", scan.xyz[west], scan.kind[west] % 32, version="1.2",
                  keys=True),
        write_las(tmp_path / "east.laz", scan.xyz[~west], scan.kind[~west]),
    ]  # fmt: skip
    found = found_in(tiles)
    assert [f["geometry"] for f in of_role(found, "tree")] == [
        f["geometry"] for f in of_role(read_made, "tree")
    ]
    assert found.on is None
    assert "when it was scanned is not said" in " ".join(found.said)


@pytest.mark.parametrize("version", ["1.2", "1.3", "1.4"])
@pytest.mark.parametrize("suffix", ["las", "laz"])
def test_every_version_is_read(tmp_path: Path, version: str, suffix: str) -> None:
    xyz, kind = made_xyz(side_m=30.0, trees=[(15.0, 10.0, 3.0, 9.0)])
    path = write_las(tmp_path / f"tile.{suffix}", xyz, kind, version=version)
    found = found_in([path], made_ride((5.0, 15.0), (25.0, 15.0)))
    assert any(f["properties"]["height_m"] > 8.0 for f in of_role(found, "tree", "wood"))
    assert "in cells of 1 m" in found.said[0]


def test_a_strip_without_returns_is_not_surveyed(tmp_path: Path) -> None:
    """It looks exactly like a clearing."""
    xyz, kind = made_xyz(without=lambda x, y: (x > 25.0) & (x < 32.0))
    found = found_in([write_las(tmp_path / "strip.laz", xyz, kind)])
    seen = shapely.union_all([metres(f) for f in of_role(found, "surveyed")])
    assert not seen.intersects(shapely.box(26.0, 1.0, 31.0, 59.0))
    assert seen.contains(shapely.box(3.0, 3.0, 23.5, 57.0))
    assert seen.contains(shapely.box(33.5, 3.0, 57.0, 57.0))
    assert "has no return at all: not surveyed" in " ".join(found.said)


def test_only_what_is_near_the_ride(tmp_path: Path) -> None:
    far, near = (50.0, 52.0, 3.0, 9.0), (12.0, 14.0, 3.0, 9.0)
    xyz, kind = made_xyz(trees=[far, near])
    found = found_in(
        [write_las(tmp_path / "t.laz", xyz, kind)],
        made_ride((5.0, 5.0), (25.0, 5.0)),
        within_m=15.0,
    )
    tall = [f for f in of_role(found, "tree") if f["properties"]["height_m"] > 4.0]
    assert [round(metres(t).x) for t in tall] == [12]


def test_a_closed_forest_is_a_few_woods(tmp_path: Path) -> None:
    grid = np.arange(2.0, 60.0, 3.0)
    trees = [(x, y, 2.5, 12.0 + 2.0 * np.sin(x + y)) for x in grid for y in grid]
    xyz, kind = made_xyz(trees=trees, ground=slope)
    xyz = np.concatenate([xyz, xyz[kind == HIGH_LEAVES] * (1, 1, 0) + (0, 0, 1e-3)])
    lower = slope(*(xyz[len(kind) :, :2] - scans.CORNER).T)
    xyz[len(kind) :, 2] = lower
    kinds = np.append(kind, np.full(len(lower), GROUND))
    path = write_las(tmp_path / "wood.laz", xyz, kinds)
    found = found_in([path])
    assert len(of_role(found, "wood")) < 12
    assert len(of_role(found, "tree", "pole")) < 40
    woods = shapely.union_all([metres(f) for f in of_role(found, "wood")])
    assert woods.area > 0.85 * 60.0**2
    assert scans.left_out(found, scans.read_scan([path]), RIDE, 60.0).share < 0.001


# --- bad input ------------------------------------------------------------------------------------


def test_what_cannot_be_read_is_said(tmp_path: Path, made: Path) -> None:
    short, text, none = tmp_path / "short.laz", tmp_path / "text.laz", tmp_path / "no.laz"
    whole = made.read_bytes()
    short.write_bytes(whole[: len(whole) // 2])
    text.write_text("easting northing height\n", "utf-8")
    said = refused([text, none])
    assert "text.laz: is no laser scan" in said
    assert "no.laz: there is no such file" in said
    assert "cut short" in refused([short])
    for cut in (30, 230, 400, len(whole) - 10):
        short.write_bytes(whole[:cut])
        assert "short.laz" in refused([short])


def test_a_damaged_file_never_ends_in_a_traceback(tmp_path: Path, made: Path) -> None:
    whole, rng = made.read_bytes(), np.random.default_rng(2)
    path = tmp_path / "bent.laz"
    for at in [*rng.integers(24, 400, 12), *rng.integers(400, len(whole), 6)]:
        bent = bytearray(whole)
        bent[at : at + 8] = rng.bytes(8)
        path.write_bytes(bent)
        problems = Problems()
        found = read_lidar([path], RIDE, problems, today=TODAY)
        assert (found is None) == (len(problems) > 0)


def test_where_it_lies_must_be_known(tmp_path: Path) -> None:
    xyz, kind = made_xyz(side_m=20.0)
    ride = made_ride((5.0, 10.0), (15.0, 10.0))
    bare = write_las(tmp_path / "bare.laz", xyz, kind, crs=None)
    assert "no coordinate system" in refused([bare], ride)
    assert "--lidar-crs EPSG:25832" in refused([bare], ride)
    assert found_in([bare], ride, MADE_CRS).keys
    assert "wanted a coordinate system" in refused([bare], ride, "EPSG:nonsense")
    assert "heights in" in refused([bare], ride, f"{MADE_CRS}, heights in cubits")
    own = write_las(tmp_path / "own.laz", xyz, kind)
    other = write_las(tmp_path / "other.laz", xyz, kind, crs="EPSG:32632")
    assert "give tiles of one coordinate system" in refused([own, other], ride)
    assert "km from the ride's" in refused([other], ride)
    assert "km from the ride's" in refused([own], ride + 1.0)


def test_two_statements_that_contradict_each_other(tmp_path: Path) -> None:
    import laspy
    from pyproj import CRS

    xyz, kind = made_xyz(side_m=20.0)
    path = write_las(tmp_path / "two.las", xyz, kind, version="1.4", keys=True)
    las = laspy.read(path)
    kept = [v for v in las.vlrs if type(v).__name__ != "WktCoordinateSystemVlr"]
    kept.append(laspy.vlrs.known.WktCoordinateSystemVlr(CRS("EPSG:32632").to_wkt("WKT1_GDAL")))
    if not any(type(v).__name__ == "GeoKeyDirectoryVlr" for v in kept):
        header = laspy.LasHeader(version="1.2", point_format=1)
        header.add_crs(CRS(MADE_CRS))
        kept += list(header.vlrs)
    las.header.vlrs = laspy.vlrs.vlrlist.VLRList(kept)
    las.write(str(path))
    said = refused([path], made_ride((5.0, 10.0), (15.0, 10.0)))
    assert "says two coordinate systems" in said


def test_without_a_ground_nothing_stands_on_it(tmp_path: Path) -> None:
    xyz, kind = made_xyz(side_m=20.0)
    path = write_las(tmp_path / "plain.laz", xyz, np.ones_like(kind))
    ride = made_ride((5.0, 10.0), (15.0, 10.0))
    assert "no return that is classified as ground" in refused([path], ride)


def test_a_plane_is_measured_in_true_metres() -> None:
    """Web Mercator's metres are shorter than metres; the frame is the other way to know."""
    from shotplan.model.frame import system

    its = system("EPSG:3857")
    at = its.from_lonlat(np.array([14.0, 60.0]))
    east, north = its.metres_per_unit(at)
    there = its.lonlat_deg(at + np.array([(0.0, 0.0), (100.0, 0.0), (0.0, 100.0)]))
    true = Frame(lon_deg=14.0, lat_deg=60.0).xy_m(there)
    assert east == pytest.approx(np.hypot(*(true[1] - true[0])) / 100.0, rel=1e-4)
    assert north == pytest.approx(np.hypot(*(true[2] - true[0])) / 100.0, rel=1e-4)
    assert 0.49 < east < 0.51
