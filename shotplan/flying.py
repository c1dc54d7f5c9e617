"""A shot of an outing becomes a scene: rides disturbed, camera placed, aircraft flown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np

from shotplan.flight.braking import least_gap_when_braking
from shotplan.flight.follow import fly_alike
from shotplan.kernels.motion.following import NO_LIMITS, Limits
from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Array
from shotplan.model.disturbance import Spread, spread_of
from shotplan.model.flight import Stage, Track, Wish
from shotplan.model.ride import HARDEST_BRAKES_M_S2, RIDER_BRAKES_M_S2, Ride
from shotplan.model.shot import Shot
from shotplan.model.site import Site
from shotplan.outing import Outing
from shotplan.ride.along import downhill_rad, part
from shotplan.ride.disturb import Disturbed, disturb
from shotplan.scene.scene import Scene

LEAD_IN_S = 5.0
SUBSTEP_S = 0.01  # half of what the definition allows: a set point that jumps wants it
MANY_SUBSTEP_S = 0.02  # of the disturbed rides
FIRST = slice(0, 1)
RIDER_BRAKES = (RIDER_BRAKES_M_S2, HARDEST_BRAKES_M_S2)


def stage_scene(outing: Outing, shot: Shot, start: datetime, rides: int = 1) -> Scene:
    """Fly one shot over its part of the ride, its first take at `start`: the undisturbed ride,
    and beside it `rides` disturbed ones (1: none)."""
    return with_others(outing, undisturbed(outing, shot), start, rides)


def undisturbed(outing: Outing, shot: Shot) -> Scene:
    """Fly one shot over its part of the ride, once, as if begun at the outing's hour."""
    ridden = filmed_ride(outing, shot)
    aircraft, stage, wind = outing.aircraft, stage_of(outing.site, ridden), wind_of(outing)
    wish = shot.style.place(ridden, stage)
    once, free = fly_alike(
        (wish, wish), ridden, aircraft, wind, SUBSTEP_S, limits=(aircraft.limits, NO_LIMITS)
    )
    gap = np.stack(
        [least_gap_when_braking(shot.style, once, stage, aircraft, wind, b) for b in RIDER_BRAKES]
    )
    scene = scene_of(outing, shot, ridden, stage, wish, once)
    return replace(scene, free=free, braking_gap_m=gap)


def undisturbed_alike(
    outing: Outing, shots: Sequence[Shot], substep_s: float = SUBSTEP_S
) -> list[Scene]:
    """The same of several shots over the same part of the ride, quicker than one by one; how near
    he comes when he brakes is not flown."""
    ridden = filmed_ride(outing, shots[0])
    stage, wind, limits = stage_of(outing.site, ridden), wind_of(outing), outing.aircraft.limits
    wishes = [shot.style.place(ridden, stage) for shot in shots]
    found: dict[int, Scene] = {}
    for follows in (True, False):
        alike = [i for i, wish in enumerate(wishes) if wish.follows_rider is follows]
        if not alike:
            continue
        some, k = [wishes[i] for i in alike], len(alike)
        both = [limits] * k + [NO_LIMITS] * k
        tracks = fly_alike([*some, *some], ridden, outing.aircraft, wind, substep_s, limits=both)
        for at, i in enumerate(alike):
            scene = scene_of(outing, shots[i], ridden, stage, wishes[i], tracks[at])
            found[i] = replace(scene, free=tracks[k + at])
    return [found[i] for i in range(len(shots))]


def with_others(outing: Outing, scene: Scene, start: datetime, rides: int) -> Scene:
    """An undisturbed flight and `rides` disturbed ones beside it (1: none), begun at `start`."""
    if rides == 1:
        return replace(scene, start=start)
    shot, once, gap = scene.shot, scene.track, scene.braking_gap_m
    assert gap is not None
    ridden = filmed_ride(outing, shot)
    spread = _spread(outing, ridden, once.xyz_m[0])
    many = disturb(ridden, replace(outing.disturbance, rides=rides), spread, outing.braked)
    wish = shot.style.place(many.ride, scene.stage)
    track = flown(wish, many, outing.aircraft, wind_of(outing), MANY_SUBSTEP_S).with_first(once)
    more = track.xyz_m.shape[1] - gap.shape[1]
    return replace(
        scene_of(outing, shot, many.ride, scene.stage, wish, track),
        start=start,
        led=_led(outing, spread),
        free=scene.free,
        braking_gap_m=np.pad(gap, ((0, 0), (0, more)), constant_values=np.inf),
    )


def filmed_ride(outing: Outing, shot: Shot) -> Ride:
    """The part of the ride that a shot films, with its lead-in."""
    return part(outing.ride, shot.from_m, shot.to_m, LEAD_IN_S, outing.site.terrain.ground_m)


def scene_of(
    outing: Outing, shot: Shot, ride: Ride, stage: Stage, wish: Wish, track: Track
) -> Scene:
    """A flight of an outing over its site, begun at the outing's hour; `ride` and `wish` with
    their lead-in."""
    return Scene(
        site=outing.site,
        day=outing.day,
        aircraft=outing.aircraft,
        rules=outing.rules,
        shot=shot,
        track=track,
        stage=stage,
        wish=wish.samples(slice(ride.first, ride.first + track.xyz_m.shape[1])),
        wind_m_s=outing.day.weather.wind_toward_m_s,
        start=outing.day.start,
    )


def wind_of(outing: Outing) -> Array:
    """The even wind it is flown in; none where it is not known."""
    known = outing.day.weather.wind_toward_m_s
    return np.zeros(3) if known is None else known


def stage_of(site: Site, ride: Ride) -> Stage:
    """What a style may know of the place, for the filmed part of `ride`."""
    launch = site.launch
    return Stage(
        ground_m=site.terrain.ground_m,
        places={i: p.xyz_m + np.array([0.0, 0.0, p.height_m]) for i, p in site.places.items()},
        feet={i: p.xyz_m for i, p in site.places.items()},
        launch_m=math.nan if launch is None else float(launch.xyz_m[2]),
        downhill_rad=downhill_rad(ride, site.terrain.ground_m),
        lasts_s=float(np.ptp(ride.t_s[ride.filming[0]])),
    )


def disturbed(outing: Outing, ride: Ride, rides: int) -> Disturbed:
    """`rides` disturbed rides beside the one (row 0; 1: none), as the site's settings spread them,
    the same for whatever is flown: the aircraft's own receiver is taken to be in the open (a search
    ranks)."""
    said = replace(outing.disturbance, rides=rides)
    return disturb(ride, said, _spread(outing, ride, None), outing.braked)


def _spread(outing: Outing, ride: Ride, flown_m: Array | None) -> Spread:
    """Receivers are under leaves where they are: the rider's along `ride`, the aircraft's own
    along its undisturbed flight `flown_m (n, 3)` over the filmed samples (None: in the open)."""
    leaves = outing.site.obstacles.leaves_over
    rider = leaves(ride.xyz_m[0])
    own = np.zeros_like(rider)
    if flown_m is not None:
        rest = len(rider) - ride.first - len(flown_m)
        own = np.pad(leaves(flown_m), (ride.first, rest), mode="edge")
    return spread_of(outing.disturbance, outing.aircraft, outing.day.weather, rider, own)


def _led(outing: Outing, spread: Spread) -> str:
    """How far off a beacon leads, where one does."""
    if outing.aircraft.follows_by != "beacon":
        return ""
    off = spread.follow_m
    span = f"{off.min():.1f} m" if np.ptp(off) < 0.1 else f"{off.min():.1f} to {off.max():.1f} m"
    return f"a beacon leads it: both receivers together are off by {span} each way"


def flown(
    wish: Wish, many: Disturbed, aircraft: Aircraft, wind_m_s: Array, substep_s: float
) -> Track:
    """The tracks of all rides, each with its own delay, stiffness and gusts."""
    return flown_side_by_side((wish,), many, aircraft, wind_m_s, substep_s)[0]


def flown_side_by_side(
    wishes: Sequence[Wish],
    many: Disturbed,
    aircraft: Aircraft,
    wind_m_s: Array,
    substep_s: float,
    limits: Sequence[Limits] | None = None,
) -> list[Track]:
    """The same after several wishes (`limits` as in `fly_alike`). What does not follow the rider is
    led astray by the aircraft's own error of place, which drifts too slowly to move it otherwise.
    """
    found: dict[int, Track] = {}
    for follows in (True, False):
        alike = [i for i, w in enumerate(wishes) if w.follows_rider is follows]
        if not alike:
            continue
        tracks = fly_alike(
            [wishes[i] for i in alike],
            many.ride,
            aircraft,
            wind_m_s,
            substep_s,
            delay_s=aircraft.response_delay_s * many.delay,
            response_rad_s=aircraft.response_rad_s * many.response,
            push_m_s2=many.push_m_s2,
            limits=None if limits is None else [limits[i] for i in alike],
        )
        if not follows:
            tracks = [_astray(track, many) for track in tracks]
        found.update(zip(alike, tracks, strict=True))
    return [found[i] for i in range(len(wishes))]


def _astray(track: Track, many: Disturbed) -> Track:
    first = many.ride.first
    error = many.own_error_m[:, first : first + track.xyz_m.shape[1]]
    return replace(track, xyz_m=track.xyz_m + error)
