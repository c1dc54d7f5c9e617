"""What stands in a frame of a shot: in every pixel what it is, where, and how the sun lights it.

Only what the site says is in it: where the ground is not known, that is what the pixel says.
Things are as drawn, without their errors. A crown is rounded inside its column, a wire is drawn
thicker than it is. Colours are the output's.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.aids.frame_setting import GIRTH_M, Codes, Kind, Setting, Solids, figures
from shotplan.kernels.ground import posts
from shotplan.kernels.light import camera, shadows, view_march, z_buffer
from shotplan.kernels.solids import meshes
from shotplan.kernels.solids.columns import Columns
from shotplan.model.arrays import Array, Bools
from shotplan.scene.picture import RIDER_M, straight_down

NEAR_M, FAR_M = (
    120.0,
    4000.0,
)  # columns nearer than the first have fine crowns; beyond the other none
LEAVES = (Kind.TREE, Kind.WOOD)
OFF_M = 0.03  # out of a surface the light on it is asked
OWN_M = 3.0  # leaves are not shaded by what is so near toward the sun: they are no wall
SPARE_M = np.array([
    OWN_M if kind in LEAVES else 1.0 if kind >= Kind.RIDER else 0.4 if kind >= Kind.TREE else OFF_M
    for kind in Kind
])  # fmt: skip
"""How near, toward the sun, things do not shade what is of a kind."""
LOW_SUN = 0.35  # a camera lets in more light where the sun is lower than this sine


class Rider(NamedTuple):
    """`box` left, top, right, bottom in pixels (all NaN behind the camera); `share` of the frame's
    height he stands; `seen` how much of his figure nothing hides (NaN out of the picture) and
    `hidden_by` what hides most of it; `heads` column and row of a point a step on, from him."""

    box: tuple[float, float, float, float]
    share: float
    seen: float
    hidden_by: str
    heads: tuple[float, float]


class Sun(NamedTuple):
    """`up` above the level; `toward_m (3,)` unit vector to it; `at` column and row (+inf behind the
    camera); `toward` the way to it from the frame's middle, right and down; `ahead` of the camera
    or not; `free` whether nothing stands before it."""

    up: bool
    toward_m: Array
    at: tuple[float, float]
    toward: tuple[float, float]
    ahead: bool
    free: bool


class Frame(NamedTuple):
    """One picture, all `(rows, cols)`: `kind`; `thing` whose (-1 nobody's); `away_m` (+inf sky);
    `at_m (.., 3)`; `slope` of the ground (rise over run, 0 elsewhere); `light` about 1 on level
    ground in the sun; and of the whole, the view, the way of its rays, rider and sun, and which
    thing the camera is `inside` ("" none)."""

    view: view_march.View
    way: Array
    kind: Codes
    thing: NDArray[np.intp]
    away_m: Array
    at_m: Array
    slope: Array
    light: Array
    rider: Rider
    sun: Sun
    inside: str


def frame(setting: Setting, sample: int, cols: int = 640) -> Frame:
    """The picture at a sample of the shot, so many pixels wide."""
    view = _view(setting, sample, cols)
    way = view_march.rays(view)
    found = _Buffer(view, way)
    _put_ground(setting, found)
    band = z_buffer.nearest(view, setting.track)
    ground_there = found.kind == Kind.GROUND
    near = band.ahead_m < found.ahead_m * 1.01 + 0.15
    found.put(z_buffer.Seen(np.where(near & ground_there, band.ahead_m, np.inf), band.which),
              Kind.TRACK, force=True)  # fmt: skip
    rider = figures([setting.scene.track.ride.xyz_m[0, sample]], Kind.RIDER)
    parts = [setting.standing, _columns(setting, view), setting.crew, rider]
    solids = Solids(*(np.concatenate(fields) for fields in zip(*parts, strict=True)))
    met = z_buffer.nearest(view, solids.corners_m)
    found.put(met, solids.kind, solids.thing)
    start, end, whose = setting.wires
    found.put(z_buffer.strokes(view, start, end), Kind.WIRE, whose)
    at = view.eye_m + np.where(np.isfinite(found.ahead_m), found.ahead_m, 0.0)[..., None] * way
    away = found.ahead_m * np.linalg.norm(way, axis=-1)
    slope, light = _light(setting, sample, found, solids, met.which, at, away)
    return Frame(
        view, way, found.kind, found.thing, away, at, slope, light,
        _rider(setting, sample, found, rider), _sun(setting, sample, found), _inside(setting, view),
    )  # fmt: skip


def _view(setting: Setting, sample: int, cols: int) -> view_march.View:
    scene, cam = setting.scene, setting.scene.aircraft.camera
    return view_march.View(
        np.array(scene.track.xyz_m[0, sample]),
        float(scene.track.camera_azimuth_rad[0, sample]),
        float(setting.picture.tilt_rad[sample]),
        camera.focal_px(float(cols), cam.horizontal_fov_rad),
        cols,
        round(cols / cam.aspect),
    )


def _inside(setting: Setting, view: view_march.View) -> str:
    obstacles = setting.scene.site.obstacles
    met = obstacles.rest_drawn.nearest(view.eye_m[None], enough_m=0.1)
    return obstacles.things[met.thing[0]].label if met.distance_m[0] == 0.0 else ""


class _Buffer:
    """What is nearest so far."""

    def __init__(self, view: view_march.View, way: Array) -> None:
        shape = (view.rows, view.cols)
        self.view, self.way = view, way
        self.kind: Codes = np.full(shape, Kind.SKY, dtype=np.int8)
        self.thing = np.full(shape, -1, dtype=np.intp)
        self.ahead_m: Array = np.full(shape, np.inf)

    def put(
        self,
        seen: z_buffer.Seen,
        kind: Codes | Kind,
        thing: NDArray[np.intp] | None = None,
        *,
        force: bool = False,
    ) -> None:
        """Lay something over what is farther (or over all of it)."""
        over = np.isfinite(seen.ahead_m) & (force | (seen.ahead_m < self.ahead_m))
        which = seen.which[over]
        self.kind[over] = kind if isinstance(kind, Kind) else kind[which]
        self.thing[over] = -1 if thing is None else thing[which]
        self.ahead_m[over] = seen.ahead_m[over]


def _put_ground(setting: Setting, found: _Buffer) -> None:
    terrain = setting.scene.site.terrain
    ground = view_march.ground(terrain.grid, found.view, found.way)
    found.ahead_m = ground.ahead_m.copy()
    found.kind[np.isfinite(ground.ahead_m)] = Kind.GROUND
    found.kind[ground.unknown] = Kind.UNKNOWN
    for water in terrain.water:
        if np.isfinite(water.level_m):
            sheet = view_march.sheet(found.view, found.way, water.outline, water.level_m)
            over = np.isfinite(sheet) & ((sheet < found.ahead_m) | ground.unknown)
        else:
            met = found.kind == Kind.GROUND
            at = found.view.eye_m + found.ahead_m[met][:, None] * found.way[met]
            over, sheet = np.zeros_like(met), found.ahead_m
            over[met] = view_march.inside(water.outline, at[:, :2])
        found.kind[over], found.ahead_m[over] = Kind.WATER, sheet[over]


def _columns(setting: Setting, view: view_march.View) -> Solids:
    """Trees, trunks, poles; finer where they are near."""
    bodies = setting.scene.site.obstacles.rest_drawn
    away = np.hypot(*(bodies.columns.xy_m - view.eye_m[:2]).T)
    crowns = setting.column_kind == Kind.TREE
    shapes = (
        (crowns & (away < NEAR_M), meshes.crown(14), 32),
        (crowns & (away >= NEAR_M) & (away < FAR_M), meshes.crown(6), 10),
        (~crowns & (away < FAR_M), meshes.CYLINDER, 16),
    )
    parts = [Solids(np.empty((0, 3, 3)), np.empty(0, dtype=np.int8), np.empty(0, dtype=np.intp))]
    for mine, outline, sides in shapes:
        index = np.flatnonzero(mine)
        if len(index):
            columns = Columns(*(field[index] for field in bodies.columns))
            corners, which = meshes.turned(columns, outline, sides)
            own = index[which]
            parts.append(Solids(corners, setting.column_kind[own], bodies.column_thing[own]))
    return Solids(*(np.concatenate(fields) for fields in zip(*parts, strict=True)))


def _light(
    setting: Setting, sample: int, found: _Buffer, solids: Solids, which: NDArray[np.intp],
    at: Array, away: Array,
) -> tuple[Array, Array]:  # fmt: skip
    """Slope of the ground, and light, of every pixel."""
    toward = setting.scene.toward_sun[sample]
    normal = np.zeros((3, *found.kind.shape))
    normal[2] = 1.0
    slope = np.zeros(found.kind.shape)
    ground = (found.kind == Kind.GROUND) | (found.kind == Kind.TRACK)
    under = view_march.by_coordinate(at[..., 0][ground], at[..., 1][ground])
    east, north = (np.nan_to_num(posts.sample(g, under)) for g in setting.gradient)
    steep = np.sqrt(1.0 + east * east + north * north)
    for axis, part in enumerate((-east, -north, np.ones_like(east))):
        normal[axis][ground] = part / steep
    slope[ground] = np.hypot(east, north)
    solid = (found.kind >= Kind.TREE) & (found.kind != Kind.WIRE) & (which >= 0)
    normal[:, solid] = _facing(solids.corners_m, which[solid], found.way[solid]).T
    sky = 0.86 + 0.14 * normal[2]
    if toward[2] <= 0.0:
        return slope, sky
    east, north, up = (part * way for part, way in zip(normal, toward, strict=True))
    direct = np.maximum(east + north + up, 0.0) / max(float(toward[2]), LOW_SUN)
    lit = _lit(setting, found, solids, toward, at, normal, away)
    return slope, 0.52 * sky + 0.5 * np.minimum(direct, 1.3) * lit


def _facing(corners_m: Array, which: NDArray[np.intp], way: Array) -> Array:
    """The unit normals of triangles, on the side one sees."""
    a, b, c = (corners_m[which, k] for k in range(3))
    out = np.cross(b - a, c - a)
    out /= np.maximum(np.linalg.norm(out, axis=1), 1e-12)[:, None]
    return np.where(((out * way).sum(axis=1) > 0.0)[:, None], -out, out)


def _lit(
    setting: Setting, found: _Buffer, solids: Solids, toward: Array, at: Array, normal: Array,
    away: Array,
) -> Array:  # fmt: skip
    """The share of the sun's light that everything leaves to every pixel."""
    share = np.ones(found.kind.shape)
    asks = np.isfinite(found.ahead_m) & (found.kind != Kind.UNKNOWN) & (found.kind != Kind.WIRE)
    off = (at[..., k][asks] + OFF_M * normal[k][asks] for k in range(3))
    points = view_march.by_coordinate(*off)
    spare = SPARE_M[found.kind[asks]]
    by_ground = shadows.lit_by_ground(setting.hidden, points)
    by_things = shadows.lit(points, away[asks], spare, toward, solids.corners_m)
    share[asks] = np.minimum(by_ground, by_things)
    return share


def _rider(setting: Setting, sample: int, found: _Buffer, figure: Solids) -> Rider:
    scene, view = setting.scene, found.view
    foot = scene.track.ride.xyz_m[0, sample]
    course = float(scene.track.ride.course_rad[0, sample])
    step = np.array([np.sin(course), np.cos(course), 0.0])
    points = np.stack([foot, foot + np.array([0.0, 0.0, RIDER_M]), foot + step, foot + 0.1 * step])
    col, row, ahead = view_march.placed(view, points)
    focal = view.focal_px
    tall = camera.subject_px(focal, RIDER_M, points[0] + [0.0, 0.0, 1.0] - view.eye_m)
    if straight_down(scene):
        tall = np.asarray(focal * RIDER_M / max(float(view.eye_m[2] - foot[2]) - 1.0, 0.1))
    if ahead[0] <= z_buffer.NEAR_M:
        nowhere = (np.nan,) * 4
        return Rider(nowhere, float(tall) / view.rows, np.nan, "", (np.nan, np.nan))
    middle, half = 0.5 * (row[0] + row[1]), 0.5 * float(tall)
    wide = focal * GIRTH_M / ahead[0]
    across = 0.5 * (col[0] + col[1]) if ahead[1] > z_buffer.NEAR_M else col[0]
    box = (float(across - wide), float(middle - half), float(across + wide), float(middle + half))
    alone = z_buffer.nearest(view, figure.corners_m).which >= 0
    seen, by = np.nan, ""
    if alone.any():
        mine = found.kind[alone] == Kind.RIDER
        seen, by = float(mine.mean()), _hider(setting, found, alone)
    toward = (points[3] - foot) @ view_march.axes(view).T
    local = (foot - view.eye_m) @ view_march.axes(view).T
    flow = (toward[:2] * local[2] - local[:2] * toward[2]) / local[2] ** 2 * focal / 0.1
    return Rider(box, float(tall) / view.rows, seen, by, (float(flow[0]), -float(flow[1])))


def _hider(setting: Setting, found: _Buffer, alone: Bools) -> str:
    """What covers most of the rider's figure."""
    over = found.kind[alone] != Kind.RIDER
    if not over.any():
        return ""
    thing = found.thing[alone][over]
    if (thing < 0).mean() > 0.5:
        return "the ground"
    values, count = np.unique(thing[thing >= 0], return_counts=True)
    return str(setting.scene.site.obstacles.things[values[count.argmax()]].label)


def _sun(setting: Setting, sample: int, found: _Buffer) -> Sun:
    view, toward = found.view, setting.scene.toward_sun[sample]
    col, row, _ = view_march.placed(view, view.eye_m + 1e6 * toward)
    right, up, _ = view_march.axes(view) @ toward
    level = toward @ [np.sin(view.azimuth_rad), np.cos(view.azimuth_rad), 0.0]
    free = False
    if 0.0 <= col < view.cols and 0.0 <= row < view.rows:
        free = bool(found.kind[int(row), int(col)] == Kind.SKY)
    place, way = (float(col), float(row)), (float(right), -float(up))
    return Sun(bool(toward[2] > 0.0), toward, place, way, bool(level > 0.0), free)
