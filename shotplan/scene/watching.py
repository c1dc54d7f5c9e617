"""Who watches the aircraft, and from where."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shotplan.model.arrays import Array
from shotplan.model.day import Person
from shotplan.scene.scene import Scene


class Watcher(NamedTuple):
    """A pilot or spotter and row 0's eye `(n, 3)`, NaN where they stand is not known."""

    person: Person
    eye_m: Array


def watchers(scene: Scene) -> tuple[Watcher, ...]:
    """Everybody who has it in view: pilots first, then spotters; a rider's eye moves along."""
    people = list(scene.day.who("pilot"))
    people += [p for p in scene.day.who("spotter") if p not in people]
    return tuple(Watcher(p, _eye(scene, p)) for p in people)


def _eye(scene: Scene, person: Person) -> Array:
    feet = np.array(scene.track.ride.xyz_m[0])
    if "rider" not in person.roles:
        place = scene.stand_of(person)
        feet[:] = np.nan if place is None else place.xyz_m
    feet[:, 2] += person.eye_m
    return feet
