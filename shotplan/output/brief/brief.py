"""The brief as plain data: what is said, in its order. The PDF and the page lay it out alike.

First a page for each person. Then one for all answers the five questions of somebody who watches;
the shots follow, then the day, the
emergencies and the fine print. What is not known is a blank to be filled by hand, never left
out.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from shotplan.judging.judged import Plan
from shotplan.output import credit, first
from shotplan.output.brief import back, drawn, front, little_map, person
from shotplan.output.brief import shots as brief_shots
from shotplan.output.brief.rows import Section
from shotplan.output.brief.shots import Shot
from shotplan.output.map import drawing, ground, still
from shotplan.output.map.shapes import Extent
from shotplan.output.strip import profile
from shotplan.output.take_along.pieces import COMPUTED
from shotplan.output.words import letter, plain
from shotplan.scene.stands import spots

MAP = (
    "Discs with a letter: where a shot begins. Crosses: where it must not be flown as planned. "
    "Diamonds: launch (dark) and where people stand (white). Small numbers: metres of the ride."
)


class Person(NamedTuple):
    """One person's page as it is laid out: its words, whether there is a `picture` of what they
    see."""

    page: person.Page
    picture: bool
    made: str


class Brief(NamedTuple):
    """`verdict` of all and `words` of each shot, with what they are worth; `made` by what,
    `credits` whose data the maps show."""

    site: str
    when: str
    verdict: str
    words: str
    caption: str
    people: tuple[Person, ...]
    front: tuple[Section, ...]
    shots: tuple[Shot, ...]
    back: tuple[Section, ...]
    made: str
    credits: str

    @property
    def pages(self) -> int:
        """How many it is to have: one a person, two for one shot, one more for each further one."""
        return len(self.people) + len(self.shots) + 1


def brief(plan: Plan) -> Brief:
    """Everything a brief says."""
    day = plan.outing.day
    zone = plain(str(day.timezone))
    return Brief(
        site=plain(plan.outing.titled),
        when=f"{first.begins(day)} ({zone})",
        verdict=f"{plan.verdict.word}: {COMPUTED}",
        words=brief_shots.flown(plan),
        caption=MAP,
        people=tuple(_people(plan)),
        front=front.sections(plan),
        shots=tuple(brief_shots.shot(plan, i) for i in range(len(plan.shots))),
        back=back.sections(plan),
        made=f"plan {plan.outing.fingerprint}, shotplan {plain(plan.version)}",
        credits=credit.line(plan.outing.site),
    )


def pictures(plan: Plan) -> dict[str, bytes]:
    """PNGs: `map.png`, and each of several shots from the side, `side-0.png`, and from above,
    `above-0.png`."""
    shots = plan.shots if len(plan.shots) > 1 else ()
    sides = {f"side-{i}.png": profile.of_shot(s, letter(i)) for i, s in enumerate(shots)}
    above = {f"above-{i}.png": little_map.of_shot(plan, i) for i in range(len(shots))}
    return {"map.png": _map(plan), **sides, **above, **drawn.pictures(plan)}


def _people(plan: Plan) -> Iterator[Person]:
    """A page each, numbered."""
    every = person.pages(plan)
    for k, one in enumerate(every):
        made = f"plan {plan.outing.fingerprint}; {k + 1} of {len(every)}"
        yield Person(one, drawn.sees(plan, k), made)


def _map(plan: Plan) -> bytes:
    """All shots from above, without a name from a file."""
    site, weather = plan.outing.site, plan.outing.day.weather
    whole, close = drawing.whole(plan), view(plan)
    sheets = drawing.sheets(plan, whole, ground.contours(site.terrain, whole))
    relief = ground.relief(site.terrain, site.frame, close)
    return still.png(relief, sheets, close, *first.barb(weather), credited=credit.line(site))


def view(plan: Plan) -> Extent:
    """All flights, the launch and where people stand."""
    tracks = [s.scene.track.xyz_m[0, :, :2] for s in plan.shots]
    stands = {s.place.id: s.place for shot in plan.shots for s in spots(shot.scene)}
    return drawing.around([*tracks, *(p.xyz_m[None, :2] for p in stands.values())], 0.08, 12.0)
