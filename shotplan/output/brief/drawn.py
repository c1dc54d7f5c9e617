"""The pictures of the person pages: a little map, and what they see or the ride pulled straight."""

from __future__ import annotations

import numpy as np

from shotplan.judging.judged import Plan
from shotplan.model.arrays import Array
from shotplan.model.day import Person
from shotplan.output import stop as stops
from shotplan.output.brief import little_map, person, seen, signs, starting, straight
from shotplan.output.words import letter


def pictures(plan: Plan) -> dict[str, bytes]:
    """`you-0.png`, `sees-0.png` of each page in its order, and the signs."""
    found: dict[str, bytes] = {}
    people = person.people(plan)
    for k, one in enumerate(people):
        rides = person.main_role(one) == "rider"
        at = [("YOU", starting.begins(plan)[:2])] if rides else _stands(plan, one)
        shown = person.shown(plan, one)
        shots = stops.told(plan) if not rides else [shown]
        found[f"you-{k}.png"] = little_map.png(plan, at, shots, one.name)
        sees = straight.png(plan) if rides else seen.png(plan, one, shown)
        if sees is not None:
            found[f"sees-{k}.png"] = sees
    return {**found, **(signs.pictures() if people else {})}


def sees(plan: Plan, k: int) -> bool:
    """Whether there is a picture of what the person of that page sees."""
    one = person.people(plan)[k]
    if person.main_role(one) == "rider":
        return True
    place = plan.shots[person.shown(plan, one)].scene.stand_of(one)
    return place is not None and bool(np.isfinite(place.xyz_m).all())


def _stands(plan: Plan, one: Person) -> list[tuple[str, Array]]:
    """Where they stand, with the shots where that changes."""
    at: dict[str, list[int]] = {}
    for i in stops.told(plan):
        place = plan.shots[i].scene.stand_of(one)
        if place is not None:
            at.setdefault(place.id, []).append(i)
    places = plan.outing.site.places
    alone = len(at) == 1
    return [
        ("YOU" if alone else f"YOU {' '.join(map(letter, shots))}", np.array(places[id_].xyz_m[:2]))
        for id_, shots in at.items()
    ]
