"""Sites made of real laser scans: the ground as it was measured, and everything else as bodies.

    cloud = read_cloud(real / "lidar")
    folder = write_lidar_site(tmp_path, cloud, ride=[(10.0, 10.0), (90.0, 90.0)], bodies="columns")

Two scans of `../shared/real/lidar`: four tiles of a town, a square of 100 m (Licence Ouverte 2.0,
IGN LiDAR HD), and 286 m of forest and lakes (lidR, GPL-3). Places are given in metres east and
north of the south-west corner, in the scan's own CRS. Nothing of the package is used here: these
sites are what it is held against.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from shapely import unary_union
from shapely.geometry import MultiPolygon, Polygon, box

from tests.worlds import SITE, laid_over, toml_text

Array = NDArray[np.float64]
Bodies = Literal["columns", "areas"]

GROUND, BUILDING, WATER = 2, 6, 9  # classes of the LAS specification
LOW_M = 0.5  # what is lower need not be drawn: [survey] least_height_m


class Scan(NamedTuple):
    """Where a square lies, how far apart its ground's posts are, how wide its bodies' cells."""

    crs: str
    corner: tuple[float, float]
    side_m: float
    post_m: float
    cell_m: float


TOWN = Scan("EPSG:2154", (770500.0, 6277500.0), 100.0, 1.0, 2.0)
FOREST = Scan("EPSG:2949", (273357.0, 5274357.0), 286.0, 2.0, 3.0)


class Cloud(NamedTuple):
    """Returns `(n, 3)` in metres from the corner and elevations: what is not ground, whose height
    above the raster's own reading is `over_m (n,)`."""

    scan: Scan
    rest: Array
    rest_class: NDArray[np.int64]
    over_m: Array
    raster: Array  # `(rows, columns)` posts, the north-western first; they reach one post beyond


def read_cloud(folder: Path, scan: Scan = TOWN) -> Cloud:
    """The tiles of a scan."""
    import laspy

    pattern = "test_data_77*.laz" if scan is TOWN else "Topography.laz"
    parts, classes = [], []
    for path in sorted(folder.glob(pattern)):
        tile = laspy.read(path)
        parts.append(np.stack([tile.x, tile.y, tile.z], axis=-1) - [*scan.corner, 0.0])
        classes.append(np.asarray(tile.classification, dtype=np.int64))
    every, kind = np.concatenate(parts), np.concatenate(classes)
    bare = np.isin(kind, (GROUND, WATER))
    raster = ground_raster(scan, every[bare])
    rest = every[~bare]
    over = rest[:, 2] - reading(scan, raster, rest[:, :2])
    return Cloud(scan, rest, kind[~bare], over, raster)


def posts(scan: Scan) -> tuple[Array, Array]:
    """East and north of the raster's posts."""
    along = np.arange(-0.5 * scan.post_m, scan.side_m + scan.post_m, scan.post_m)
    east, north = np.meshgrid(along, along[::-1])
    return east, north


def ground_raster(scan: Scan, ground: Array) -> Array:
    """The mean of the ground's returns in cells about the posts; straight between cells where a
    cell has none, the nearest outside them."""
    from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

    east, north = posts(scan)
    rows, count = east.shape
    column = np.floor(ground[:, 0] / scan.post_m).astype(int) + 1
    row = rows - 2 - np.floor(ground[:, 1] / scan.post_m).astype(int)
    inside = (column >= 0) & (column < count) & (row >= 0) & (row < rows)
    at = (row * count + column)[inside]
    hits = np.bincount(at, minlength=rows * count)
    sums = np.bincount(at, ground[inside, 2], minlength=rows * count)
    has = hits > 0
    places = np.stack([east.ravel(), north.ravel()], axis=-1)
    means = sums[has] / hits[has]
    z = LinearNDInterpolator(places[has], means)(places)
    nearest = NearestNDInterpolator(places[has], means)(places)
    return np.asarray(np.where(np.isnan(z), nearest, z).reshape(rows, count))


def reading(scan: Scan, raster: Array, xy_m: Array) -> Array:
    """`(n,)` bilinear between posts."""
    from scipy.ndimage import map_coordinates

    column = xy_m[..., 0] / scan.post_m + 0.5
    row = raster.shape[0] - 1 - (xy_m[..., 1] / scan.post_m + 0.5)
    return np.asarray(map_coordinates(raster, [row, column], order=1, mode="nearest"))


def lon_lat(scan: Scan, xy_m: Any) -> Array:
    """`(..., 2)` degrees of places in the square."""
    to = Transformer.from_crs(scan.crs, "EPSG:4326", always_xy=True, allow_ballpark=False)
    xy = np.asarray(xy_m, dtype=float) + scan.corner
    return np.stack(to.transform(xy[..., 0], xy[..., 1]), axis=-1)


def from_lon_lat(scan: Scan, degrees: Array) -> Array:
    """`(..., 2)` places in the square."""
    to = Transformer.from_crs("EPSG:4326", scan.crs, always_xy=True, allow_ballpark=False)
    return np.stack(to.transform(degrees[..., 0], degrees[..., 1]), axis=-1) - scan.corner


def frame(scan: Scan) -> CRS:
    """The frame of every site made here: about the centroid of its boundary."""
    middle = Polygon(lon_lat(scan, _square(scan))).centroid
    return CRS(f"+proj=aeqd +lat_0={middle.y!r} +lon_0={middle.x!r} +datum=WGS84 +units=m")


def in_frame(scan: Scan, xyz_m: Array) -> Array:
    """`(n, 3)` returns in the frame, their elevations as they are."""
    to = Transformer.from_crs(scan.crs, frame(scan), always_xy=True, allow_ballpark=False)
    east, north = to.transform(xyz_m[:, 0] + scan.corner[0], xyz_m[:, 1] + scan.corner[1])
    return np.stack([east, north, xyz_m[:, 2]], axis=-1)


def _square(scan: Scan) -> list[tuple[float, float]]:
    high = scan.side_m
    return [(0.0, 0.0), (high, 0.0), (high, high), (0.0, high)]


def _ring(scan: Scan, xy_m: Any) -> list[list[float]]:
    ring = [[float(v) for v in p] for p in lon_lat(scan, xy_m)]
    return [*ring, ring[0]]


def _feature(name: str, role: str, kind: str, where: Any, **says: Any) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": where}
    return {"type": "Feature", "id": name, "properties": {"role": role, **says},
            "geometry": geometry}  # fmt: skip


def columns(cloud: Cloud, **says: Any) -> list[dict[str, Any]]:
    """A round body on every cell that has a return higher than `LOW_M`, up to the highest
    of them; its circle holds the whole cell."""
    scan, cell = cloud.scan, cloud.scan.cell_m
    tops: dict[tuple[int, int], float] = {}
    high = cloud.over_m > LOW_M
    cells = np.floor(cloud.rest[high, :2] / cell).astype(int)
    for (i, j), z in zip(cells.tolist(), cloud.rest[high, 2].tolist(), strict=True):
        tops[i, j] = max(tops.get((i, j), -np.inf), z)
    middles = (np.array(list(tops)) + 0.5) * cell
    heights = np.array(list(tops.values())) - reading(scan, cloud.raster, middles)
    return [
        _feature(f"tree-{k}", "tree", "Point", [float(v) for v in place],
                 height_m=max(float(h), 0.1) + 0.01, radius_m=cell * 0.7072, **says)
        for k, (place, h) in enumerate(zip(lon_lat(scan, middles), heights, strict=True))
    ]  # fmt: skip


def areas(cloud: Cloud, **says: Any) -> list[dict[str, Any]]:
    """Roofs as `building`, the rest as `wood`: cells that touch, one body."""
    found, cell = [], cloud.scan.cell_m
    for role, mine in (
        ("building", cloud.rest_class == BUILDING),
        ("wood", cloud.rest_class != BUILDING),
    ):
        high = mine & (cloud.over_m > LOW_M)
        cells = np.unique(np.floor(cloud.rest[high, :2] / cell).astype(int), axis=0) * cell
        joined = unary_union([box(x, y, x + cell, y + cell) for x, y in cells.tolist()])
        parts = joined.geoms if isinstance(joined, MultiPolygon) else [joined]
        for k, part in enumerate(parts):
            found.append(_area(cloud, high, f"{role}-{k}", role, part, says))
    return found


def _area(
    cloud: Cloud, high: NDArray[np.bool_], name: str, role: str, part: Any, says: Mapping[str, Any]
) -> dict[str, Any]:
    from shapely import contains_xy

    mine = high & contains_xy(part.buffer(1e-6), cloud.rest[:, 0], cloud.rest[:, 1])
    if role == "wood":  # its top follows the ground
        height = float(cloud.over_m[mine].max())
    else:  # measured from the highest ground under it
        east, north = posts(cloud.scan)
        under = cloud.raster[contains_xy(part.buffer(-0.2), east, north)]
        foot = under.max(
            initial=float(reading(cloud.scan, cloud.raster, np.array(part.centroid.coords)).min())
        )
        height = float(cloud.rest[mine, 2].max()) - float(foot)
    rings = [_ring(cloud.scan, list(ring.coords)[:-1]) for ring in (part.exterior, *part.interiors)]
    return _feature(name, role, "Polygon", rings, height_m=max(height, 0.1) + 0.01, **says)


def write_lidar_site(
    folder: Path, cloud: Cloud, *, ride: Iterable[tuple[float, float]], bodies: Bodies = "columns",
    places: Mapping[str, tuple[float, float]] | None = None, site: Mapping[str, Any] | None = None,
    **says: Any,
) -> Path:  # fmt: skip
    """A site folder on the scanned square. `says`: properties of every body (`error_m`)."""
    scan, spots = cloud.scan, {"launch": (50.0, 50.0), **(places or {})}
    folder.mkdir(parents=True, exist_ok=True)
    write_raster(folder / "terrain.tif", scan, cloud.raster, scan.post_m, -scan.post_m)
    drawn = (columns if bodies == "columns" else areas)(cloud, **says)
    drawn += [_feature("area", "boundary", "Polygon", [_ring(scan, _square(scan))])]
    drawn += [
        _feature(n, "place", "Point", [float(v) for v in lon_lat(scan, at)])
        for n, at in spots.items()
    ]
    path = [[float(v) for v in p] for p in lon_lat(scan, list(ride))]
    drawn += [_feature("line", "ride", "LineString", path)]
    collection = {"type": "FeatureCollection", "features": drawn}
    (folder / "ground.geojson").write_text(json.dumps(collection), encoding="utf-8")
    own = {"name": "Scanned", "country": "FR", "terrain": "terrain.tif"}
    text = toml_text(laid_over(laid_over(SITE, own), site or {}))
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return folder


def write_raster(path: Path, scan: Scan, z_m: Array, post_m: float, low_m: float) -> None:
    """Cells `post_m` wide, the south-western corner `low_m` from the scan's, each way."""
    import rasterio
    from rasterio.transform import from_origin

    west, north = scan.corner[0] + low_m, scan.corner[1] + low_m + z_m.shape[0] * post_m
    with rasterio.open(
        path, "w", driver="GTiff", width=z_m.shape[1], height=z_m.shape[0], count=1,
        dtype="float64", crs=scan.crs, transform=from_origin(west, north, post_m, post_m),
        nodata=-9999.0,
    ) as raster:  # fmt: skip
        raster.write(z_m, 1)


def write_surroundings(
    path: Path, cloud: Cloud, wide_m: float = 1500.0, post_m: float = 26.0
) -> None:
    """The scanned ground, coarse, and what its edge would go on like: for wind and skyline."""
    scan, half = cloud.scan, int(wide_m / post_m)
    count = 2 * half + round(scan.side_m / post_m)
    along = (np.arange(count) + 0.5 - half) * post_m
    east, north = np.meshgrid(along, along[::-1])
    inside = np.stack([east, north], axis=-1).clip(0.0, scan.side_m)
    write_raster(path, scan, reading(scan, cloud.raster, inside), post_m, -half * post_m)
