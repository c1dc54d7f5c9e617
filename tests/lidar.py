"""Sites made of real laser scans: the ground as it was measured, and everything else as bodies.

    cloud = read_cloud(real / "lidar")
    folder = write_lidar_site(tmp_path, cloud, ride=[(10.0, 10.0), (90.0, 90.0)], bodies="columns")

The four tiles of `../shared/real/lidar` are a square of 100 m (Licence Ouverte 2.0, IGN LiDAR HD);
places are given in metres east and north of its south-west corner, in the scan's own CRS. Nothing
of the package is used here: these sites are what it is held against.
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

SCAN_CRS, CORNER, SIDE_M = "EPSG:2154", (770500.0, 6277500.0), 100.0
GROUND, BUILDING = 2, 6  # classes of the LAS specification
LOW_M = 0.5  # what is lower need not be drawn: [survey] least_height_m
CELL_M = 2.0  # of the bodies
MARGIN_M = 1.0  # the ground raster reaches this far beyond the square
LAUNCH = (50.0, 50.0)


class Cloud(NamedTuple):
    """Returns `(n, 3)` in metres from the corner and elevations: of the ground, and of the rest,
    whose height above `ground_m` (the raster's own reading) is `over_m (m,)`."""

    ground: Array
    rest: Array
    rest_class: NDArray[np.int64]
    over_m: Array
    raster: Array  # `(rows, columns)` posts every 1 m, the north-western first


def read_cloud(folder: Path) -> Cloud:
    """The four tiles."""
    import laspy

    parts, classes = [], []
    for path in sorted(folder.glob("test_data_77*.laz")):
        tile = laspy.read(path)
        parts.append(np.stack([tile.x, tile.y, tile.z], axis=-1) - [*CORNER, 0.0])
        classes.append(np.asarray(tile.classification, dtype=np.int64))
    every, kind = np.concatenate(parts), np.concatenate(classes)
    ground, rest = every[kind == GROUND], every[kind != GROUND]
    raster = ground_raster(ground)
    over = rest[:, 2] - reading(raster, rest[:, :2])
    return Cloud(ground, rest, kind[kind != GROUND], over, raster)


def posts() -> tuple[Array, Array]:
    """East and north of the raster's posts."""
    along = np.arange(-MARGIN_M + 0.5, SIDE_M + MARGIN_M, 1.0)
    east, north = np.meshgrid(along, along[::-1])
    return east, north


def ground_raster(ground: Array) -> Array:
    """The mean of the ground's returns in cells of 1 m; straight between cells where a cell has
    none, the nearest outside them."""
    from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

    east, north = posts()
    rows, count = east.shape
    column = np.floor(ground[:, 0] + MARGIN_M).astype(int)
    row = rows - 1 - np.floor(ground[:, 1] + MARGIN_M).astype(int)
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


def reading(raster: Array, xy_m: Array) -> Array:
    """`(n,)` bilinear between posts."""
    from scipy.ndimage import map_coordinates

    column = xy_m[..., 0] + MARGIN_M - 0.5
    row = raster.shape[0] - 1 - (xy_m[..., 1] + MARGIN_M - 0.5)
    return np.asarray(map_coordinates(raster, [row, column], order=1, mode="nearest"))


def lon_lat(xy_m: Any) -> Array:
    """`(..., 2)` degrees of places in the square."""
    to = Transformer.from_crs(SCAN_CRS, "EPSG:4326", always_xy=True, allow_ballpark=False)
    xy = np.asarray(xy_m, dtype=float) + CORNER
    return np.stack(to.transform(xy[..., 0], xy[..., 1]), axis=-1)


def from_lon_lat(degrees: Array) -> Array:
    """`(..., 2)` places in the square."""
    to = Transformer.from_crs("EPSG:4326", SCAN_CRS, always_xy=True, allow_ballpark=False)
    return np.stack(to.transform(degrees[..., 0], degrees[..., 1]), axis=-1) - CORNER


def frame() -> CRS:
    """The frame of every site made here: about the centroid of its boundary."""
    middle = Polygon(lon_lat(_square(0.0))).centroid
    return CRS(f"+proj=aeqd +lat_0={middle.y!r} +lon_0={middle.x!r} +datum=WGS84 +units=m")


def in_frame(xyz_m: Array) -> Array:
    """`(n, 3)` returns in the frame, their elevations as they are."""
    to = Transformer.from_crs(SCAN_CRS, frame(), always_xy=True, allow_ballpark=False)
    east, north = to.transform(xyz_m[:, 0] + CORNER[0], xyz_m[:, 1] + CORNER[1])
    return np.stack([east, north, xyz_m[:, 2]], axis=-1)


def _square(inset_m: float) -> list[tuple[float, float]]:
    low, high = inset_m, SIDE_M - inset_m
    return [(low, low), (high, low), (high, high), (low, high)]


def _ring(xy_m: Any) -> list[list[float]]:
    ring = [[float(v) for v in p] for p in lon_lat(xy_m)]
    return [*ring, ring[0]]


def _feature(name: str, role: str, kind: str, where: Any, **says: Any) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": where}
    return {"type": "Feature", "id": name, "properties": {"role": role, **says},
            "geometry": geometry}  # fmt: skip


def columns(cloud: Cloud, **says: Any) -> list[dict[str, Any]]:
    """A round body on every cell of 2 m that has a return higher than `LOW_M`, up to the highest
    of them; its circle holds the whole cell."""
    tops: dict[tuple[int, int], float] = {}
    high = cloud.over_m > LOW_M
    cells = np.floor(cloud.rest[high, :2] / CELL_M).astype(int)
    for (i, j), z in zip(cells.tolist(), cloud.rest[high, 2].tolist(), strict=True):
        tops[i, j] = max(tops.get((i, j), -np.inf), z)
    middles = (np.array(list(tops)) + 0.5) * CELL_M
    heights = np.array(list(tops.values())) - reading(cloud.raster, middles)
    return [
        _feature(f"tree-{k}", "tree", "Point", [float(v) for v in place],
                 height_m=max(float(h), 0.1) + 0.01, radius_m=CELL_M * 0.7072, **says)
        for k, (place, h) in enumerate(zip(lon_lat(middles), heights, strict=True))
    ]  # fmt: skip


def areas(cloud: Cloud, **says: Any) -> list[dict[str, Any]]:
    """Roofs as `building`, the rest as `wood`: cells of 2 m that touch, one body."""
    found = []
    for role, mine in (
        ("building", cloud.rest_class == BUILDING),
        ("wood", cloud.rest_class != BUILDING),
    ):
        high = mine & (cloud.over_m > LOW_M)
        cells = np.unique(np.floor(cloud.rest[high, :2] / CELL_M).astype(int), axis=0) * CELL_M
        joined = unary_union([box(x, y, x + CELL_M, y + CELL_M) for x, y in cells.tolist()])
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
        east, north = posts()
        under = cloud.raster[contains_xy(part.buffer(-0.2), east, north)]
        foot = under.max(initial=float(reading(cloud.raster, np.array(part.centroid.coords)).min()))
        height = float(cloud.rest[mine, 2].max()) - float(foot)
    rings = [_ring(list(ring.coords)[:-1]) for ring in (part.exterior, *part.interiors)]
    return _feature(name, role, "Polygon", rings, height_m=max(height, 0.1) + 0.01, **says)


def write_lidar_site(
    folder: Path, cloud: Cloud, *, ride: Iterable[tuple[float, float]], bodies: Bodies = "columns",
    places: Mapping[str, tuple[float, float]] | None = None, site: Mapping[str, Any] | None = None,
    **says: Any,
) -> Path:  # fmt: skip
    """A site folder on the scanned square. `says`: properties of every body (`error_m`)."""
    import rasterio
    from rasterio.transform import from_origin

    folder.mkdir(parents=True, exist_ok=True)
    west, north = CORNER[0] - MARGIN_M, CORNER[1] + SIDE_M + MARGIN_M
    rows, count = cloud.raster.shape
    with rasterio.open(
        folder / "terrain.tif", "w", driver="GTiff", width=count, height=rows, count=1,
        dtype="float64", crs=SCAN_CRS, transform=from_origin(west, north, 1.0, 1.0), nodata=-9999.0,
    ) as raster:  # fmt: skip
        raster.write(cloud.raster, 1)
    drawn = (columns if bodies == "columns" else areas)(cloud, **says)
    spots = {"launch": LAUNCH, **(places or {})}
    drawn += [_feature("area", "boundary", "Polygon", [_ring(_square(0.0))])]
    drawn += [
        _feature(n, "place", "Point", [float(v) for v in lon_lat(at)]) for n, at in spots.items()
    ]
    path = [[float(v) for v in p] for p in lon_lat(list(ride))]
    drawn += [_feature("line", "ride", "LineString", path)]
    collection = {"type": "FeatureCollection", "features": drawn}
    (folder / "ground.geojson").write_text(json.dumps(collection), encoding="utf-8")
    own = {"name": "Scanned", "country": "FR", "terrain": "terrain.tif"}
    text = toml_text(laid_over(laid_over(SITE, own), site or {}))
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return folder
