"""A small invented plan, built from the types alone: no folder is read and nothing is flown.

Level (or hilly) ground, a straight ride to the north-east, two shots, trees, a wood, a building,
a wire, a keep-out, people, and a part of the site where nobody looked.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from shotplan.checks import clearance, height, sight
from shotplan.judging import judge as judging
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.kernels.ground import grid
from shotplan.kernels.motion.sensing import Sector
from shotplan.kernels.solids import columns, prisms
from shotplan.model.aircraft import Aircraft, Camera
from shotplan.model.arrays import Array
from shotplan.model.day import Day, Person, Weather
from shotplan.model.disturbance import Disturbance
from shotplan.model.flight import OneMoment, Stage, Track, Wish
from shotplan.model.frame import Frame
from shotplan.model.obstacles import Bodies, Obstacles, Thing
from shotplan.model.ride import Ride
from shotplan.model.rules import HeightRule, Reminder, Rules, SightRule, Source
from shotplan.model.settings import Setting
from shotplan.model.shot import Shot
from shotplan.model.site import PeopleArea, Place, Site, Surveyed, Zone
from shotplan.model.terrain import Terrain, Water
from shotplan.model.verdict import worst
from shotplan.outing import Outing
from shotplan.scene.margin import Margin, Remark, Words
from shotplan.scene.scene import Scene

GROUND_M = 84.0
SPEED_M_S = 6.0
COURSE_RAD = math.radians(60.0)


@dataclass(frozen=True, kw_only=True)
class Beside(OneMoment):
    """A stand-in style: abeam at a distance and a height."""

    name: ClassVar[str] = "side-track"
    flies: ClassVar[str] = "beside the rider"
    height_m: float = 6.0

    def words(self) -> str:
        return f"{self.name}, {self.height_m:g} m above the rider"

    def settings(self) -> tuple[Setting, ...]:
        return (Setting.height(self.height_m, "rider"),)

    def place(self, ride: Ride, stage: Stage) -> Wish:
        raise NotImplementedError


def made_plan(
    *,
    site_name: str = "Gull Scarp",
    shot_name: str = "rim, from the sea side",
    tree_name: str = "the leaning larch",
    hilly: bool = False,
    rides: int = 1,
    trees: int = 9,
) -> Plan:
    """The plan. `rides` > 1 only repeats the undisturbed ride."""
    terrain = _terrain(hilly)
    things = _things(tree_name, trees)
    site = _site(site_name, terrain, things)
    ride = _ride(terrain, 1, 0.0, 300.0)
    outing = Outing(
        site=site,
        day=_day(),
        aircraft=_aircraft(),
        rules=_rules(),
        ride=ride,
        ride_source="ride.gpx",
        shots=(
            Shot(name=shot_name, style=Beside(), from_m=0.0, to_m=300.0),
            Shot(name="from the land side", style=Beside(height_m=14.0), from_m=60.0, to_m=150.0),
        ),
        inputs={"site.toml": "0" * 64, "ground.geojson": "f" * 64},
        repairs=("ride.gpx: 2 fixes out of 312 jumped and were left out",),
        disturbance=Disturbance(rides=rides),
    )
    shots = tuple(
        _shot(outing, shot, terrain, rides, abeam)
        for shot, abeam in zip(outing.shots, (12.0, -14.0), strict=True)
    )
    return Plan(
        outing=outing,
        shots=shots,
        verdict=worst(s.verdict for s in shots),
        version="0.1.0",
        cautions=("Walk the ride first, look for wires, and fly the easy version first.",),
    )


def _terrain(hilly: bool) -> Terrain:
    if not hilly:
        pond = np.array([[-40.0, 60.0], [-10.0, 62.0], [-12.0, 85.0], [-44.0, 80.0]])
        water = (Water(id="pond", outline=(pond,), level_m=GROUND_M),)
        return Terrain(grid=grid.flat(GROUND_M), source="level ground", cell_m=1.0, error_m=0.0,
                       water=water)  # fmt: skip
    cell, rows, cols = 5.0, 90, 100
    y, x = np.mgrid[0:rows, 0:cols] * cell
    z = GROUND_M + 12.0 * np.sin(x / 60.0) * np.cos(y / 75.0) - 0.08 * x
    z[20:30, 10:22] = np.nan
    west, south = -250.0, -225.0
    to_grid = np.array(
        [[-south / cell, 0, 1 / cell, 0, 0, 0], [-west / cell, 1 / cell, 0, 0, 0, 0]]
    )
    to_frame = np.array([[west, 0, cell, 0, 0, 0], [south, cell, 0, 0, 0, 0]])
    return Terrain(grid=grid.make(z, to_grid, to_frame), source="made hills", cell_m=cell)


def _along(metres: Array, abeam_m: float = 0.0) -> Array:
    """Points of the ride's line, `abeam_m` to the left of it; the middle is the frame's origin."""
    ahead = np.array([math.sin(COURSE_RAD), math.cos(COURSE_RAD)])
    left = np.array([-ahead[1], ahead[0]])
    return np.asarray((metres - 150.0)[:, None] * ahead + abeam_m * left)


def _things(tree_name: str, trees: int) -> tuple[Thing, ...]:
    at = _along(np.linspace(15.0, 285.0, trees), 21.0)
    at[trees // 2] = _along(np.array([150.0]), 14.5)[0]
    made = [
        Thing(
            id=f"tree-{i:02d}", name=tree_name if i == trees // 2 else "", role="tree",
            where_m=xy[None], height_m=9.0 + i % 3, base_m=2.0, radius_m=2.0 + 0.3 * (i % 3),
            trunk_radius_m=0.3, error_m=1.5, height_error_m=1.0, seen_on="2026-06-02",
        )
        for i, xy in enumerate(at)
    ]  # fmt: skip
    wood = _along(np.array([190.0, 190.0, 285.0, 285.0]))
    wood += np.array([[6.0, -14.0], [26.0, -60.0], [30.0, -70.0], [10.0, -14.0]])
    hut = np.array([[-118.0, -110.0], [-106.0, -110.0], [-106.0, -102.0], [-118.0, -102.0]])
    wire = np.array([[-150.0, 40.0], [-70.0, 62.0], [10.0, 95.0], [90.0, 120.0]])
    return (
        *made,
        Thing(id="wood", name="", role="wood", where_m=wood, height_m=14.0, base_m=3.0, error_m=2.0,
              height_error_m=1.0),
        Thing(id="hut", name="peat hut", role="building", where_m=hut, height_m=4.0, error_m=1.0,
              height_error_m=1.0),
        Thing(id="wire", name="", role="wire", where_m=wire, height_m=math.nan, error_m=1.0,
              height_error_m=1.0),
        Thing(id="post", name="", role="pole", where_m=wire[1:2], height_m=8.0, radius_m=0.3,
              error_m=1.0, height_error_m=1.0),
    )  # fmt: skip


def _no_bodies() -> Bodies:
    none, index = np.zeros(0), np.zeros(0, dtype=np.intp)
    walls = prisms.Prisms(np.zeros((0, 3, 2)), none, none, none)
    posts = columns.Columns(np.zeros((0, 2)), none, none, none)
    return Bodies(columns=posts, column_thing=index, prisms=walls, prism_thing=index,
                  doubtful=walls, doubtful_thing=index)  # fmt: skip


def _site(name: str, terrain: Terrain, things: tuple[Thing, ...]) -> Site:
    none = _no_bodies()

    def place(key: str, called: str, x: float, y: float) -> Place:
        z = float(terrain.ground_m(np.array([x, y])))
        return Place(id=key, name=called, xyz_m=np.array([x, y, z]))

    boundary = np.array([[-170.0, -130.0], [165.0, -125.0], [170.0, 130.0], [-165.0, 125.0]])
    looked = boundary * np.array([0.8, 0.95])
    closed = np.array([[95.0, -20.0], [140.0, -25.0], [145.0, 20.0], [100.0, 22.0]])
    path = np.array([[-160.0, -60.0], [-60.0, -85.0], [40.0, -80.0], [150.0, -110.0]])
    return Site(
        name=name,
        frame=Frame(lon_deg=-8.1, lat_deg=54.2),
        terrain=terrain,
        obstacles=Obstacles(things=things, rest_grown=none, rest_drawn=none, wires_grown=none,
                            wires_drawn=none, opaque=none),
        places={p.id: p for p in (place("launch", "", -20.0, -40.0),
                                  place("lookout", "the lookout", 30.0, -62.0))},
        boundary=(boundary,),
        surveyed=(Surveyed(id="walked", outline=(looked,), on="2026-06-02",
                           looked_for=frozenset(("trees", "buildings", "wires"))),),
        zones=(Zone(id="nests", name="nesting ledge", outline=(closed,), floor_m=-math.inf,
                    ceiling_m=60.0, reason="birds",
                    prisms=prisms.Prisms(np.zeros((0, 3, 2)), *[np.zeros(0)] * 3)),),
        people=(PeopleArea(id="path", name="coast path", geometry="line", parts=(path,)),),
        country="IE",
    )  # fmt: skip


def _day() -> Day:
    zone = dt.timezone(dt.timedelta(hours=1))
    return Day(
        start=dt.datetime(2026, 6, 20, 20, 10, tzinfo=zone),
        timezone=zone,
        weather=Weather(wind_m_s=5.0, wind_from_rad=math.radians(250.0), visibility_m=10000.0),
        crew=(
            Person(name="Noor", roles=frozenset(("rider",))),
            Person(name="Sem", roles=frozenset(("pilot",)), stands="launch"),
        ),
    )


def _aircraft() -> Aircraft:
    ahead = Sector("around", -math.pi / 4, math.pi / 4, 25.0, 10.0)
    return Aircraft(
        name="folding-light", describes="made", mass_kg=0.249, span_m=0.36, max_speed_m_s=12.0,
        max_climb_m_s=4.0, max_sink_m_s=3.0, max_accel_m_s2=4.0, max_tilt_rad=0.52,
        max_yaw_rad_s=1.57, max_wind_m_s=10.0, follows_by="sight", sight_sigma_m=0.4,
        position_sigma_m=1.5, response_delay_s=0.5, response_rad_s=0.9, reaction_s=1.0,
        brake_m_s2=4.0, camera_turns_freely=False, hover_w=38.0, battery_wh=18.0,
        reserve_fraction=0.3, link_mhz=2400.0,
        camera=Camera(horizontal_fov_rad=1.25, aspect=16 / 9, frame_width_px=3840, fps=30.0,
                      tilt_min_rad=-1.57, tilt_max_rad=1.05),
        senses=(ahead,), least_light_lux=(300.0,),
    )  # fmt: skip


def _rules() -> Rules:
    source = Source(document="made pack", clause="1(2)", read_on="2026-11-25", known="read")
    return Rules(
        id="eu-open-a1", title="Open category, A1", countries=("IE",), european=True,
        read_on="2026-11-25",
        height=HeightRule(limit_m=120.0, measured="nearest-surface", source=source),
        sight=SightRule(eyes="pilot", distance_limit=True, follow_within_m=50.0, source=source),
        reminders=(
            Reminder(text="Do not fly over crowds.", source="made pack, 2", known="read"),
            Reminder(text="Register as an operator.", source="made pack, 14(5)", known="memory"),
        ),
    )  # fmt: skip


def _ride(terrain: Terrain, rides: int, from_m: float, to_m: float) -> Ride:
    t = np.arange(0.0, (to_m - from_m) / SPEED_M_S + 1e-9, 0.1)
    along = from_m + t * SPEED_M_S
    xy = _along(along)
    xyz = np.concatenate([xy, terrain.ground_m(xy)[:, None]], axis=1)
    n = len(t)

    def rows(row: Array) -> Array:
        return np.broadcast_to(row, (rides, *row.shape)).copy()

    return Ride(
        t_s=t, xyz_m=rows(xyz), known_xyz_m=rows(xyz), speed_m_s=np.full((rides, n), SPEED_M_S),
        course_rad=np.full((rides, n), COURSE_RAD), along_m=rows(along),
        filming=np.ones((rides, n), dtype=bool), ground_known=np.ones((rides, n), dtype=bool),
    )  # fmt: skip


def _shot(outing: Outing, shot: Shot, terrain: Terrain, rides: int, abeam: float) -> ShotPlan:
    ride = _ride(terrain, rides, shot.from_m, shot.to_m)
    height = shot.style.height_m if isinstance(shot.style, Beside) else 0.0
    xy = _along(ride.along_m[0], abeam)
    ground = np.nan_to_num(terrain.ground_m(xy), nan=GROUND_M)
    xyz = np.concatenate([xy, (ground + height)[:, None]], axis=1)
    n = len(ride.t_s)
    velocity = np.array([math.sin(COURSE_RAD), math.cos(COURSE_RAD), 0.0]) * SPEED_M_S
    many = np.broadcast_to(xyz, (rides, n, 3)).copy()
    flown = np.broadcast_to(velocity, (rides, n, 3)).copy()
    heading = np.full((rides, n), COURSE_RAD)
    heading[:, n // 3 : n // 2] += math.pi / 2  # here it looks at the rider and flies sideways
    track = Track(
        ride=ride, xyz_m=many, velocity_m_s=flown, heading_rad=heading,
        camera_azimuth_rad=heading, camera_elevation_rad=np.full((rides, n), -0.35),
        asked_m_s2=np.zeros((rides, n)), setpoint_velocity_m_s=flown,
        known=np.ones((rides, n), dtype=bool),
    )  # fmt: skip
    site = outing.site
    stage = Stage(ground_m=terrain.ground_m, places={}, feet={}, downhill_rad=math.nan,
                  launch_m=float(site.places["launch"].xyz_m[2]))  # fmt: skip
    scene = Scene(site=site, day=outing.day, aircraft=outing.aircraft, rules=outing.rules,
                  shot=shot, track=track, stage=stage)  # fmt: skip
    findings = tuple(judging.find(check, scene) for check in CHECKS)
    verdict, binding = judging.merge_samples(findings, scene.first.track.ride.along_m[0])
    return ShotPlan(
        scene=scene.first, verdict=worst(f.verdict for f in findings), findings=findings,
        stretches=judging.stretches(scene, findings), sample_verdict=verdict,
        sample_binding=binding, rides=rides, ride_from_m=shot.from_m, ride_to_m=shot.to_m,
        duration_s=float(ride.t_s[-1]),
    )  # fmt: skip


def _margin(value: Array, limit: float, thing: Array | str, *, most: bool = False,
            soft: Array | None = None,
            remarks: tuple[Remark, ...] = ()) -> tuple[Margin, ...]:  # fmt: skip
    n = len(value)
    margin = limit - value if most else value - limit
    things = np.full(n, thing, dtype=object) if isinstance(thing, str) else thing

    def why(i: int, _verdict: object) -> Words:
        if i < 0:
            return Words("nothing near", "nothing to change")
        return Words(f"{things[i] or 'it'} is {value[i]:.1f} m away; {limit:.1f} m is kept",
                     f"keep {max(-margin[i], 0.0):.1f} m farther away there")  # fmt: skip

    return (
        Margin(margin=margin, value=value, limit=np.full(n, limit), thing=things.astype(object),
               why=why, soft=soft, remarks=remarks, source="made",
               assumptions=("crowns are taken as solid",)),
    )  # fmt: skip


def _clearance(scene: Scene) -> tuple[Margin, ...]:
    """To the grown crowns, level; nobody looked beyond x = 118 m."""
    xy = scene.track.xyz_m[0, :, :2]
    trees = [t for t in scene.site.obstacles.things if t.role == "tree"]
    away = np.stack(
        [np.linalg.norm(xy - t.where_m[0], axis=1) - t.radius_m - t.error_m for t in trees]
    )
    value = np.maximum(away.min(axis=0), 0.0)
    thing = np.array([trees[i].id for i in away.argmin(axis=0)], dtype=object)
    margin = _margin(value, 2.18, thing, soft=value - 4.0, remarks=(
        Remark("the limit of 2.18 m is 0.18 m half span and 2.00 m keep_clear_m", kind="limit"),
        Remark("a tenth of the blind samples is near", True, "made"),
    ))[0]  # fmt: skip
    unseen = (xy[:, 0] > 118.0) & (value > 2.18)
    return (Margin(**{**margin.__dict__, "margin": np.where(unseen, np.nan, margin.margin)}),)


def _height(scene: Scene) -> tuple[Margin, ...]:
    return _margin(scene.surface_m, 120.0, "nearest surface", most=True)


def _sight(scene: Scene) -> tuple[Margin, ...]:
    eye = scene.site.places["launch"].xyz_m + np.array([0.0, 0.0, 1.6])
    value = np.linalg.norm(scene.track.xyz_m[0] - eye, axis=1)
    cut = np.where(np.abs(scene.track.ride.t_s - 31.0) < 1.0, "wood", "").astype(object)
    return _margin(value, 240.0, cut, most=True)


CHECKS = (
    replace(clearance.CHECK, margins=_clearance),
    replace(height.CHECK, margins=_height),
    replace(sight.CHECK, margins=_sight, rides="all"),
)
