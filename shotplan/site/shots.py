"""A shot as `[[shot]]` wants it: what it names is there, what it films is part of the ride."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import numpy as np

from shotplan.errors import Problems
from shotplan.files.words import shown
from shotplan.model.arrays import Array
from shotplan.model.day import Stands
from shotplan.model.flight import Style
from shotplan.model.ride import STEP_S
from shotplan.model.shot import LinkLost, Shot
from shotplan.site.slips import suggestion
from shotplan.site.tables import ShotWanted, SiteFile

MOST_RIDDEN_S = 600_000  # of all rides of a shot together: more is not held in memory at once


def check_names(
    said: SiteFile,
    where: str,
    shots: list[tuple[ShotWanted, Style | None]],
    places: list[str] | None,
    problems: Problems,
) -> None:
    """Every place that is named must be drawn, every person must be of the crew."""
    crew = [c.name for c in said.crew]
    for member in said.crew:
        at = f"{where}: [[crew]] {member.name}"
        _check_places(at, "stands", [member.stands] if member.stands else (), places, problems)
    for wanted, style in shots:
        check_shot(wanted, style, crew, places, problems)
    if said.weather and said.weather.measured_at != "forecast":
        at = f"{where}: [weather]"
        _check_places(at, "measured_at", [said.weather.measured_at], places, problems)


def check_shot(
    wanted: ShotWanted,
    style: Style | None,
    crew: list[str],
    places: Collection[str] | None,
    problems: Problems,
) -> None:
    """Where its style and its people stand is drawn; they are of the crew."""
    stands = wanted.says.stands
    _check_places(wanted.where, "the style", style.places() if style else (), places, problems)
    _check_places(wanted.where, "stands", stands.values(), places, problems)
    for name in stands:
        if name not in crew:
            problems.add(
                wanted.where,
                f"stands names {shown(name)}, not of the crew{suggestion(name, crew)}",
            )


def _check_places(
    where: str,
    key: str,
    named: Iterable[str],
    places: Collection[str] | None,
    problems: Problems,
) -> None:
    """Those `named` are among `places`; None: nobody knows which there are."""
    for place in named:
        if places is not None and place not in places:
            problems.add(where, f"{key} names the place {shown(place)}{suggestion(place, places)}")


def shot_of(
    wanted: ShotWanted,
    style: Style,
    link_lost: LinkLost,
    along: Array,
    rides: int,
    remarks: list[str],
    problems: Problems,
) -> Shot:
    """The shot; `link_lost` where it does not say, `along (n,)` the metres of the whole ride, which
    is flown `rides` times. What was mended goes to `remarks`."""
    says = wanted.says
    length_m = float(along[-1])
    to_m = length_m if says.to_m is None else min(says.to_m, length_m)
    if says.to_m is not None and says.to_m > length_m + 1.0:
        remarks.append(f"{says.name}: to_m is {says.to_m:g}; the ride ends at {length_m:.1f} m")
    if says.from_m >= length_m:
        problems.add(wanted.where, f"from_m is {says.from_m:g}; the ride is {length_m:.1f} m long")
    elif says.from_m < to_m:
        filmed = int(np.sum((along >= says.from_m) & (along <= to_m)))
        _check_length(says.from_m, to_m, filmed, rides, wanted.where, problems)
    return Shot(
        name=says.name,
        style=style,
        from_m=says.from_m,
        to_m=to_m,
        takes=says.takes,
        stands=Stands(at=dict(says.stands)),
        link_lost=says.link_lost or link_lost,
    )


def _check_length(
    from_m: float, to_m: float, filmed: int, rides: int, where: str, problems: Problems
) -> None:
    """Neither nothing to film nor more than can be flown so often; `filmed` samples."""
    most_s = MOST_RIDDEN_S / rides
    if filmed < 2:
        problems.add(where, f"from {from_m:g} m to {to_m:g} m there is nothing to film")
    elif filmed * STEP_S > most_s:
        problems.add(
            where,
            f"films {filmed * STEP_S:,.0f} s of the ride, flown {rides:,} times; wanted at most "
            f"{most_s:,.0f} s: say with from_m and to_m which part it films",
        )
