"""Whose sight counts, how far they see the aircraft, and what cuts the view."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.light.seeing import seen_by_size_m, seen_by_visibility_m
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Person
from shotplan.model.ride import STEP_S
from shotplan.model.site import Place
from shotplan.scene.scene import Scene

ALONGSIDE_M = 5.0  # own setting: near enough to speak without a device
FORMULA_SOURCE = (
    "EASA Guidelines for UAS operations in the open and specific category, Issue 03: "
    "327·span + 20 m, and 0.3·visibility (at second hand)"
)
EYE_M = 1.6


class View(NamedTuple):
    """Lines from an eye to the aircraft. `slant_m (r,n)`; `cut_m (r,n)` where they are first cut
    (+inf free); `unknown (r,n)` whether missing ground lies in the way; `cut_by (n,)` what cuts
    row 0's: a thing's id, `ground`, "" free."""

    slant_m: Array
    cut_m: Array
    unknown: Bools
    cut_by: NDArray[np.object_]


def feet_m(scene: Scene, person: Person) -> Array | None:
    """Where a person stands or rides, `(r,n,3)`; None where it is not said."""
    if "rider" in person.roles:
        return np.array(scene.track.ride.xyz_m)
    place = scene.stand_of(person)
    if place is None:
        return None
    foot = scene.site.terrain.standing_m(place.xyz_m)
    return np.broadcast_to(foot, scene.track.xyz_m.shape).copy()


def apart_m(scene: Scene, one: Person, other: Person) -> Array:
    """Level distance `(r,n)` of two people; NaN where one's place is not said."""
    a, b = feet_m(scene, one), feet_m(scene, other)
    if a is None or b is None:
        return np.full(scene.track.xyz_m.shape[:2], np.nan)
    way = a - b
    return np.asarray(np.hypot(way[..., 0], way[..., 1]))


def beside_pilot(scene: Scene, person: Person) -> Bools:
    """Where `(r,n)` a person is alongside a pilot; True where it is not known who stands where,
    since then nothing is known of their sight either."""
    away = [apart_m(scene, person, p) for p in scene.day.who("pilot") if p != person]
    if not away:
        return np.zeros(scene.track.xyz_m.shape[:2], dtype=bool)
    near = np.stack(away)
    return np.asarray((np.isnan(near) | (near <= ALONGSIDE_M)).any(axis=0))


def counted(scene: Scene) -> list[tuple[Person, Bools]]:
    """Whose sight the pack counts, and where `(r,n)`: the pilot's everywhere, an observer's where
    the pack lets one stand; not that of an observer who rides where a rider may not steer."""
    always = np.ones(scene.track.xyz_m.shape[:2], dtype=bool)
    found = [(p, always) for p in scene.day.who("pilot")]
    crew = scene.rules.crew
    observer = "anywhere" if crew is None else crew.observer
    if scene.rules.sight.eyes != "pilot-or-observer" or observer == "none":
        return found
    for person in scene.day.who("spotter"):
        rides = "rider" in person.roles and crew is not None and crew.rider_pilot == "no"
        if "pilot" in person.roles or rides:
            continue
        where = always if observer == "anywhere" else beside_pilot(scene, person)
        if where.any():
            found.append((person, where))
    return found


def range_m(scene: Scene) -> tuple[float, float | None]:
    """How far an aircraft this size is seen, and the visibility (None not known)."""
    visibility = scene.day.weather.visibility_m
    size = seen_by_size_m(scene.aircraft.span_m)
    if visibility is None:
        return size, None
    return min(size, seen_by_visibility_m(visibility)), visibility


def view(scene: Scene, eye_xyz_m: Array, asked_m: float = np.inf) -> View:
    """From eyes `(r,n,3)` (known; r may be 1, the undisturbed ride) to the aircraft. Beyond row 0,
    which is always exact, lines longer than `asked_m` are not looked along."""
    shape = eye_xyz_m.shape[:2]
    start = eye_xyz_m.reshape(-1, 3)
    end = np.array(scene.track.xyz_m[: shape[0]].reshape(-1, 3))
    slant = np.linalg.norm(end - start, axis=1)
    n = shape[1]
    asked = slant <= asked_m
    asked[:n] = True
    at = np.full(len(start), np.inf)
    unknown_at = np.full(len(start), np.inf)
    thing = np.full(len(start), -1)
    by_ground = scene.site.terrain.first_cut(start[asked], end[asked])
    by_thing, which = scene.site.obstacles.opaque.first_cut(start[asked], end[asked])
    at[asked] = np.minimum(by_ground.at, by_thing)
    unknown_at[asked] = by_ground.unknown_at
    thing[asked] = np.where(by_thing < by_ground.at, which, -1)
    things = scene.site.obstacles.things
    cut_by = np.array(
        [
            "" if np.isinf(a) else (things[t].id if t >= 0 else "ground")
            for a, t in zip(at[:n], thing[:n], strict=True)
        ],
        dtype=object,
    )
    with np.errstate(invalid="ignore"):
        cut_m = np.where(np.isinf(at), np.inf, at * slant)
    unknown = np.isfinite(unknown_at) & np.isinf(at)
    return View(slant.reshape(shape), cut_m.reshape(shape), unknown.reshape(shape), cut_by)


class Friend(NamedTuple):
    """One more pair of eyes at a place: for how long it sees the aircraft, and how much of that
    the rider's own eyes cannot."""

    place: Place
    sees_s: float
    adds_s: float


def best_friend(scene: Scene, rider: Person) -> Friend | None:
    """The place (of all that are drawn) from which one friend would see most of the undisturbed
    flight, since a rider looks at the track; None where no place is known."""
    filming = scene.track.ride.filming[0]
    own = _sees(scene, np.array(scene.track.ride.xyz_m[:1]), rider.eye_m)
    best: Friend | None = None
    for place in scene.site.places.values():
        if not np.isfinite(place.xyz_m).all():
            continue
        feet = np.broadcast_to(place.xyz_m, scene.track.xyz_m[:1].shape)
        there = _sees(scene, np.array(feet), EYE_M) & filming
        found = Friend(place, float(there.sum() * STEP_S), float((there & ~own).sum() * STEP_S))
        if best is None or (found.sees_s, found.adds_s) > (best.sees_s, best.adds_s):
            best = found
    return best


def sees(scene: Scene, person: Person) -> Bools:
    """Samples `(n,)` of row 0 at which one of the crew sees the aircraft from where they stand or
    ride, near enough to steer by; not where it is not known."""
    feet = feet_m(scene, person)
    if feet is None:
        return np.zeros(scene.track.ride.t_s.size, dtype=bool)
    return _sees(scene, feet[:1], person.eye_m)


def _sees(scene: Scene, feet_m: Array, eye_m: float) -> Bools:
    """Samples `(n,)` of row 0 at which an eye over `feet_m (1,n,3)` sees the aircraft, near enough
    to steer by."""
    eye = feet_m + np.array([0.0, 0.0, eye_m])
    known = np.isfinite(eye[..., 2:])
    seen = view(scene, np.where(known, eye, scene.track.xyz_m[:1]))
    near = np.minimum(seen.cut_m, range_m(scene)[0]) >= seen.slant_m
    return np.asarray((near & ~seen.unknown)[0] & known[0, :, 0])
