"""The definitions computed a second time, from the files alone: nothing of the package in here.

The ride is read from the printed track (`rider_*`): how a recording is smoothed is held to rides of
known truth elsewhere. Brute force where that is simplest: the surface is a cloud of points on its
patches, a ray is a row of points, the flight is integrated in small steps from continuous functions
of time.
"""

from __future__ import annotations

import csv
import itertools
import json
import math
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import rasterio
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from shapely import distance, points
from shapely.geometry import Point, Polygon, shape

Array = NDArray[np.float64]
Motion = Callable[[Array], Array]  # times -> `(n, 2)` or `(n, 3)` metres


class Ground(NamedTuple):
    """The posts of a raster: elevation `(rows, columns)`, each post's place in the frame."""

    z_m: Array
    east_m: Array
    north_m: Array
    cell: Transformer  # frame -> the raster's CRS
    to_cell: Any  # affine: the raster's CRS -> column, row


class Column(NamedTuple):
    """An upright cylinder, its height in elevations."""

    name: str
    centre_m: Array
    radius_m: float
    bottom_m: float
    top_m: float


class Prism(NamedTuple):
    """An upright prism over an outline grown by `grown_m`, up to an elevation."""

    name: str
    outline: Polygon
    grown_m: float
    top_m: float


class Curtain(NamedTuple):
    """A wire's span, and all that is under it: `(k, 3)` points of the wire, its thickness."""

    name: str
    wire_m: Array
    grown_m: float


Body = Column | Prism | Curtain


class Aircraft(NamedTuple):
    """What the flight and the sensing need of an aircraft, SI and degrees as in its file."""

    delay_s: float
    w_rad_s: float
    speed_m_s: float
    accel_m_s2: float
    climb_m_s: float
    sink_m_s: float
    reaction_s: float
    brake_m_s2: float
    span_m: float
    senses: Sequence[Mapping[str, Any]]


class Flight(NamedTuple):
    """`(n,)` times since the ride's first fix; `(n, 3)` places and velocities."""

    t_s: Array
    xyz_m: Array
    velocity_m_s: Array


CLASSES = Path(__file__).resolve().parents[2] / "shotplan" / "aircraft" / "classes"


def craft_of(name: str) -> Aircraft:
    """A bundled class, from its file."""
    says = tomllib.loads((CLASSES / f"{name}.toml").read_text(encoding="utf-8"))
    keys = (
        "response_delay_s", "response_rad_s", "max_speed_m_s", "max_accel_m_s2", "max_climb_m_s",
        "max_sink_m_s", "reaction_s", "brake_m_s2", "span_m", "senses",
    )  # fmt: skip
    return Aircraft(*(says[key] for key in keys))


# --- the frame and the ground ---------------------------------------------------------------


def read_features(folder: Path) -> dict[str, dict[str, Any]]:
    """The drawn things by id."""
    listed = json.loads((folder / "ground.geojson").read_text(encoding="utf-8"))["features"]
    return {str(f.get("id", f["properties"].get("id"))): f for f in listed}


def frame_about(features: Mapping[str, Mapping[str, Any]]) -> CRS:
    """The frame about the boundary's centroid in the longitude-latitude plane."""
    middle = next(
        shape(f["geometry"]).centroid
        for f in features.values()
        if f["properties"]["role"] == "boundary"
    )
    return CRS(f"+proj=aeqd +lat_0={middle.y!r} +lon_0={middle.x!r} +datum=WGS84 +units=m")


def in_frame(frame: CRS, lon_lat: Any) -> Array:
    """`(..., 2)` metres of longitudes and latitudes."""
    given = np.asarray(lon_lat, dtype=float)
    to = Transformer.from_crs("EPSG:4326", frame, always_xy=True, allow_ballpark=False)
    return np.stack(to.transform(given[..., 0], given[..., 1]), axis=-1)


def read_ground(path: Path, frame: CRS) -> Ground:
    """The posts (cell centres) of a raster; NaN where missing."""
    with rasterio.open(path) as raster:
        z = raster.read(1, masked=True).astype(float).filled(np.nan)
        crs, affine = CRS.from_wkt(raster.crs.to_wkt()), raster.transform
    column, row = np.meshgrid(np.arange(z.shape[1]) + 0.5, np.arange(z.shape[0]) + 0.5)
    x = affine.a * column + affine.b * row + affine.c
    y = affine.d * column + affine.e * row + affine.f
    to = Transformer.from_crs(crs, frame, always_xy=True, allow_ballpark=False)
    back = Transformer.from_crs(frame, crs, always_xy=True, allow_ballpark=False)
    east, north = to.transform(x, y)
    return Ground(z, np.asarray(east), np.asarray(north), back, ~affine)


def elevation(ground: Ground, xy_m: Array) -> Array:
    """`(...)` bilinear between the four posts around; NaN where one is missing."""
    x, y = ground.cell.transform(xy_m[..., 0], xy_m[..., 1])
    inverse = ground.to_cell
    column = inverse.a * np.asarray(x) + inverse.b * np.asarray(y) + inverse.c - 0.5
    row = inverse.d * np.asarray(x) + inverse.e * np.asarray(y) + inverse.f - 0.5
    rows, columns = ground.z_m.shape
    inside = (column >= 0) & (column <= columns - 1) & (row >= 0) & (row <= rows - 1)
    i = np.clip(np.floor(np.where(inside, row, 0)).astype(int), 0, rows - 2)
    j = np.clip(np.floor(np.where(inside, column, 0)).astype(int), 0, columns - 2)
    v, u, z = row - i, column - j, ground.z_m
    upper = z[i, j] * (1 - u) + z[i, j + 1] * u
    lower = z[i + 1, j] * (1 - u) + z[i + 1, j + 1] * u
    return np.asarray(np.where(inside, upper * (1 - v) + lower * v, np.nan))


def nearest_surface(ground: Ground, xyz_m: Array, parts: int = 24) -> float:
    """Distance from one point to the patches, each a cloud of `parts + 1` squared points;
    negative below them."""
    corners = np.stack([ground.east_m, ground.north_m, ground.z_m], axis=-1)
    four = np.stack([corners[:-1, :-1], corners[:-1, 1:], corners[1:, :-1], corners[1:, 1:]])
    middle, known = four.mean(axis=0), np.isfinite(four[..., 2]).all(axis=0)
    half = 0.5 * float(np.linalg.norm(four[3, 0, 0, :2] - four[0, 0, 0, :2]))
    best = float(np.nanmin(np.linalg.norm(corners - xyz_m, axis=-1)))
    level = np.linalg.norm(middle[..., :2] - xyz_m[:2], axis=-1) - half
    upright = np.maximum(four[..., 2].min(axis=0) - xyz_m[2], xyz_m[2] - four[..., 2].max(axis=0))
    least = np.hypot(np.maximum(level, 0), np.maximum(upright, 0))
    near = four[:, known & (least <= best)]
    u, v = np.meshgrid(np.linspace(0, 1, parts + 1), np.linspace(0, 1, parts + 1))
    weights = np.stack([(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v]).reshape(4, -1)
    cloud = np.einsum("ck,cpx->pkx", weights, near)
    distance = float(np.linalg.norm(cloud - xyz_m, axis=-1).min())
    return -distance if xyz_m[2] < elevation(ground, xyz_m[:2]) else distance


def nearest_point(ground: Ground, xyz_m: Array) -> Array:
    """`(2,)` where the surface is nearest, found on ever finer grids."""
    reach, middle = 1.5 * abs(nearest_surface(ground, xyz_m)) + 1.0, xyz_m[:2]
    for _ in range(6):
        step = np.linspace(-reach, reach, 81)
        x, y = np.meshgrid(middle[0] + step, middle[1] + step)
        xy = np.stack([x, y], axis=-1)
        away = np.hypot(np.linalg.norm(xy - xyz_m[:2], axis=-1), elevation(ground, xy) - xyz_m[2])
        middle = xy[np.unravel_index(np.nanargmin(away), away.shape)]
        reach /= 12.0
    return middle


def terrain_error_m(ground: Ground, xyz_m: Array, given_m: float | None) -> float:
    """What the terrain may be off there: its own error (a fifth of its cell unless given) and half
    a cell on the steepest slope within one cell of the nearest point."""
    cell = float(np.hypot(ground.east_m[0, 1] - ground.east_m[0, 0],
                          ground.north_m[0, 1] - ground.north_m[0, 0]))  # fmt: skip
    step = np.linspace(-cell, cell, 41)
    x, y = np.meshgrid(step, step)
    xy = np.stack([x, y], axis=-1)[np.hypot(x, y) <= cell] + nearest_point(ground, xyz_m)
    fine = 0.001 * cell
    rise = [
        (elevation(ground, xy + d) - elevation(ground, xy - d)) / (2 * fine)
        for d in fine * np.eye(2)
    ]
    slope = float(np.nanmax(np.hypot(*rise)))
    own = 0.2 * cell if given_m is None else given_m
    return math.hypot(own, 0.5 * cell * math.sin(math.atan(slope)))


# --- the ride ---------------------------------------------------------------------------------


def moving(t_s: Array, xy_m: Array) -> Motion:
    """Straight and even between the resampled places, straight on before and after them."""

    def at(t: Array) -> Array:
        i = np.clip(np.searchsorted(t_s, t, side="right") - 1, 0, len(t_s) - 2)
        share = (t - t_s[i]) / (t_s[i + 1] - t_s[i])
        return np.asarray(xy_m[i] + share[..., None] * (xy_m[i + 1] - xy_m[i]))

    return at


def course(rider: Motion, t: Array) -> Array:
    """`(..., 2)` unit vectors from where he was 1 s before to where he is 1 s after."""
    chord = rider(t + 1.0) - rider(t - 1.0)
    length = np.linalg.norm(chord, axis=-1, keepdims=True)
    if (length < 2.0).any():
        raise ValueError("slower than 1 m/s: holding the course is not in this second way")
    return np.asarray(chord / length)


def along(times: Array, rider: Motion) -> Array:
    """`(n,)` level distance from the first sample."""
    steps = np.linalg.norm(np.diff(rider(times), axis=0), axis=-1)
    return np.concatenate([[0.0], np.cumsum(steps)])


def over_ground(ground: Ground, level: Motion, height_m: float) -> Motion:
    """A motion `(n, 3)` at a height over the ground under it."""

    def at(t: Array) -> Array:
        xy = level(t)
        return np.concatenate([xy, elevation(ground, xy)[..., None] + height_m], axis=-1)

    return at


# --- the styles' set points -------------------------------------------------------------------


def downhill(ground: Ground, xy_m: Array) -> Array:
    """The unit vector down the mean slope, central differences over twice 10 m."""
    step = 10.0 * np.eye(2)
    slope = [(elevation(ground, xy_m + s) - elevation(ground, xy_m - s)) / 20.0 for s in step]
    mean = -np.nanmean(np.stack(slope), axis=1)
    return np.asarray(mean / np.linalg.norm(mean))


def beside_rider(rider: Motion, ground_under: Motion, offset_m: Motion, height_m: float) -> Motion:
    """Set points at a level offset from the rider, at a height over the ground under him."""

    def at(t: Array) -> Array:
        level = rider(t) + offset_m(t)
        return np.concatenate([level, ground_under(t)[..., 2:] + height_m], axis=-1)

    return at


def round_place(
    centre_m: Array, radius_m: float, height_m: float, rate_rad_s: float, start_rad: float
) -> Motion:
    """A circle, clockwise for a positive rate, from a bearing of its centre `(3,)`."""

    def at(t: Array) -> Array:
        bearing = start_rad + rate_rad_s * t
        away = [radius_m * np.sin(bearing), radius_m * np.cos(bearing), np.full_like(t, height_m)]
        return np.asarray(centre_m + np.stack(away, axis=-1))

    return at


# --- the following ----------------------------------------------------------------------------


def follow(
    wish: Motion, times: Array, craft: Aircraft, wind_m_s: Array, step_s: float = 0.01
) -> Flight:
    """The delayed set point followed, midpoint rule; starts against it, with its velocity."""
    fine = times[0] + step_s / 2 * np.arange(round((times[-1] - times[0]) / step_s) * 2 + 1)
    p_star = wish(fine - craft.delay_s)
    v_star = (wish(fine - craft.delay_s + 0.05) - wish(fine - craft.delay_s - 0.05)) / 0.1
    wind = np.array([*wind_m_s, 0.0])

    def held(v: Array) -> Array:
        air = v - wind
        air[:2] *= min(1.0, craft.speed_m_s / max(float(np.hypot(*air[:2])), 1e-9))
        air[2] = min(max(air[2], -craft.sink_m_s), craft.climb_m_s)
        return np.asarray(air + wind)

    def pull(i: int, p: Array, v: Array) -> Array:
        a = craft.w_rad_s**2 * (p_star[i] - p) + 2 * craft.w_rad_s * (v_star[i] - v)
        a[:2] *= min(1.0, craft.accel_m_s2 / max(float(np.hypot(*a[:2])), 1e-9))
        return np.asarray(a)

    p, v = p_star[0].copy(), held(v_star[0])
    places, velocities = [p], [v]
    for i in range(0, len(fine) - 2, 2):
        half_v = held(v + 0.5 * step_s * pull(i, p, v))
        a = pull(i + 1, p + 0.5 * step_s * v, half_v)
        p, v = p + step_s * half_v, held(v + step_s * a)
        places.append(p)
        velocities.append(v)
    every = round(0.1 / step_s)
    return Flight(times, np.array(places)[::every], np.array(velocities)[::every])


# --- obstacles, blindness, sight --------------------------------------------------------------


class Feet(NamedTuple):
    """The lowest and highest ground on which a thing may stand."""

    low_m: float
    high_m: float


def feet(ground: Ground, outline: Any, error_m: float) -> Feet:
    """Of a thing drawn as a point, line or polygon that may be `error_m` from there."""
    reach = outline.buffer(error_m, quad_segs=64) if error_m > 0.0 else outline
    if isinstance(reach, Polygon):
        west, south, east, north = reach.bounds
        x, y = np.meshgrid(np.arange(west, east, 0.1), np.arange(south, north, 0.1))
        inner = points(x.ravel(), y.ravel())
        kept = distance(reach, inner) == 0.0
        xy = np.concatenate(
            [np.stack([x.ravel(), y.ravel()], axis=-1)[kept], _every(reach.exterior, 0.05)]
        )
    else:
        xy = np.array([[outline.x, outline.y]])
    z = elevation(ground, xy)
    return Feet(float(z.min()), float(z.max()))


def _every(line: Any, step_m: float) -> Array:
    """`(n, 2)` points along a line, its own among them."""
    along = np.linspace(0.0, line.length, max(int(line.length / step_m), 1) + 1)
    placed = [line.interpolate(s).coords[0] for s in along]
    return np.array([*placed, *line.coords])


def tree_columns(
    name: str, says: Mapping[str, Any], xy_m: Array, on: Feet, e_m: float, up_m: float
) -> list[Body]:
    """Crown and trunk, grown by `e_m` in plan, `up_m` upward and the crown's underside as much
    downward (0, 0: as drawn)."""
    base = float(says.get("base_m", 0.0))
    top, under = on.high_m + float(says["height_m"]) + up_m, on.low_m + base - up_m
    if base == 0.0:
        return [Column(name, xy_m, float(says["radius_m"]) + e_m, on.low_m, top)]
    thick = float(says.get("trunk_radius_m", 0.3)) + e_m
    return [
        Column(name, xy_m, float(says["radius_m"]) + e_m, under, top),
        Column(name, xy_m, thick, on.low_m, max(under, on.low_m)),
    ]


def wire_spans(
    name: str, says: Mapping[str, Any], ground: Ground, xy_m: Array, error_m: float, grown: bool,
    e_m: float, up_m: float,
) -> list[Body]:  # fmt: skip
    """Straight from vertex to vertex (a sag that nobody gave is none), each over the highest ground
    on which it may stand."""
    given = says["height_m"]
    heights = list(given) if isinstance(given, list) else [given] * len(xy_m)
    tops = [
        feet(ground, Point(xy), error_m if grown else 0.0).high_m + h + (up_m if grown else 0.0)
        for xy, h in zip(xy_m, heights, strict=True)
    ]
    ends = np.column_stack([xy_m, tops])
    found: list[Body] = []
    for start, end in itertools.pairwise(ends):
        count = int(np.linalg.norm(end - start) / 0.05) + 2
        share = np.linspace(0.0, 1.0, count)[:, None]
        found.append(Curtain(name, start + share * (end - start), e_m if grown else 0.0))
    return found


def to_body(body: Body, xyz_m: Array) -> Array:
    """`(...)` 3-D distance to a body, 0 inside."""
    z = xyz_m[..., 2]
    if isinstance(body, Curtain):
        away = np.linalg.norm(xyz_m[..., None, :2] - body.wire_m[:, :2], axis=-1) - body.grown_m
        above = z[..., None] - (body.wire_m[:, 2])
        return np.asarray(np.hypot(np.maximum(away, 0), np.maximum(above, 0)).min(axis=-1))
    if isinstance(body, Prism):
        level = distance(body.outline, points(xyz_m[..., :2])) - body.grown_m
        upright = z - body.top_m
    else:
        level = np.linalg.norm(xyz_m[..., :2] - body.centre_m, axis=-1) - body.radius_m
        upright = np.maximum(body.bottom_m - z, z - body.top_m)
    return np.asarray(np.hypot(np.maximum(level, 0), np.maximum(upright, 0)))


def nearest_body(bodies: Sequence[Body], way_m: Array, blind: bool) -> tuple[float, str]:
    """The least distance to any body and whose it is: from the whole way `(m, 3)` of the overrun
    where blind, and to wires always; from its beginning elsewhere."""
    return min(
        (float(to_body(b, way_m if blind or isinstance(b, Curtain) else way_m[:1]).min()), b.name)
        for b in bodies
    )


def overrun_m(craft: Aircraft, speed_m_s: float) -> float:
    """How far it goes on when everything freezes."""
    return speed_m_s * craft.reaction_s + speed_m_s**2 / (2 * craft.brake_m_s2)


def is_blind(craft: Aircraft, velocity_m_s: Array, nose_rad: float) -> bool:
    """Whether it moves, and no working sector looks that way."""
    east, north, up = (float(v) for v in velocity_m_s)
    speed = math.sqrt(east**2 + north**2 + up**2)
    if speed <= 0.5:
        return False
    pitch = math.degrees(math.atan2(up, math.hypot(east, north)))
    side = math.degrees(math.atan2(east, north) - nose_rad)
    for sense in craft.senses:
        if speed > sense["works_to_m_s"] or sense["range_m"] < overrun_m(craft, speed):
            continue
        if sense["looks"] == "around" and abs(pitch) <= 45:
            width = (sense["to_deg"] - sense["from_deg"]) % 360 or 360
            if (side - sense["from_deg"]) % 360 <= width:
                return False
        if (sense["looks"] == "below" and pitch < -45) or (
            sense["looks"] == "above" and pitch > 45
        ):
            return False
    return True


def swept(craft: Aircraft, xyz_m: Array, velocity_m_s: Array) -> Array:
    """`(m, 3)` the position and the whole overrun segment from there, every 2 cm or finer."""
    speed = float(np.linalg.norm(velocity_m_s))
    if speed == 0.0:
        return np.asarray(xyz_m[None])
    length = overrun_m(craft, speed)
    share = np.linspace(0, 1, int(length / 0.02) + 2)[:, None]
    return np.asarray(xyz_m + share * length * velocity_m_s / speed)


def ray_room_m(ground: Ground, bodies: Sequence[Body], eye_m: Array, xyz_m: Array) -> float:
    """How much room the ray leaves above the ground and beside bodies; negative where cut.

    NaN where it crosses missing terrain and nothing known cuts it.
    """
    length = float(np.linalg.norm(xyz_m - eye_m))
    share = np.linspace(0, 1, int(length / 0.1) + 2)[:, None]
    ray = eye_m + share * (xyz_m - eye_m)
    over = ray[:, 2] - elevation(ground, ray[:, :2])
    least = float(np.nanmin(over))
    for body in bodies:
        if not isinstance(body, Curtain):  # a wire hides nothing
            least = min(least, float(to_body(body, ray).min()) or -1e-9)
    return least if least < 0 or np.isfinite(over).all() else math.nan


def read_rows(path: Path) -> dict[str, list[dict[str, str]]]:
    """The rows of a track file by shot."""
    shots: dict[str, list[dict[str, str]]] = {}
    with path.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            shots.setdefault(row["shot"], []).append(row)
    return shots


def numbers(rows: Sequence[Mapping[str, str]], *keys: str) -> Array:
    """`(n, keys)` of a track file's fields, NaN where empty."""
    listed = [[float(r[k]) if r[k] else math.nan for k in keys] for r in rows]
    return np.array(listed)
