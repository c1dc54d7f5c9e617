"""Page one of the brief, a page a person: where to stand, what to watch for, what to call, when we
stop. At most 250 words outside pictures: what does not fit is left to the card."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from shotplan.judging.judged import Plan
from shotplan.model.day import CrewRole, Person
from shotplan.model.verdict import Verdict
from shotplan.output import first
from shotplan.output import stop as stops
from shotplan.output.brief import doing, stand, starting
from shotplan.output.brief import words as brief_words
from shotplan.output.brief.rows import listed
from shotplan.output.brief.stand import Stand
from shotplan.output.words import letter, plain
from shotplan.scene.scene import Scene

MOST_WORDS = 250
MOST_CALLS = 5
NAME_WORDS = 5  # of a shot, where there are many


class Chip(NamedTuple):
    """A shot that is flown; `mine`: this person calls or looks in it."""

    text: str
    mine: bool


class Called(NamedTuple):
    """`A!1`, what to look at, and what to say then."""

    code: str
    text: str
    says: str


class Page(NamedTuple):
    """Everything on one person's page but the pictures. `off` the shots that are not flown; `alone`
    where it goes by itself; `sees` what the picture is of; `left` what had no room."""

    name: str
    role: CrewRole
    roles: str
    site: str
    when: str
    chips: tuple[Chip, ...]
    off: str
    here: str
    stands: tuple[Stand, ...]
    notes: tuple[str, ...]
    sees: str
    does: str
    watch: tuple[tuple[str, str], ...]
    calling: str
    calls: tuple[Called, ...]
    signs: tuple[tuple[int, str, str], ...]
    never: str
    stop: tuple[str, str, str]
    alone: str
    walker: str
    foot: str
    left: str = ""

    @property
    def words(self) -> int:
        """How many there are."""
        return len(" ".join(_texts(self._replace(role="rider"))).split())


LABELS = ("Never", "We stop", "1", "2", "3", "By itself", "A walker")


def pages(plan: Plan) -> tuple[Page, ...]:
    """One for everybody of the crew."""
    return tuple(_fitted(_page(plan, p)) for p in people(plan))


def people(plan: Plan) -> list[Person]:
    """Spotters, pilots, riders."""
    every: list[Person] = []
    for role in reversed(brief_words.ROLES):
        every += [p for p in plan.outing.day.crew if main_role(p) == role]
    return every


def main_role(person: Person) -> CrewRole:
    """What they are busy with: who rides rides."""
    return next(r for r in brief_words.ROLES if r in person.roles)


def shown(plan: Plan, person: Person) -> int:
    """The shot whose picture is on it: the first that is flown and that they see, else the
    first."""
    shots = stops.told(plan)
    seen = (i for i in shots if doing.in_sight(plan.shots[i].scene, person))
    return next(seen, shots[0])


def _page(plan: Plan, person: Person) -> Page:
    role, at = main_role(person), shown(plan, person)
    shots = stops.told(plan)
    rides = role == "rider"
    calls = tuple(Called(*c) for c in doing.calls(plan, person, shots))
    stop = stops.stop(plan)
    meter = "pilot" in person.roles
    stands, notes = starting.starts(plan) if rides else (tuple(_stands(plan, person)), ())
    roles = listed(r for r in brief_words.ROLES if r in person.roles)
    return Page(
        name=plain(person.name),
        role=role,
        roles=roles,
        site=plain(plan.outing.titled),
        when=first.begins(plan.outing.day),
        chips=tuple(_chips(plan, {c.code.partition("!")[0] for c in calls})),
        off=_off(plan),
        here="Start here" if rides else "Stand here",
        stands=stands,
        notes=notes,
        sees="" if rides else f"You see, {letter(at)}:",
        does="Ride" if rides else "Watch for",
        watch=tuple(doing.rides(plan) if rides else doing.watches(plan, person, shots)),
        calling="Call" if role == "spotter" else "You call",
        calls=calls[:MOST_CALLS],
        signs=tuple(_signs(role)) if len(plan.outing.day.crew) > 1 else (),
        never=brief_words.NEVER[role],
        stop=(stop.people, stop.sight, stop.wind if meter else stop.seen),
        alone=doing.alone(plan, shots),
        walker=brief_words.WALKER[role].replace("{lasts}", doing.lasts(plan)),
        foot=f"Computed, not a permission. {stand.needle_off(plan)}",
        left=", ".join(c.code for c in calls[MOST_CALLS:]),
    )


def _fitted(page: Page) -> Page:
    """With no more words than are read: the names of the shots go first, then what is watched in
    the last ones, then calls; all of it is on the card."""
    if page.words > MOST_WORDS:
        page = page._replace(chips=tuple(c._replace(text=c.text.split()[0]) for c in page.chips))
    mine = {c.code.partition("!")[0] for c in page.calls}
    while page.words > MOST_WORDS and len(page.watch) > 2:
        others = [w for w in page.watch[:-1] if w[0] not in mine] or list(page.watch[:-1])
        page = page._replace(watch=tuple(w for w in page.watch if w != others[-1]))
    while page.words > MOST_WORDS and len(page.calls) > 1:
        left = f"{page.calls[-1].code}, {page.left}".removesuffix(", ")
        page = page._replace(calls=page.calls[:-1], left=left)
    return page


def _texts(value: Any) -> Iterator[str]:
    """Every text of a page, and the labels of its rows."""
    if isinstance(value, Page):
        yield from LABELS
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for part in value:
            yield from _texts(part)


def _chips(plan: Plan, mine: set[str]) -> Iterator[Chip]:
    many = len(plan.shots) > 4
    for i in stops.told(plan):
        if plan.shots[i].verdict == Verdict.NO_GO:
            continue
        shot = plan.shots[i].scene.shot
        words = plain(shot.name).split()
        name = "" if many else " ".join(words[:NAME_WORDS]).rstrip(",;:")
        takes = f", {shot.takes}×" if shot.takes > 1 else ""
        yield Chip(f"{letter(i)} {name}{takes}".strip(), letter(i) in mine)


def _off(plan: Plan) -> str:
    """`B is not flown`."""
    off = [letter(i) for i, s in enumerate(plan.shots) if s.verdict == Verdict.NO_GO]
    if not off:
        return ""
    if len(off) == len(plan.shots):
        return "nothing is flown as planned"
    return f"{listed(off)} {'is' if len(off) == 1 else 'are'} not flown"


def _stands(plan: Plan, person: Person) -> Iterator[Stand]:
    """Where, shot by shot; a blank where it is not said."""
    at: dict[str, list[int]] = {}
    for i in stops.told(plan):
        at.setdefault(plan.shots[i].scene.shot.stands.place_of(person), []).append(i)
    for id_, shots in at.items():
        which = "" if len(at) == 1 else ", ".join(map(letter, shots))
        place = plan.outing.site.places.get(id_)
        if place is None:
            title = "agree on a place: ____________"
            yield Stand(f"{which}: {title}" if which else title, "", "", "", "")
            continue
        found = stand.stand(plan, place, which, _middle(plan.shots[shots[0]].scene))
        yield found if len(at) == 1 else found._replace(view="")


def _middle(scene: Scene) -> Any:
    """Of the flight."""
    return scene.track.xyz_m[0, :, :2].mean(axis=0)


def _signs(role: CrewRole) -> Iterator[tuple[int, str, str]]:
    for i, sign in enumerate(brief_words.SIGNS):
        does = {"spotter": sign.spotter, "pilot": sign.pilot, "rider": sign.rider}[role]
        if does:
            yield i, sign.word, does
