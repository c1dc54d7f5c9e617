"""Flights that are flown already: a tree that is moved changes what is beside a flight, not the
flight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shotplan.flying import filmed_ride, stage_of, undisturbed, wind_of
from shotplan.model.arrays import Array
from shotplan.model.shot import Shot
from shotplan.outing import Outing
from shotplan.scene.scene import Scene

MOST = 24  # kept, the last ones


class Flights:
    """Undisturbed flights of the last outings."""

    def __init__(self) -> None:
        """None yet."""
        self._flown: list[tuple[Outing, Shot, Scene]] = []

    def of(self, outing: Outing, shot: Shot) -> Scene:
        """The flight of a shot: flown, or one that was, over the outing's own site."""
        for old, flown, scene in reversed(self._flown):
            if flown == shot and _flies_alike(old, outing):
                return _over(outing, shot, scene)
        scene = undisturbed(outing, shot)
        self._flown = [*self._flown[1 - MOST :], (outing, shot, scene)]
        return scene


def _over(outing: Outing, shot: Shot, old: Scene) -> Scene:
    stage = stage_of(outing.site, filmed_ride(outing, shot))
    day, rules = outing.day, outing.rules
    return replace(old, site=outing.site, day=day, rules=rules, stage=stage, start=day.start)


def _flies_alike(old: Outing, new: Outing) -> bool:
    """Whether all that a flight depends on is the same: ride, ground, places, wind, aircraft."""
    if old is new:
        return True
    if old.site.terrain.water or new.site.terrain.water or old.aircraft != new.aircraft:
        return False
    if old.site.frame != new.site.frame or list(old.site.places) != list(new.site.places):
        return False
    one, other = _numbers(old), _numbers(new)
    return all(np.array_equal(a, b, equal_nan=True) for a, b in zip(one, other, strict=True))


def _numbers(outing: Outing) -> list[Array]:
    ride, site, ground = outing.ride, outing.site, outing.site.terrain.grid
    places = [np.append(p.xyz_m, p.height_m) for p in site.places.values()]
    moves = [ride.xyz_m, ride.t_s, ride.known_xyz_m, ride.speed_m_s, ride.course_rad]
    return [*moves, ground.z_m, ground.to_grid, wind_of(outing), *places]
