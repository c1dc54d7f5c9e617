"""Why a finding is not go, in a few plain words, the same on every sheet."""

from __future__ import annotations

from collections.abc import Sequence

from shotplan.judging.judged import Finding
from shotplan.model.site import Site
from shotplan.model.verdict import Verdict
from shotplan.output import measures
from shotplan.output.words import named, plain
from shotplan.scene.margin import UNKNOWN_GROUND, Check

MOST_NAMED = 2


def reason(found: Finding, site: Site) -> str:
    """`it hits the larch: 0.0 m, needs 2.2 m`."""
    if found.verdict == Verdict.UNKNOWN:
        thing = found.told.thing
        near = "" if thing in ("", found.check, UNKNOWN_GROUND) else f" ({named(site, thing)})"
        return f"not known: {found.of.question}{near}"
    return ": ".join(t for t in (what(found, site), how_near(found)) if t)


def what(found: Finding, site: Site) -> str:
    """It hits a thing, comes too near to it, or would hit it."""
    told, thing = found.of.told, found.told.thing
    if found.told.short:
        return plain(found.told.short)
    name = told.name or ("the ground" if thing == "ground" else named(site, thing))
    said = told.wrong_of(thing, found.verdict)
    if found.verdict == Verdict.GO:
        said = f"{said} {told.strays}"
    elif found.of.nature.hits == "bodies" and (found.told.value or 0.0) > 0.0:
        said = "it comes too near to {thing}"
    return said.replace("{thing}", name).strip().removesuffix(",")


def how_near(found: Finding) -> str:
    """Value and limit ("" of a remark, which says its own); nobody reads a negative distance."""
    one = found.told
    if one.short:
        return ""
    over = found.of.group == "people" and one.value is not None and one.value <= 0.0
    if over and one.limit is not None:
        return f"right over them, needs {measures.amount(one.limit, one.unit)}"
    unit, told = f" {one.unit}", measures.distance(found)
    return told.removesuffix(unit) if told.count(unit) > 1 else told


def decides(check: Check, nearest: Sequence[str], site: Site) -> str:
    """`too near to pine-1, the wood and 3 more`: what decides over a part of the ride, where the
    things `nearest` on it are known and the check may be about others."""
    told = check.told
    if check.nature.hits == "nothing":
        return told.wrong.partition(", {thing}")[0]
    people = {p.id for p in site.people}
    mine = [t for t in nearest if (t in people) == (check.nature.hits == "people")]
    names = [told.name] if told.name else list(dict.fromkeys(named(site, t) for t in mine))
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    said = "too near to people" if check.nature.hits == "people" else "too near"
    return f"{said}{': ' if names else ''}{', '.join(names[:MOST_NAMED])}{more}"
