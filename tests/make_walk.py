"""The walk from a recording to a word, on an invented place: `python -m tests.make_walk` draws the
picture of README.md's walk into maps/walk.

    place = write_place(tmp_path)
    place.new(tmp_path / "site")   # what one types, without a coordinate

A laser scan of a slope with a wood, single trees, a hut and a strip nobody flew over; map data with
a path, a power line, a pond and some of the same trees; a recording of a ride past them. Everything
in it is made here, from a seed.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import laspy
import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from typer.testing import CliRunner

from shotplan.cli import app
from tests.make_maps import MAPS

Array = NDArray[np.float64]
CRS_OF_SCAN = "EPSG:25832"
CORNER = (560_400.0, 6_311_200.0)
WIDE, HIGH = 380.0, 180.0
PER_M2 = 11.0
GROUND, VEGETATION, BUILDING = 2, 5, 6
UNSEEN = (318.0, 346.0)  # metres east of the corner, without a return
WOOD = (96.0, 104.0, 222.0, 152.0)  # west, south, east, north
HUT = (252.0, 116.0, 264.0, 124.0, 5.0)  # and its height
TREES = np.array([  # east, north, height, crown
    (86, 60, 9, 2.5), (108, 84, 12, 3.2), (134, 58, 7, 2.0), (160, 96, 11, 3.0), (184, 62, 8, 2.4),
    (208, 92, 10, 2.8), (237, 70, 13, 3.4), (270, 98, 9, 2.6), (288, 64, 8, 2.2), (302, 92, 6, 1.8),
], dtype=float)  # fmt: skip
IN_MAP_TOO = (1, 3, 6)  # of the trees
LINE = ((30.0, 16.0), (200.0, 30.0), (370.0, 44.0))  # a power line, its towers
PATH = ((226.0, 4.0), (232.0, 60.0), (240.0, 112.0), (256.0, 176.0))
POND = ((116.0, 34.0), (138.0, 32.0), (144.0, 46.0), (122.0, 50.0))
FLOWN_ON = datetime(2025, 9, 14, tzinfo=UTC)
GPS_BEGINS = datetime(1980, 1, 6, tzinfo=UTC)
RIDDEN = datetime(2026, 5, 3, 9, 30, tzinfo=UTC)
SPEED_M_S = 5.0


def ground_m(east: Array, north: Array) -> Array:
    """A slope with a swell in it."""
    swell: Array = 3.0 * np.exp(-((east - 206.0) ** 2 + (north - 70.0) ** 2) / 2500.0)
    return 60.0 + 0.05 * east + 0.02 * north + swell


def returns(seed: int = 7) -> tuple[Array, NDArray[np.uint8]]:
    """`(n, 3)` metres from the corner, and the class of each."""
    random = np.random.default_rng(seed)
    xy = random.uniform((0.0, 0.0), (WIDE, HIGH), (int(PER_M2 * WIDE * HIGH), 2))
    xy = xy[np.argsort(xy[:, 0])]
    xy = xy[(xy[:, 0] < UNSEEN[0]) | (xy[:, 0] > UNSEEN[1])]
    over, kind = np.zeros(len(xy)), np.full(len(xy), GROUND, dtype=np.uint8)
    crowns = [*TREES, *_wood(random)]
    for east, north, height, radius in crowns:
        near = slice(*np.searchsorted(xy[:, 0], (east - radius, east + radius)))
        away = np.hypot(xy[near, 0] - east, xy[near, 1] - north) / radius
        dome = height * (1.0 - 0.45 * away**2) - random.exponential(0.4, len(away))
        hit = (away < 1.0) & (dome > over[near]) & (random.uniform(size=len(away)) < 0.85)
        over[near][hit], kind[near][hit] = dome[hit], VEGETATION
    west, south, east, north, height = HUT
    roof = (xy > (west, south)).all(axis=1) & (xy < (east, north)).all(axis=1)
    over[roof], kind[roof] = height, BUILDING
    z = ground_m(*xy.T) + over + random.normal(0.0, 0.02, len(xy))
    return np.column_stack([xy, z]), kind


def _wood(random: np.random.Generator) -> Array:
    west, south, east, north = WOOD
    middle = random.uniform((west + 4, south + 4), (east - 4, north - 4), (160, 2))
    return np.column_stack([middle, random.uniform(11.0, 16.0, 160), random.uniform(2.5, 4.0, 160)])


def lonlat(xy_m: Array | Sequence[tuple[float, float]]) -> Array:
    """Degrees `(k, 2)` of metres from the corner."""
    to_deg = Transformer.from_crs(CRS_OF_SCAN, "OGC:CRS84", always_xy=True)
    east, north = (np.asarray(xy_m, dtype=float) + CORNER).T
    return np.column_stack(to_deg.transform(east, north))


def ride_m() -> Array:
    """The way ridden `(k, 2)`, a fix a second."""
    east = np.arange(70.0, 306.0, SPEED_M_S)
    return np.column_stack([east, 76.0 + 7.0 * np.sin(east / 26.0)])


def write_scan(path: Path) -> None:
    """The scan as LAZ, cut into tiles would be the same."""
    xyz, kind = returns()
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.offsets, header.scales = [*CORNER, 0.0], [0.01, 0.01, 0.01]
    header.creation_date = FLOWN_ON.date()
    header.global_encoding.gps_time_type = laspy.header.GpsTimeType.STANDARD
    header.add_crs(CRS.from_user_input(CRS_OF_SCAN))
    las = laspy.LasData(header)
    las.x, las.y, las.z = xyz[:, 0] + CORNER[0], xyz[:, 1] + CORNER[1], xyz[:, 2]
    las.classification = kind
    las.gps_time = np.full(
        len(xyz), (FLOWN_ON - datetime(1980, 1, 6, tzinfo=UTC)).total_seconds() - 1e9
    )
    las.write(path)


def osm_text() -> str:
    """Map data as OpenStreetMap XML."""
    nodes: list[str] = []

    def node(xy: tuple[float, float], **tags: str) -> int:
        (lon, lat), number = lonlat([xy])[0], len(nodes) + 1
        nodes.append(f'<node id="{number}" version="1" timestamp="2026-01-10T00:00:00Z" '
                     f'lat="{lat:.7f}" lon="{lon:.7f}">{_tags(tags)}</node>')  # fmt: skip
        return number

    def way(number: int, refs: Sequence[int], **tags: str) -> str:
        listed = "".join(f'<nd ref="{ref}"/>' for ref in refs)
        return (f'<way id="{number}" version="1" timestamp="2026-01-10T00:00:00Z">{listed}'
                f"{_tags(tags)}</way>")  # fmt: skip

    towers = [node(xy, power="tower") for xy in LINE]
    path, pond = [node(xy) for xy in PATH], [node(xy) for xy in POND]
    for k in IN_MAP_TOO:
        node((TREES[k, 0] + 0.8, TREES[k, 1] - 0.5), natural="tree")
    ways = (
        way(1, towers, power="line", voltage="60000"),
        way(2, path, highway="path", name="Kirkestien"),
        way(3, [*pond, pond[0]], natural="water"),
    )
    return f'<osm version="0.6" generator="made">{"".join(nodes)}{"".join(ways)}</osm>\n'


def _tags(tags: dict[str, str]) -> str:
    return "".join(f'<tag k="{k}" v="{v}"/>' for k, v in tags.items())


def gpx_text() -> str:
    """The recording."""
    points = []
    for k, ((lon, lat), (east, north)) in enumerate(zip(lonlat(ride_m()), ride_m(), strict=True)):
        ele = float(ground_m(np.array(east), np.array(north)))
        when = RIDDEN + timedelta(seconds=k)
        points.append(f'<trkpt lat="{lat:.8f}" lon="{lon:.8f}"><ele>{ele:.1f}</ele>'
                      f"<time>{when:%Y-%m-%dT%H:%M:%SZ}</time></trkpt>")  # fmt: skip
    return ('<gpx version="1.1" creator="made" xmlns="http://www.topografix.com/GPX/1/1"><trk>'
            f"<trkseg>{''.join(points)}</trkseg></trk></gpx>\n")  # fmt: skip


class Place(NamedTuple):
    """The files at hand."""

    scan: Path
    osm: Path
    ride: Path

    def new(self, folder: Path, *more: str | Path) -> str:
        """What one types, and what is printed."""
        return run("new", folder, "--ride", self.ride, "--rules", "eu-open-a1", "--lidar",
                   self.scan, "--boundary-around", "60", *more)  # fmt: skip


def run(*args: str | Path) -> str:
    """A command, and what it prints; a failure is one here too."""
    done = CliRunner().invoke(app, [str(a) for a in args], catch_exceptions=False)
    if done.exit_code not in (0, 1, 3):
        raise AssertionError(done.output)
    return done.output


def write_place(folder: Path) -> Place:
    """Everything at hand, in a folder."""
    place = Place(folder / "moor.laz", folder / "moor.osm", folder / "ride.gpx")
    write_scan(place.scan)
    place.osm.write_text(osm_text(), "utf-8")
    place.ride.write_text(gpx_text(), "utf-8")
    return place


def main() -> None:
    """The picture."""
    with tempfile.TemporaryDirectory() as trial:
        folder = Path(trial) / "moor"
        place = write_place(Path(trial))
        print(place.new(folder, "--osm", place.osm))
        print(run("survey", folder))
        drawn = json.loads((folder / "ground.geojson").read_text("utf-8"))
        (MAPS / "walk").mkdir(parents=True, exist_ok=True)
        (MAPS / "walk" / "survey.png").write_bytes((folder / "out" / "survey.png").read_bytes())
        print(len(drawn["features"]), "features")


if __name__ == "__main__":
    main()
