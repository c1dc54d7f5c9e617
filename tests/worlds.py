"""Small worlds for tests: site folders written from a few numbers, in metres about one point.

    folder = write_site(tmp_path, features=[tree("oak", east_m=8.0, north_m=0.0)], ride=90.0)
    outing = plan.read(folder)

Everything is given in the frame (metres east and north of 14° east, 46° north), which is also the
frame the site gets: its boundary is a rectangle about that point, 1 km to a side. Unless told
otherwise the ground is flat at 84 m, somebody looked for everything inside the boundary, the ride
is a drawn straight line of 200 m about the middle at 6 m/s, the launch is 30 m to its right.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import MISSING, fields
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, get_args, get_type_hints

import numpy as np
from numpy.typing import NDArray
from pyproj import Transformer

from shotplan.flying import stage_scene
from shotplan.kernels.motion.fall import Impact, fall_to_ground
from shotplan.model.frame import Frame
from shotplan.model.ride import STEP_S, Ride
from shotplan.outing import read
from shotplan.scene.scene import Scene

Array = NDArray[np.float64]
Features = Iterable[Mapping[str, Any]]

FRAME = Frame(lon_deg=14.0, lat_deg=46.0)
GROUND_M = 84.0
RASTER_CRS = "EPSG:32633"  # UTM zone 33 north: the frame lies in it
ALL_KINDS = ["trees", "buildings", "wires", "people", "wildlife"]
SIDE_TRACK = {
    "name": "along",
    "style": "side-track",
    "side": "left",
    "distance_m": 12.0,
    "height_m": 6.0,
}
SITE: dict[str, Any] = {
    "format": 1,
    "name": "Test heath",
    "rules": "eu-open-a1",
    "country": "SI",
    "start": datetime.fromisoformat("2026-06-20T14:00:00+02:00"),
    "return_height_m": 40.0,
    "survey": {"on": date(2026, 6, 2), "looked_for": ALL_KINDS},
    "weather": {
        "wind_m_s": 2.0,
        "wind_from_deg": 250.0,
        "gust_m_s": 4.0,
        "temperature_c": 14.0,
        "visibility_m": 10000.0,
    },
    "aircraft": {"class": "folding-light"},
    "ride": {"path": "line", "speed_m_s": 6.0},
    "crew": [
        {"name": "Ada", "role": "rider"},
        {"name": "Bo", "role": "pilot", "stands": "launch"},
    ],
    "disturbance": {"rides": 1},
    "shot": [SIDE_TRACK],
}


def lonlat(east_m: float, north_m: float) -> list[float]:
    """A point of the frame as longitude, latitude."""
    return [float(v) for v in FRAME.lonlat_deg(np.array([east_m, north_m]))]


def straight(azimuth_deg: float, length_m: float = 200.0) -> Array:
    """`(2, 2)` a straight line about the middle, from its start to its end."""
    azimuth = np.radians(azimuth_deg)
    half = 0.5 * length_m * np.array([np.sin(azimuth), np.cos(azimuth)])
    return np.stack([-half, half])


def point(east_m: float, north_m: float) -> dict[str, Any]:
    """A GeoJSON point."""
    return {"type": "Point", "coordinates": lonlat(east_m, north_m)}


def line(path_m: Array | list[tuple[float, float]]) -> dict[str, Any]:
    """A GeoJSON line along `(k, 2)` metres."""
    return {"type": "LineString", "coordinates": [lonlat(*p) for p in np.asarray(path_m)]}


def polygon(*rings_m: Array | list[tuple[float, float]]) -> dict[str, Any]:
    """A GeoJSON polygon; rings `(k, 2)` metres, not closed."""
    rings = [[lonlat(*p) for p in np.asarray(ring)] for ring in rings_m]
    return {"type": "Polygon", "coordinates": [[*ring, ring[0]] for ring in rings]}


def box(west_m: float, south_m: float, east_m: float, north_m: float) -> Array:
    """`(4, 2)` the ring of a rectangle."""
    return np.array(
        [(west_m, south_m), (east_m, south_m), (east_m, north_m), (west_m, north_m)], dtype=float
    )


def feature(name: str, role: str, geometry: Mapping[str, Any], /, **says: Any) -> dict[str, Any]:
    """A GeoJSON feature with an id, a role and its properties."""
    return {
        "type": "Feature",
        "id": name,
        "properties": {"role": role, **says},
        "geometry": dict(geometry),
    }


def tree(
    name: str, /, *, east_m: float, north_m: float, height_m: float = 10.0, radius_m: float = 2.0,
    **says: Any,
) -> dict[str, Any]:  # fmt: skip
    """A tree."""
    where = point(east_m, north_m)
    return feature(name, "tree", where, height_m=height_m, radius_m=radius_m, **says)


def place(name: str, /, *, east_m: float, north_m: float, **says: Any) -> dict[str, Any]:
    """A place."""
    return feature(name, "place", point(east_m, north_m), **says)


def boundary() -> dict[str, Any]:
    """A rectangle in degrees, so that its centroid is the frame's centre, 500 m to each side."""
    east, north = np.array(lonlat(500.0, 0.0))[0] - 14.0, np.array(lonlat(0.0, 500.0))[1] - 46.0
    ring = [(14 + i * east, 46 + j * north) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    return feature("area", "boundary", {"type": "Polygon", "coordinates": [[*ring, ring[0]]]})


def gpx_text(path_m: Array, t_s: Array | None, elevation_m: Array | None = None) -> str:
    """A recording along `(k, 2)` metres with times (seconds after noon; None or NaN: without)."""
    noon = datetime(2026, 6, 2, 12, tzinfo=UTC)
    points = []
    for k, (lon, lat) in enumerate(FRAME.lonlat_deg(np.asarray(path_m, dtype=float))):
        inner = f"<ele>{elevation_m[k]}</ele>" if elevation_m is not None else ""
        if t_s is not None and np.isfinite(t_s[k]):
            inner += f"<time>{(noon + timedelta(seconds=float(t_s[k]))).isoformat()}</time>"
        points.append(f'<trkpt lat="{lat:.10f}" lon="{lon:.10f}">{inner}</trkpt>')
    return (
        '<?xml version="1.0"?><gpx version="1.1" creator="tests" '
        'xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        + "".join(points)
        + "</trkseg></trk></gpx>"
    )


def write_terrain(
    path: Path,
    ground_m: Callable[[Array, Array], Array],
    cell_m: float = 5.0,
    half_m: float = 400.0,
) -> None:
    """A GeoTIFF of `ground_m(east, north)` (NaN missing) around the middle, in UTM."""
    import rasterio
    from rasterio.transform import from_origin

    to_utm = Transformer.from_crs(FRAME.crs, RASTER_CRS, always_xy=True)
    east, north = to_utm.transform(0.0, 0.0)
    count = int(2 * half_m / cell_m)
    offset = (np.arange(count) + 0.5) * cell_m - half_m
    x, y = np.meshgrid(east + offset, north - offset)
    z = ground_m(*to_utm.transform(x, y, direction="INVERSE"))
    with rasterio.open(
        path, "w", driver="GTiff", width=count, height=count, count=1, dtype="float64",
        crs=RASTER_CRS, transform=from_origin(east - half_m, north + half_m, cell_m, cell_m),
        nodata=-9999.0,
    ) as raster:  # fmt: skip
        raster.write(np.where(np.isfinite(z), z, -9999.0), 1)


def write_site(
    folder: Path,
    *,
    site: str | Mapping[str, Any] | None = None,
    features: Features = (),
    ride: float | Array | str = 0.0,
    terrain: float | Callable[[Array, Array], Array] | None = GROUND_M,
    cell_m: float = 5.0,
    without: Iterable[str] = (),
) -> Path:
    """Write a site folder and return it.

    `site`: keys laid over `SITE`, tables key by key (None takes a key away), or a whole site.toml
    as text. `ride`: an azimuth in degrees, `(k, 2)` metres to draw, or the text of a GPX file.
    `terrain`: an elevation, a function of metres east and north (written as a raster), or None.
    `without`: ids of the drawn features to leave out (`area`, `launch`, `line`).
    """
    folder.mkdir(parents=True, exist_ok=True)
    given: dict[str, Any] = {}
    drawn = straight(ride) if isinstance(ride, int | float) else ride
    if isinstance(drawn, str):
        (folder / "ride.gpx").write_text(drawn, encoding="utf-8")
        given["ride"] = {"path": "ride.gpx", "speed_m_s": None}
        drawn = straight(0.0)
    if callable(terrain):
        write_terrain(folder / "terrain.tif", terrain, cell_m)
        given["terrain"] = "terrain.tif"
    else:
        given["terrain_m"] = terrain
    middle, along = drawn.mean(axis=0), drawn[-1] - drawn[0]
    right = np.array([along[1], -along[0]]) / max(float(np.linalg.norm(along)), 1e-9)
    launch = middle + 30.0 * right
    own = [
        boundary(),
        place("launch", east_m=launch[0], north_m=launch[1]),
        feature("line", "ride", line(drawn)),
    ]
    listed = [f for f in own if f["id"] not in set(without)] + [dict(f) for f in features]
    collection = {"type": "FeatureCollection", "features": listed}
    (folder / "ground.geojson").write_text(json.dumps(collection), encoding="utf-8")
    if isinstance(site, str):
        text = site
    else:
        text = toml_text(laid_over(laid_over(SITE, given), site or {}))
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return folder


def staged(folder: Path, /, *, rides: int = 1, **world: Any) -> Scene:
    """The first shot of a site written with the keywords of `write_site`, flown and not judged."""
    outing = read(write_site(folder, **world))
    return stage_scene(outing, outing.shots[0], outing.day.start, rides)


def made_ride(xy_m: Array, lead: int = 10, ground_m: float = 30.0) -> Ride:
    """Rides `(r, n, 2)` over level ground, the first `lead` samples not filmed."""
    rides, samples, _ = xy_m.shape
    velocity = np.gradient(xy_m, STEP_S, axis=1)
    speed = np.hypot(velocity[..., 0], velocity[..., 1])
    xyz = np.concatenate([xy_m, np.full((rides, samples, 1), ground_m)], axis=-1)
    return Ride(
        t_s=(np.arange(samples, dtype=float) - lead) * STEP_S,
        xyz_m=xyz,
        known_xyz_m=xyz,
        speed_m_s=speed,
        course_rad=np.arctan2(velocity[..., 0], velocity[..., 1]),
        along_m=np.cumsum(speed, axis=1) * STEP_S,
        filming=np.broadcast_to(np.arange(samples) >= lead, (rides, samples)),
        ground_known=np.ones((rides, samples), dtype=bool),
    )


def laid_over(base: Mapping[str, Any], top: Mapping[str, Any]) -> dict[str, Any]:
    """`base` with the keys of `top` laid over it, tables key by key; None takes a key away."""
    merged = dict(base)
    for key, value in top.items():
        if isinstance(value, Mapping) and isinstance(merged.get(key), Mapping):
            merged[key] = laid_over(merged[key], value)
        else:
            merged[key] = value
    return {k: v for k, v in merged.items() if v is not None}


def toml_text(raw: Mapping[str, Any]) -> str:
    """A mapping of scalars, tables and lists of tables as TOML."""
    lines = [f"{_key(k)} = {_value(v)}" for k, v in raw.items() if not _is_table(v)]
    for key, value in raw.items():
        tables = value if isinstance(value, list) else [value]
        head = f"[[{key}]]" if isinstance(value, list) else f"[{key}]"
        if _is_table(value):
            for one in tables:
                lines += [head, *(f"{_key(k)} = {_value(v)}" for k, v in one.items())]
    return "\n".join(lines) + "\n"


def _is_table(value: Any) -> bool:
    one = value[0] if isinstance(value, list) and value else value
    return isinstance(one, Mapping)


def _key(key: str) -> str:
    return key if key.replace("_", "").replace("-", "").isalnum() else json.dumps(key)


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, bool | str):
        return json.dumps(value)
    return repr(float(value)) if isinstance(value, float) else str(value)


def level_fall(
    velocity_m_s: Array, height_m: Array, mass_kg: float, drag_area_m2: float, wind_m_s: Array
) -> Impact:
    """Falls from `height_m (n,)` above the middle of level ground at 0 m."""
    start = np.stack([0.0 * height_m, 0.0 * height_m, height_m], axis=-1)
    area = np.full(len(height_m), drag_area_m2)
    return fall_to_ground(
        start, velocity_m_s, mass_kg, area, wind_m_s, lambda xy_m: np.zeros(len(xy_m))
    )


def keys_of(style: type[Any], place: str) -> dict[str, Any]:
    """Keys for a style that the tests do not know yet, by the types of its fields: the first word
    of a choice, 8 for a number, `place` for a text; what may be left out is."""
    hints = get_type_hints(style)
    words = {float: 8.0, int: 2, str: place}
    return {
        f.name: get_args(hints[f.name])[0] if get_args(hints[f.name]) else words[hints[f.name]]
        for f in fields(style)
        if f.default is MISSING
    }
