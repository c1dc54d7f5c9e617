"""Laser scans for tests: made ones, real ones, sites of what is read from them, and a count of
returns that stand in no body. Nothing of the package is used to make or to count.

    scan = made_scan(path, ground=lambda x, y: 100 + 0.2 * x, trees=[(20.0, 30.0, 2.0, 9.0)])
    outside = left_out(found, read_scan([path]), ride)
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from scipy.ndimage import distance_transform_edt, map_coordinates
from scipy.spatial import cKDTree
from shapely.geometry import shape

from shotplan.intake.found import Found
from tests.worlds import SITE, laid_over, toml_text

Array = NDArray[np.float64]
GROUND, HIGH_LEAVES, ROOF, NOISE, WATER = 2, 5, 6, 7, 9  # classes of the LAS specification
HIGH_NOISE = 18
MADE_CRS, CORNER = "EPSG:32633", (500_000.0, 5_100_000.0)
LOW_M = 0.5


class Scan(NamedTuple):
    """`xyz (n, 3)` in the file's plane units and metres of height, `kind (n,)` classes."""

    crs: str
    xyz: Array
    kind: NDArray[np.int64]

    def lonlat(self, xy: Any) -> Array:
        to = Transformer.from_crs(self.crs, "EPSG:4326", always_xy=True, allow_ballpark=False)
        xy = np.asarray(xy, dtype=float)
        return np.stack(to.transform(xy[..., 0], xy[..., 1]), axis=-1)

    def diagonal(self, low: float = 0.2, high: float = 0.8) -> Array:
        """A ride across, in degrees."""
        corner, size = self.xyz[:, :2].min(axis=0), np.ptp(self.xyz[:, :2], axis=0)
        return self.lonlat(corner + size * [(low, low), (0.5, 0.45), (high, high)])


def read_scan(paths: Iterable[Path], crs: str = "", upright_m: float = 1.0) -> Scan:
    """Tiles, whole, by another way than the package reads them."""
    import laspy

    parts, kinds = [], []
    for path in paths:
        tile = laspy.read(path)
        crs = crs or tile.header.parse_crs().to_wkt()
        parts.append(np.stack([tile.x, tile.y, np.asarray(tile.z) * upright_m], axis=-1))
        kinds.append(np.asarray(tile.classification, dtype=np.int64))
    return Scan(crs, np.concatenate(parts), np.concatenate(kinds))


def write_las(
    path: Path, xyz: Array, kind: Any, *, crs: str | None = MADE_CRS, version: str = "1.4",
    gps_s: float | None = None, keys: bool = False,
) -> Path:  # fmt: skip
    """A LAS or, by its name, LAZ file. `keys`: the system as GeoTIFF keys, not as WKT."""
    import laspy

    header = laspy.LasHeader(version=version, point_format=6 if version == "1.4" else 1)
    header.scales, header.offsets = np.full(3, 0.001), np.floor(np.min(xyz, axis=0))
    if crs:
        header.add_crs(CRS.from_user_input(crs), keep_compatibility=version != "1.4" or keys)
    las = laspy.LasData(header)
    las.x, las.y, las.z = np.asarray(xyz, dtype=float).T
    las.classification = np.asarray(kind, dtype=np.uint8)
    if gps_s is not None:
        las.header.global_encoding.gps_time_type = laspy.header.GpsTimeType.STANDARD
        las.gps_time = np.full(len(xyz), gps_s - 1e9)
    las.write(str(path))
    return path


Post = tuple[float, float, float, float]  # east, north, radius, height


def made_xyz(
    *, side_m: float = 60.0, per_m2: float = 4.0, seed: int = 0,
    ground: Callable[[Array, Array], Array] = lambda x, y: 100.0 + 0.0 * x,
    trees: Sequence[Post] = (), roofs: Sequence[tuple[float, float, float, float, float]] = (),
    without: Callable[[Array, Array], NDArray[np.bool_]] | None = None,
) -> tuple[Array, NDArray[np.int64]]:  # fmt: skip
    """A square of `side_m`: domes of leaves over a disc, level roofs over west, south, east, north
    at a height above the highest ground under them; no ground under roofs."""
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0.0, side_m, (2, int(per_m2 * side_m**2)))
    z, kind = ground(x, y), np.full(len(x), GROUND)
    for east, north, radius, height in trees:
        away = np.hypot(x - east, y - north)
        foot = float(ground(np.array([east]), np.array([north]))[0])
        crown = foot + height - 0.4 * height * (away / radius) ** 2
        leaf = (away <= radius) & (crown > z) & ((kind == GROUND) | (kind == HIGH_LEAVES))
        leaf &= rng.uniform(size=len(x)) < 0.8
        z, kind = np.where(leaf, crown, z), np.where(leaf, HIGH_LEAVES, kind)
    for west, south, east, north, height in roofs:
        under = (x >= west) & (x <= east) & (y >= south) & (y <= north)
        corners = np.array([(west, south), (east, south), (east, north), (west, north)])
        top = float(ground(*corners.T).max()) + height
        z, kind = np.where(under, top, z), np.where(under, ROOF, kind)
    xyz = np.stack([x, y, z], axis=-1)
    kept = np.ones(len(x), dtype=bool) if without is None else ~without(x, y)
    return xyz[kept] + (*CORNER, 0.0), kind[kept]


def made_ride(*xy_m: tuple[float, float]) -> Array:
    """A ride in metres from the corner of a made scan, in degrees."""
    return Scan(MADE_CRS, np.empty((0, 3)), np.empty(0, dtype=int)).lonlat(np.array(xy_m) + CORNER)


# --- the count ----------------------------------------------------------------------------------


class Outside(NamedTuple):
    """Of how many returns that stand where somebody looked, how many are in no body, and how far
    the farthest of them is from the next."""

    of: int
    share: float
    farthest_m: float


def terrain_of(found: Found) -> tuple[Array, Any, str]:
    """The raster, NaN where it has nothing; its transform; its system."""
    import rasterio

    with rasterio.open(io.BytesIO(found.files["lidar-terrain.tif"])) as raster:
        z = raster.read(1, masked=True).astype(float).filled(np.nan)
        return z, raster.transform, raster.crs.to_wkt()


def reading(terrain: tuple[Array, Any, str], xy: Array) -> Array:
    """The terrain at places in its own system; NaN where one of four posts is missing."""
    z, affine, _ = terrain
    col, row = ~affine * (xy[:, 0], xy[:, 1])
    at = [np.asarray(row) - 0.5, np.asarray(col) - 0.5]
    return np.asarray(map_coordinates(z, at, order=1, mode="constant", cval=np.nan))


def left_out(found: Found, scan: Scan, ride_deg: Array, within_m: float) -> Outside:
    """Returns higher than `LOW_M` over the plane through the nearest of the ground."""
    lon, lat = ride_deg.mean(axis=0).tolist()
    own = CRS(f"+proj=aeqd +lat_0={lat!r} +lon_0={lon!r} +datum=WGS84 +units=m")
    to_own = Transformer.from_crs(scan.crs, own, always_xy=True, allow_ballpark=False)
    from_deg = Transformer.from_crs("EPSG:4326", own, always_xy=True, allow_ballpark=False)
    xy = np.stack(to_own.transform(scan.xyz[:, 0], scan.xyz[:, 1]), axis=-1)
    bare = np.isin(scan.kind, (GROUND, WATER))
    rest = ~bare & ~np.isin(scan.kind, (NOISE, HIGH_NOISE))
    line = shapely.LineString(np.stack(from_deg.transform(*ride_deg.T), axis=-1))
    rest &= shapely.contains_xy(line.buffer(within_m - 1.0), xy[:, 0], xy[:, 1])
    surface = _plane(xy[bare], scan.xyz[bare, 2], xy[rest])
    which = np.flatnonzero(rest)[scan.xyz[rest, 2] - surface > LOW_M]
    drawn = [(f["properties"], _moved(f, from_deg)) for f in found.features]
    seen = shapely.union_all([area for says, area in drawn if says["role"] == "surveyed"])
    which = which[shapely.contains_xy(seen, xy[which, 0], xy[which, 1])]
    bodies = [(says, area) for says, area in drawn if says["role"] != "surveyed"]
    back = Transformer.from_crs(own, scan.crs, always_xy=True, allow_ballpark=False)
    return _outside(found, bodies, xy[which], scan.xyz[which], back)


def _plane(xy: Array, z: Array, at: Array) -> Array:
    """What the plane nearest to the six nearest returns reads, no more than the highest of them
    and no less than the lowest."""
    _, near = cKDTree(xy).query(at, k=6)
    off = xy[near] - at[:, None]
    lines = np.concatenate([np.ones((*near.shape, 1)), off], axis=-1)
    square = np.swapaxes(lines, 1, 2) @ lines + np.diag([0.0, 1e-2, 1e-2])
    values = np.linalg.solve(square, np.swapaxes(lines, 1, 2) @ z[near][..., None])[:, 0, 0]
    return np.asarray(values.clip(z[near].min(axis=1), z[near].max(axis=1)))


def _moved(feature: Mapping[str, Any], to: Transformer) -> Any:
    drawn = shapely.transform(shape(feature["geometry"]), lambda p: np.column_stack(
        to.transform(p[:, 0], p[:, 1])))  # fmt: skip
    radius = feature["properties"].get("radius_m")
    return drawn.buffer(radius, quad_segs=64) if radius else drawn


def _outside(
    found: Found, bodies: Sequence[tuple[Any, Any]], xy: Array, xyz: Array, back: Transformer
) -> Outside:
    """A body on unknown ground has no known height: its plan counts."""
    inside = np.zeros(len(xy), dtype=bool)
    terrain = terrain_of(found)
    ground, z = reading(terrain, xyz[:, :2]), xyz[:, 2]
    tops: list[float] = []
    for says, area in bodies:
        corners = shapely.get_coordinates(
            area.centroid if says["role"] in ("tree", "pole") else area
        )
        foot = reading(terrain, np.stack(back.transform(*corners.T), axis=-1))
        high = np.nanmax(foot) + says["height_m"] if np.isfinite(foot).any() else np.inf
        low = foot[0] + says.get("base_m", 0.0) if says.get("radius_m") else -np.inf
        tops.append(float(high))
        west, south, east, north = area.bounds
        here = (xy[:, 0] >= west) & (xy[:, 0] <= east) & (xy[:, 1] >= south) & (xy[:, 1] <= north)
        if says["role"] == "wood":
            here &= np.isnan(ground) | (z <= ground + says["height_m"])
        else:
            here &= (z <= high) & ~(z < low)
        here[here] = shapely.intersects_xy(area, *xy[here].T)
        inside |= here
    out = np.flatnonzero(~inside)
    areas = np.array([area for _, area in bodies], dtype=object)
    over = np.maximum(z[out, None] - np.array(tops), 0.0)
    flat = shapely.distance(areas, np.asarray(shapely.points(xy[out]))[:, None])
    farthest = float(np.hypot(flat, over).min(axis=1).max(initial=0.0)) if len(out) else 0.0
    return Outside(len(xy), len(out) / max(len(xy), 1), farthest)


# --- sites --------------------------------------------------------------------------------------


def write_scan_site(
    folder: Path, found: Found, ride_deg: Array, *, around_m: float = 55.0,
    places: Mapping[str, Array] | None = None, site: Mapping[str, Any] | None = None,
    features: Sequence[Mapping[str, Any]] = (),
) -> Path:  # fmt: skip
    """A site folder of what was found: a boundary round the ride, the launch where it begins."""
    lon, lat = ride_deg.mean(axis=0).tolist()
    own = CRS(f"+proj=aeqd +lat_0={lat!r} +lon_0={lon!r} +datum=WGS84 +units=m")
    step = Transformer.from_crs("EPSG:4326", own, always_xy=True)
    line = shapely.LineString(np.stack(step.transform(*ride_deg.T), axis=-1))
    ring = np.array(line.buffer(around_m, quad_segs=2).exterior.coords)
    area = np.stack(step.transform(ring[:, 0], ring[:, 1], direction="INVERSE"), axis=-1)
    spots = {"launch": ride_deg[0], **(places or {})}
    own_features = [
        _feature("area", "boundary", "Polygon", [area.tolist()]),
        _feature("line", "ride", "LineString", ride_deg.tolist()),
        *(_feature(n, "place", "Point", np.asarray(at).tolist()) for n, at in spots.items()),
    ]
    folder.mkdir(parents=True, exist_ok=True)
    drawn = {"type": "FeatureCollection", "features": [*own_features, *features, *found.features]}
    (folder / "ground.geojson").write_text(json.dumps(drawn), "utf-8")
    for name, content in found.files.items():
        (folder / name).write_bytes(content)
    keys = laid_over(
        laid_over(SITE, {"name": "Scanned", "country": None, **found.keys}), site or {}
    )
    (folder / "site.toml").write_text(toml_text(keys), "utf-8")
    return folder


def _feature(name: str, role: str, kind: str, where: Any) -> dict[str, Any]:
    return {"type": "Feature", "properties": {"id": name, "role": role},
            "geometry": {"type": kind, "coordinates": where}}  # fmt: skip


def write_surroundings(
    path: Path, found: Found, wide_m: float = 1500.0, post_m: float = 26.0
) -> Path:
    """What was found of the ground, coarse, and what its edge would go on like: for wind and
    skyline. The scan's system must be of metres."""
    import rasterio
    from rasterio.transform import from_origin

    z, affine, crs = terrain_of(found)
    blank = np.isnan(z)
    filled = z[tuple(distance_transform_edt(blank, return_indices=True)[1])]
    half, (rows, cols) = round(wide_m / post_m), z.shape
    step = post_m / affine.a
    row = (np.arange(int(rows / step) + 2 * half) - half) * step
    col = (np.arange(int(cols / step) + 2 * half) - half) * step
    coarse = filled[np.ix_(row.clip(0, rows - 1).astype(int), col.clip(0, cols - 1).astype(int))]
    west, north = affine * (col[0] - 0.5 * step, row[0] - 0.5 * step)
    with rasterio.open(
        path, "w", driver="GTiff", width=len(col), height=len(row), count=1, dtype="float64",
        crs=crs, transform=from_origin(west, north, post_m, post_m),
    ) as raster:  # fmt: skip
        raster.write(coarse, 1)
    return path
