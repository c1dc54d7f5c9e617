"""Draws the bundled site `hvinhylde`: its terrain, its ground and its recorded ride.

The place is invented: a heath that ends in a sheer face over the sea. Run by hand after a change
(`python -m tests.make_sites`); `tests/test_sites.py` holds the committed files to what this draws.
Positions below are metres east and north of `ORIGIN_M`.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import rasterio
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.transform import from_origin
from shapely.geometry.polygon import orient

Array = NDArray[np.float64]
Point = tuple[float, float]

FOLDER = Path(__file__).resolve().parent.parent / "sites" / "hvinhylde"
CRS = "EPSG:32633"
ORIGIN_M = (483_600.0, 6_122_600.0)
CELL_M = 2.0
COLUMNS, ROWS = 210, 240

EDGE: tuple[Point, ...] = (
    (112, -40), (118, 60), (128, 140), (126, 200), (138, 250), (150, 280), (166, 300),
    (225, 316), (300, 335), (370, 354), (480, 382),
)  # fmt: skip
LAND = shapely.Polygon([*EDGE, (480, -40)])
SEABED_M = -6.0
RIDE_START: Point = (138.0, 62.0)
LEG_1_M, TURN_RADIUS_M, LEG_2_M = 200.0, 26.0, 188.2
COURSE_1_DEG, COURSE_2_DEG = 5.0, 75.0
STOP_AT_M, STOP_S = 150.0, 12.0
SEED, WANDER_M = 2, 0.4


def terrain_m() -> NDArray[np.float32]:
    """`(ROWS, COLUMNS)` elevation of the cell centres, the northern row first."""
    x, y = np.meshgrid((np.arange(COLUMNS) + 0.5) * CELL_M, (np.arange(ROWS)[::-1] + 0.5) * CELL_M)
    return np.asarray(np.round(elevation_m(x, y), 2), dtype=np.float32)


def elevation_m(x: Array, y: Array) -> Array:
    """Heath, gully, face and seabed at points of the site."""
    points = shapely.points(x, y)
    inland_m = shapely.distance(points, shapely.LineString(EDGE))
    inland_m = np.where(shapely.contains(LAND, points), inland_m, -inland_m)
    inland_m = inland_m + 0.8 * np.sin(x / 9.0 + 1.0) * np.sin(y / 7.3)
    heath = (
        74.0
        + 1.4 * np.sin(x / 38.0 + 0.4) * np.cos(y / 47.0)
        + 0.4 * np.sin(x / 11.0 + y / 13.0)
        + 4.0 * np.exp(-((x - 340.0) ** 2 + (y - 140.0) ** 2) / (2 * 60.0**2))
    )
    along_gully = (x - 127.0) * math.sin(math.radians(82.0)) + (y - 192.0) * math.cos(
        math.radians(82.0)
    )
    across_gully = (x - 127.0) * math.cos(math.radians(82.0)) - (y - 192.0) * math.sin(
        math.radians(82.0)
    )
    gully = 26.0 * np.clip(1.0 - np.maximum(along_gully, 0.0) / 15.0, 0.0, 1.0)
    heath = heath - gully * np.exp(-((across_gully / 4.5) ** 2))
    fallen = np.clip(-inland_m / 2.0, 0.0, 1.0)  # the face: one to two cells wide
    scree = np.clip((-inland_m - 2.0) / 7.0, 0.0, 1.0)
    foot = 3.0 + (SEABED_M - 3.0) * scree
    return np.asarray(heath + (foot - heath) * fallen)


def write_terrain(path: Path) -> None:
    """The GeoTIFF."""
    z = terrain_m()
    with rasterio.open(
        path, "w", driver="GTiff", width=COLUMNS, height=ROWS, count=1, dtype="float32", crs=CRS,
        transform=from_origin(ORIGIN_M[0], ORIGIN_M[1] + ROWS * CELL_M, CELL_M, CELL_M),
        nodata=-9999.0, compress="deflate", predictor=3, zlevel=9,
    ) as file:  # fmt: skip
        file.write(z, 1)


def lonlat(points: Sequence[Point]) -> list[list[float]]:
    """Longitude, latitude to 7 decimals (about a centimetre)."""
    to_world = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True, allow_ballpark=False)
    lon, lat = to_world.transform(
        [ORIGIN_M[0] + p[0] for p in points], [ORIGIN_M[1] + p[1] for p in points]
    )
    return [[round(a, 7), round(b, 7)] for a, b in zip(lon, lat, strict=True)]


def feature(
    id: str, role: str, points: Sequence[Point], shape: str = "Point", **properties: object
) -> dict[str, object]:
    """One GeoJSON feature."""
    if shape == "Polygon":
        ring = orient(shapely.Polygon(points)).exterior  # RFC 7946: counterclockwise
        coordinates: object = [lonlat([(x, y) for x, y in ring.coords])]
    else:
        coordinates = lonlat(points) if shape == "LineString" else lonlat(points)[0]
    return {
        "type": "Feature",
        "id": id,
        "properties": {"role": role, **properties},
        "geometry": {"type": shape, "coordinates": coordinates},
    }


def ground() -> str:
    """The text of ground.geojson: a feature a line."""
    # The edge from where it enters the raster to where it leaves it, then round the outside.
    sea = [(114.4, 0.0), *EDGE[1:-1], (420.0, 366.7), (420.0, 480.0), (0.0, 480.0), (0.0, 0.0)]
    walkers: list[Point] = [
        (121, 10), (126, 62), (136, 140), (138, 170), (147, 184), (148, 200), (138, 214),
        (146, 250), (158, 277), (170, 292), (226, 308), (301, 327), (371, 346), (410, 357),
    ]  # fmt: skip
    thorns: list[tuple[float, float, float, float]] = [
        (264.5, 294.0, 5.6, 2.2), (279.0, 291.5, 4.8, 1.9), (297.0, 299.5, 5.9, 2.4),
        (311.0, 295.0, 5.1, 2.0), (352.0, 309.0, 4.4, 1.8), (231.0, 203.0, 6.1, 2.8),
    ]  # fmt: skip
    hut: list[Point] = [(296, 247), (304, 249), (302.5, 255), (294.5, 253)]
    wire: list[Point] = [(412, 132), (378, 180), (350, 236), (327, 306)]
    features = [
        feature("boundary", "boundary", [(15, 15), (405, 15), (405, 465), (15, 465)], "Polygon"),
        feature("sea", "water", sea, "Polygon", level_m=0.0),
        *(
            feature(f"thorn-{i:02d}", "tree", [(x, y)], height_m=h, radius_m=r, base_m=1.2,
                    error_m=1.5)
            for i, (x, y, h, r) in enumerate(thorns, start=1)
        ),
        feature("hut", "building", hut, "Polygon", height_m=3.4, name="Netter's hut"),
        feature("telephone", "wire", wire, "LineString", kind="local", height_m=7.0,
                name="Telephone wire"),
        *(
            feature(f"post-{i}", "pole", [p], height_m=7.2)
            for i, p in enumerate(wire[1:], start=1)
        ),
        feature("walkers", "people", walkers, "LineString", state="may-pass",
                name="Walkers' path along the edge"),
        feature("launch", "place", [(196, 250)], name="Flat stone"),
        feature("lookout", "place", [(276, 317)], name="Bank above the path"),
        feature("viewpoint", "place", [(132, 211)], name="Bench by the gully"),
        feature("cairn", "place", [(163, 283)], name="Cairn", height_m=1.5),
    ]  # fmt: skip
    lines = ",\n".join(json.dumps(f) for f in features)
    return f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n'


def ride_at(along_m: float) -> Point:
    """Where the ride lies after `along_m`: a straight leg, a bend to the right, another leg."""
    first, second = math.radians(COURSE_1_DEG), math.radians(COURSE_2_DEG)
    leg_m = min(along_m, LEG_1_M)
    x = RIDE_START[0] + leg_m * math.sin(first)
    y = RIDE_START[1] + leg_m * math.cos(first)
    bend_m = min(max(along_m - LEG_1_M, 0.0), TURN_RADIUS_M * (second - first))
    turned = first + bend_m / TURN_RADIUS_M
    x += TURN_RADIUS_M * (math.cos(first) - math.cos(turned))
    y += TURN_RADIUS_M * (math.sin(turned) - math.sin(first))
    rest_m = max(along_m - LEG_1_M - TURN_RADIUS_M * (second - first), 0.0)
    x += rest_m * math.sin(second)
    y += rest_m * math.cos(second)
    weave_m = 0.7 * math.sin(along_m / 23.0)
    return x + weave_m * math.cos(turned), y - weave_m * math.sin(turned)


def ride_m() -> float:
    """Its length along the middle of the gravel."""
    return LEG_1_M + TURN_RADIUS_M * math.radians(COURSE_2_DEG - COURSE_1_DEG) + LEG_2_M


def ridden() -> list[tuple[float, float]]:
    """Time and distance along the ride, every 0.05 s: brakes and sprints of at most 1.3 m/s²."""
    slow = ((0.0, 3.0), (STOP_AT_M, 0.3), (215.0, 4.0), (300.0, 6.6), (ride_m(), 4.8))
    t_s, s_m, stood = 0.0, 0.0, False
    out = [(t_s, s_m)]
    while s_m < ride_m():
        if not stood and s_m >= STOP_AT_M:
            stood = True
            for _ in range(round(STOP_S / 0.05)):
                t_s += 0.05
                out.append((t_s, s_m))
        speed_m_s = min(math.sqrt(v**2 + 2.0 * 1.3 * abs(s_m - at)) for at, v in slow)
        s_m += min(speed_m_s, 7.0) * 0.05
        t_s += 0.05
        out.append((t_s, s_m))
    return out


def ride() -> str:
    """The text of ride.gpx: fixes 1 to 2 s apart, with a receiver's slow wander of `WANDER_M`."""
    chance = random.Random(SEED)
    started = datetime(2026, 6, 6, 16, 2, 11, tzinfo=UTC)
    path = ridden()
    wander = [0.0, 0.0]
    next_s, lines = 0.0, []
    for t_s, s_m in path:
        if t_s < next_s - 1e-6:
            continue
        stands = STOP_AT_M <= s_m < STOP_AT_M + 0.1
        keep = math.exp(-1.0 / (120.0 if stands else 15.0))  # Gauss-Markov
        wander = [keep * w + math.sqrt(1 - keep**2) * WANDER_M * _normal(chance) for w in wander]
        x, y = ride_at(s_m)
        up_m = float(elevation_m(np.array(x), np.array(y))) + 2.1 + 0.4 * _normal(chance)
        [[lon, lat]] = lonlat([(x + wander[0], y + wander[1])])
        when = (started + timedelta(seconds=round(next_s))).strftime("%Y-%m-%dT%H:%M:%SZ")
        lines.append(
            f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{up_m:.1f}</ele>'
            f"<time>{when}</time></trkpt>"
        )
        in_the_bend = LEG_1_M - 10.0 < s_m < LEG_1_M + 45.0
        next_s = round(next_s) + (2.0 if chance.random() < 0.2 and not in_the_bend else 1.0)
    body = "\n".join(lines)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="drawn" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"<trk><name>gravel along the edge</name><trkseg>\n{body}\n</trkseg></trk>\n</gpx>\n"
    )


def _normal(chance: random.Random) -> float:
    """Standard normal by Box and Muller, so that no library's sampler decides the file."""
    return math.sqrt(-2.0 * math.log(1.0 - chance.random())) * math.cos(
        2.0 * math.pi * chance.random()
    )


def main() -> None:
    """Write all three files."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    write_terrain(FOLDER / "terrain.tif")
    (FOLDER / "ground.geojson").write_text(ground(), encoding="utf-8")
    (FOLDER / "ride.gpx").write_text(ride(), encoding="utf-8")


if __name__ == "__main__":
    main()
