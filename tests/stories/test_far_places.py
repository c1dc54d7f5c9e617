"""Sites across the 180th meridian and toward the poles: the same world anywhere is the same plan,
and what is drawn of it does not go round the world."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree as ET

import gpxpy
import numpy as np
import pytest
import rasterio
import shapely
from rasterio.transform import from_origin

import shotplan
from shotplan.model.frame import Frame
from shotplan.output.map import live
from shotplan.output.take_along import take_along
from tests import worlds
from tests.worlds import SIDE_TRACK, box, feature, line, place, polygon, tree, write_site

HOME = (14.0, 46.0, "EPSG:32633")
FAR = {
    "on the meridian": (180.0, -16.0, "EPSG:32760"),
    "78 north on the meridian in degrees": (179.9999, 78.2, "EPSG:4326"),
    "85 south": (-120.0, -85.0, "EPSG:3031"),
}
SAME = ("clearance", "ground", "boundary", "people", "sight", "height", "return", "keep-out")


class Made(NamedTuple):
    folder: Path
    plan: Any
    files: dict[str, bytes]


def slope(east: Any, north: Any) -> Any:
    return 84.0 + 0.06 * east - 0.04 * north


def in_degrees(path: Path, frame: Frame, cell_m: float = 10.0, half_m: float = 700.0) -> None:
    """The slope as a raster of longitude and latitude whose longitudes run on past 180."""
    high = 1.0 / 111_200.0
    wide = high / np.cos(np.radians(frame.lat_deg))
    count = int(2 * half_m / cell_m)
    step = (np.arange(count) + 0.5) * cell_m - half_m
    left = frame.lon_deg % 360.0
    lon, lat = np.meshgrid(left + step * wide, frame.lat_deg - step * high)
    x, y = np.moveaxis(frame.xy_m(np.stack([lon, lat], axis=-1)), -1, 0)
    corner = from_origin(left - half_m * wide, frame.lat_deg + half_m * high, cell_m * wide,
                         cell_m * high)  # fmt: skip
    with rasterio.open(path, "w", driver="GTiff", width=count, height=count, count=1,
                       dtype="float64", crs="EPSG:4326", transform=corner) as raster:  # fmt: skip
        raster.write(slope(x, y), 1)


def made(folder: Path, lon: float, lat: float, crs: str, monkeypatch: pytest.MonkeyPatch) -> Made:
    monkeypatch.setattr(worlds, "FRAME", Frame(lon_deg=lon, lat_deg=lat))
    monkeypatch.setattr(worlds, "RASTER_CRS", crs)
    features = [
        feature("area", "boundary", polygon(box(-300, -300, 300, 300))),
        tree("oak", east_m=-12.0, north_m=20.0),
        place("rock", east_m=25.0, north_m=-20.0),
        feature("path", "people", line([(-120.0, 40.0), (120.0, 45.0)])),
        feature("no", "keep-out", polygon(box(-40, 90, 40, 120))),
    ]
    shots = [{**SIDE_TRACK, "from_m": 20.0, "to_m": 120.0}]
    degrees = crs == "EPSG:4326"
    write_site(
        folder, site={"shot": shots, "terrain_error_m": 1.0}, features=features, without=["area"],
        ride=70.0, terrain=None if degrees else slope, cell_m=10.0,
    )  # fmt: skip
    if degrees:
        in_degrees(folder / "terrain.tif", worlds.FRAME)
        text = (folder / "site.toml").read_text()
        (folder / "site.toml").write_text('terrain = "terrain.tif"\n' + text)
    plan = shotplan.make(shotplan.read(folder), rides=1)
    files = {**take_along.output(plan), **live.output(plan)}
    return Made(folder, plan, files)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Any:
    with pytest.MonkeyPatch.context() as patch:
        return made(tmp_path_factory.mktemp("home"), *HOME, patch)


@pytest.fixture(scope="module")
def away(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Made]:
    with pytest.MonkeyPatch.context() as patch:
        return {k: made(tmp_path_factory.mktemp("far"), *v, patch) for k, v in FAR.items()}


@pytest.mark.parametrize("where", FAR)
def test_the_same_world_is_the_same_plan_anywhere(
    away: dict[str, Made], home: Made, where: str
) -> None:
    far = away[where]
    for here, there in zip(home.plan, far.plan, strict=True):
        for check in SAME:
            one, other = here.finding(check), there.finding(check)
            assert one.verdict == other.verdict, check
            if one.margin is not None and np.isfinite(one.margin):
                assert other.margin == pytest.approx(one.margin, abs=0.05), check
    not_around_the_world(far.files, FAR[where][1])


def not_around_the_world(files: dict[str, bytes], lat_deg: float) -> None:
    """Fails where two neighbours of a line are half a world apart."""
    lines = [
        [tuple(map(float, p.split(",")[:2])) for p in (e.text or "").split()]
        for e in ET.fromstring(files["plan.kml"]).iter()
        if e.tag.endswith("coordinates")
    ]
    gpx = gpxpy.parse(files["plan.gpx"].decode())
    for segment in (s for t in gpx.tracks for s in t.segments):
        lines.append([(p.longitude, p.latitude) for p in segment.points])
    for one in json.loads(files["plan.geojson"])["features"]:
        given = one["geometry"]["coordinates"]
        kind = one["geometry"]["type"]
        lines += given if kind == "Polygon" else [given] if kind == "LineString" else [[given]]
    for path in lines:
        lon = np.array([p[0] for p in path])
        assert np.all(np.abs(lon) <= 180.0)
        assert np.ptp(lon) < 1.0, path
    drawn = files["map.html"].decode()
    pairs = re.findall(r"\[(-?1?\d{2}\.\d{4,}), ?(-?1?\d{2}\.\d{4,})\]", drawn)
    assert len(pairs) > 50
    both = np.array([[float(a), float(b)] for a, b in pairs])
    swapped = np.abs(both[:, 0] - lat_deg) < 0.5  # Leaflet wants latitude first, GeoJSON last
    assert np.ptp(np.where(swapped, both[:, 1], both[:, 0])) < 1.0


def test_an_area_cut_at_the_meridian_keeps_its_size_and_a_line_its_length(
    away: dict[str, Made],
) -> None:
    far = away["on the meridian"]
    told = json.loads(far.files["plan.geojson"])["features"]
    frame = far.plan.outing.site.frame

    def metres(kind: str, name: str) -> list[Any]:
        return [
            [frame.xy_m(np.array(ring)) for ring in f["geometry"]["coordinates"]]
            for f in told
            if f["geometry"]["type"] == kind and name in f["properties"]["kind"]
        ]

    halves = metres("Polygon", "boundary")
    assert len(halves) == 2
    assert sum(shapely.Polygon(h[0]).area for h in halves) == pytest.approx(600.0**2, rel=1e-3)
    ways = [f for f in told if f["properties"]["kind"].startswith("track-")]
    flown = sum(
        np.hypot(*np.diff(frame.xy_m(np.array(f["geometry"]["coordinates"])), axis=0).T).sum()
        for f in ways
        if f["geometry"]["type"] == "LineString"
    )
    (shot,) = far.plan
    whole = np.hypot(*np.diff(shot.track.xyz_m[0, :, :2], axis=0).T).sum()
    assert flown == pytest.approx(whole, rel=0.01)
    for f in ways:
        if f["geometry"]["type"] == "LineString":
            assert len(f["properties"]["time_s"]) == len(f["geometry"]["coordinates"])
