"""`shotplan rules`: the bundled rule packs, every number with its source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from shotplan.cli.options import AsJson, one_of

if TYPE_CHECKING:
    from shotplan.model.rules import PeopleRule, Rules, StructureRule

_DARK = {"any": "no rule", "light": "a light on the aircraft", "no": "not flown"}
_TWILIGHT = {
    "fixed-30-min": "the 30 minutes before sunrise and after sunset",
    "sun-6-deg": "the sun no more than 6° down",
}
_RIDER = {
    "yes": "not forbidden",
    "sparsely-populated": "only over sparsely populated ground",
    "no": "forbidden",
    "not-said": "the pack does not say",
}
_OBSERVER = {
    "anywhere": "counts from anywhere",
    "alongside": "counts alongside the pilot",
    "co-located": "counts standing with the pilot",
    "none": "does not count",
}


def rules(
    pack: Annotated[
        str, typer.Argument(metavar="[ID]", help="print this one", show_default=False)
    ] = "",
    as_json: AsJson = False,
) -> None:
    """List rule packs, or print one.

    Every number with its source and how it is known.
    """
    from dataclasses import asdict

    from shotplan.cli import show
    from shotplan.rules import packs

    found = packs()
    if pack:
        one_of("rules", pack, found)
    if as_json:
        values = [found[pack]] if pack else list(found.values())
        show.write_json([asdict(v) for v in values])
    elif pack:
        show.pack(found[pack], numbers(found[pack]))
    else:
        show.rows([(p.id, f"{p.title} (read {p.read_on})") for p in found.values()])


def numbers(pack: Rules) -> list[str]:
    """What of a pack is checked, a line each with its source."""
    height, sight, follow = pack.height, pack.sight, pack.sight.follow_within_m
    lines = [
        f"height: at most {height.limit_m:.2f} m, measured {height.measured.replace('-', ' ')}"
        f" [{height.source}]"
    ]
    if pack.structure:
        lines.append(_structure(pack.structure))
    lines += [
        f"sight: the eyes of the {sight.eyes.replace('-', ' ')} count [{sight.source}]",
        "sight: the published distance formula "
        + ("binds" if sight.distance_limit else "is only a caution here"),
        f"following out of sight: {'no' if follow is None else f'within {follow:.0f} m'}"
        f" [{sight.follow_source or sight.source}]",
    ]
    if pack.crew:
        lines.append(
            f"crew: a rider who steers while moving: {_RIDER[pack.crew.rider_pilot]}; an observer "
            f"{_OBSERVER[pack.crew.observer]} [{pack.crew.source}]"
        )
    if pack.people:
        lines += _people(pack.people)
    if pack.day:
        dark = {**_DARK, "light": pack.day.light or _DARK["light"]}
        lines.append(
            f"night: {dark[pack.day.night]}; twilight ({_TWILIGHT[pack.day.twilight_is]}): "
            f"{dark[pack.day.twilight]} [{pack.day.source}]"
        )
    if pack.max_speed_m_s:
        top = pack.max_speed_m_s
        lines.append(f"speed: at most {top.value:.1f} m/s over the ground [{top.source}]")
    if pack.least_visibility_m:
        far = pack.least_visibility_m
        lines.append(f"visibility: at least {far.value:.0f} m [{far.source}]")
    return lines


def _structure(rule: StructureRule) -> str:
    tall = f" at least {rule.least_height_m:.0f} m tall" if rule.least_height_m else ""
    asked = "; only on request, so it is told and not counted" if rule.on_request else ""
    return (
        f"structures: within {rule.radius_m:.0f} m of one{tall}, up to {rule.above_m:.0f} m above "
        f"it{asked} [{rule.source}]"
    )


def _people(rule: PeopleRule) -> list[str]:
    least = f"at least {rule.least_m:.0f} m away, measured level" if rule.least_m else "not above"
    level = ", and no nearer than it is high" if rule.one_to_one else ""
    lines = [
        f"people who are not part of it: {least}{level}; where they may pass: {rule.passing}"
        f" [{rule.source}]"
    ]
    if rule.objects_m is not None:
        kinds = ", ".join(f"{kind}s" for kind in rule.objects)
        lines.append(
            f"{kinds} of other people: at least {rule.objects_m:.0f} m away [{rule.objects_source}]"
        )
    return lines
