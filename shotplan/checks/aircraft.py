"""Whether the pack takes this aircraft: its mass as flown and the class mark printed on it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from shotplan.model.rules import AircraftRule, Takes
from shotplan.scene import needs
from shotplan.scene.margin import AGAINST, Check, GoIf, Margin, Nature, Remark, Told, Words, even
from shotplan.scene.scene import Scene
from shotplan.scene.telling import always

KEY = "aircraft.class_mark"
A_HAIR_KG = 1e-9  # under a mass: the mass itself is over


def margins(scene: Scene) -> tuple[Margin, ...]:
    """The mass against the most the pack takes with that class mark, the same all the way. Without
    the mark it is known only where every mark the pack names, and none, has the same answer."""
    rule = scene.rules.aircraft
    if rule is None:
        nothing = f"{scene.rules.id} has no number for the mass and asks for no class mark"
        return (even(scene, np.inf, always(Words(nothing))),)
    mass, mark = scene.aircraft.mass_kg, scene.aircraft.class_mark
    marks = _named(rule) if mark is None else (mark,)
    taken = {m: _best(rule, m, mass) for m in marks}
    good = [m for m, takes in taken.items() if takes and not takes.doubt]
    fair = [m for m, takes in taken.items() if takes]
    if fair and len(fair) < len(marks):
        return (_unknown(scene, rule, (good or fair)[0]),)
    if not fair:
        return (_refused(scene, rule, marks),)
    best = taken[(good or fair)[0]]
    assert best is not None
    remarks = () if good else (_doubted(scene, best, str(rule.source)),)
    words = Words(f"{_says(scene)}; {_all(scene, rule)}")
    room = best.under_kg - mass if best.under_kg else np.inf
    return (_margin(scene, rule, room, words, remarks),)


def _named(rule: AircraftRule) -> tuple[str, ...]:
    """Every mark the pack names, and none."""
    return tuple(dict.fromkeys([*(m for t in rule.takes for m in t.marks), ""]))


def _of(rule: AircraftRule, mark: str) -> list[Takes]:
    return [t for t in rule.takes if not t.marks or mark in t.marks]


def _most_kg(takes: Takes) -> float:
    return math.inf if takes.under_kg is None else takes.under_kg


def _best(rule: AircraftRule, mark: str, mass_kg: float) -> Takes | None:
    """What takes it, rather without a doubt; None where nothing does."""
    fits = [t for t in _of(rule, mark) if mass_kg < _most_kg(t)]
    return min(fits, key=lambda t: bool(t.doubt), default=None)


def _unknown(scene: Scene, rule: AircraftRule, mark: str) -> Margin:
    limit = GoIf(KEY, "is", math.nan, "", word=mark)
    words = Words(
        f"{_says(scene)}; {_all(scene, rule)}",
        f'give [aircraft] class_mark as printed on it ("" where there is none); {limit.text}',
        (limit,),
    )
    return _margin(scene, rule, math.nan, words)


def _refused(scene: Scene, rule: AircraftRule, marks: tuple[str, ...]) -> Margin:
    mass = scene.aircraft.mass_kg
    most = max((_most_kg(t) for mark in marks for t in _of(rule, mark)), default=0.0)
    words = Words(
        f"{_says(scene)}; {_all(scene, rule)}",
        f"fly one that {scene.rules.id} takes, or plan with 1 of the packs that take this one "
        "(`shotplan rules` lists them)",
    )
    return _margin(scene, rule, min(most - mass, -A_HAIR_KG), words)


def _doubted(scene: Scene, takes: Takes, source: str) -> Remark:
    return Remark(
        f"{_says(scene)}: {takes.doubt}", True, source,
        f"find out whether {scene.rules.id} is the 1 pack for it before you go",
    )  # fmt: skip


def _margin(
    scene: Scene, rule: AircraftRule, room: float, words: Words, remarks: tuple[Remark, ...] = ()
) -> Margin:
    mass = scene.aircraft.mass_kg
    plain = even(
        scene, room, always(words), value=mass, limit=mass + room,
        thing=scene.aircraft.name, source=str(rule.source),
    )  # fmt: skip
    return replace(plain, remarks=remarks)


def _says(scene: Scene) -> str:
    """`the aircraft weighs 0.249 kg and has class mark C0`."""
    mark = scene.aircraft.class_mark
    marked = "its class mark is not given" if mark is None else f"has {_marked(mark)}"
    return f"the aircraft weighs {scene.aircraft.mass_kg:g} kg and {marked}"


def _marked(mark: str) -> str:
    return f"class mark {mark}" if mark else "no class mark"


def _all(scene: Scene, rule: AircraftRule) -> str:
    """What the pack takes, in words."""
    taken = dict.fromkeys(str(takes) for takes in rule.takes)
    return f"{scene.rules.id} takes {', '.join(taken)}"


def _open(given: needs.Given) -> bool:
    """Whether the answer hangs on a mark that nobody gave."""
    rule, craft = given.rules.aircraft, given.aircraft
    if rule is None or craft.class_mark is not None:
        return False
    return len({_best(rule, mark, craft.mass_kg) is None for mark in _named(rule)}) > 1


MARK = needs.Need(
    what="no",
    thing="class mark",
    give='give [aircraft] class_mark as printed on it, "" where there is none',
    lacks=lambda given: "" if _open(given) else None,
)
CHECK = Check(
    id="aircraft",
    family="rule",
    group="aircraft",
    question="is the pack for it?",
    unit="kg",
    shown=AGAINST,
    told=Told("the rules chosen are not for this aircraft", strays=""),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="never"),
    margins=margins,
    waits=True,
    wind="none",
    rides="first",
    binds="at-most",
    needs=(MARK,),
)
