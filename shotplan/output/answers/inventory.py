"""What a site folder holds, as plain data: what is there, what is missing, why it matters."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from shotplan.model import say
from shotplan.model.site import Site
from shotplan.model.terrain import Terrain
from shotplan.outing import Outing
from shotplan.output.answers.missing import missing
from shotplan.output.words import plain

MOST_NAMES = 8  # of a kind


class Inventory(NamedTuple):
    """`there` rows of label and text; `missing` what nobody gave, and what that leads to, `unknown`
    the part of it that leaves checks unknown, for machines; `mended` what reading left out or put
    right."""

    site: str
    there: tuple[tuple[str, str], ...]
    missing: tuple[str, ...]
    mended: tuple[str, ...]
    unknown: tuple[dict[str, Any], ...] = ()


def inventory(outing: Outing) -> Inventory:
    """What is there, in the order a folder is filled in, and what is missing, in the order worth
    giving."""
    lacking = missing(outing)
    return Inventory(
        site=plain(outing.titled),
        there=(
            *_ground(outing.site),
            *_survey(outing.site),
            *_sources(outing.site),
            *_obstacles(outing.site),
            *_areas(outing.site),
            *_ride(outing),
            *_day(outing),
        ),
        missing=(*(one.text for one in lacking), *_also(outing)),
        unknown=tuple(one.data for one in lacking),
        mended=tuple(
            plain(line)
            for line in (*outing.repairs, *outing.site.remarks)
            if line != outing.site.terrain.shows
        ),
    )


def _ground(site: Site) -> list[tuple[str, str]]:
    terrain = site.terrain
    rows = [("ground", f"{plain(terrain.source)}, {_right(terrain)}")]
    if terrain.grid.z_m.shape > (2, 2):
        z = terrain.grid.z_m
        gaps = float(np.isnan(z).mean())
        text = f"a post each {terrain.cell_m:.1f} m, {np.nanmin(z):.0f} to {np.nanmax(z):.0f} m"
        rows.append(("terrain", text + (f", {gaps:.1%} of it missing" if gaps else "")))
        if terrain.beyond is not None:
            wide = terrain.beyond
            text = f"{plain(wide.source)}, a post each {wide.cell_m:.1f} m: for sight, wind and sun"
            rows.append(("surroundings", text))
    rows += [("water", f"{plain(w.id)}, level {w.level_text}") for w in terrain.water]
    return rows


def _right(terrain: Terrain) -> str:
    """How far it may be off, level and where it is steepest."""
    level, most = say.metres(terrain.error_m), say.metres(terrain.most_error_m)
    return f"right to {level}" + (f", where it is steepest to {most}" if most != level else "")


def _survey(site: Site) -> list[tuple[str, str]]:
    return [
        (
            "looked for",
            f"{', '.join(sorted(area.looked_for)) or 'nothing'} in {plain(area.id)}, on "
            f"{say.day(area.on)}",
        )
        for area in site.surveyed
    ]


def _sources(site: Site) -> list[tuple[str, str]]:
    """What was read in, of which day, and whom to credit."""
    rows = []
    for one in site.sources:
        on = say.day(one.on.isoformat()) if one.on else "a day it does not say"
        read = f", read on {say.day(one.read.isoformat())}" if one.read else ""
        credit = f"; {plain(one.credit)}" if one.credit else ""
        rows.append(
            (f"from {plain(one.source)}", f"{plain(one.file) or 'a survey'}, of {on}{read}{credit}")
        )
    return rows


def _obstacles(site: Site) -> list[tuple[str, str]]:
    rows = []
    for role in ("tree", "wood", "building", "pole", "wire"):
        things = [t for t in site.obstacles.things if t.role == role]
        if not things:
            continue
        heights = [t.height_m for t in things if math.isfinite(t.height_m)]
        text = f"{len(things)}"
        if heights:
            low, high = say.metres(min(heights)), say.metres(max(heights))
            text += f", {low}" + (f" to {high}" if high != low else "") + " high"
        if len(heights) < len(things):
            text += f", {len(things) - len(heights)} of unknown height"
        rows.append((f"{role}s", text))
    return rows


def _areas(site: Site) -> list[tuple[str, str]]:
    rows = [("boundary", "given")] if site.boundary else []
    groups = (("keep-outs", site.zones), ("other people", site.people), ("wildlife", site.wildlife))
    rows += [(label, _names([a.name or a.id for a in areas])) for label, areas in groups if areas]
    if site.places:
        rows.append(("places", ", ".join(plain(p.label) for p in site.places.values())))
    return rows


def _names(names: list[str]) -> str:
    """Each once; of many the first, and how many more."""
    each = list(dict.fromkeys(plain(name) for name in names))
    more = f" and {len(each) - MOST_NAMES} more" if len(each) > MOST_NAMES else ""
    return ", ".join(each[:MOST_NAMES]) + more


def _right_to(site: Site) -> str:
    """The standard error of the ride's line."""
    open_m, leaves_m = site.ride_error_m, site.ride_leaves_error_m
    more = f", {say.metres(leaves_m)} under leaves" if leaves_m != open_m else ""
    return f"{say.metres(open_m)}{more} (one standard error)"


def _ride(outing: Outing) -> list[tuple[str, str]]:
    ride = outing.ride
    speed = ride.speed_m_s[0]
    rows = [
        (
            "ride",
            f"{plain(outing.ride_source)}: {say.metres(float(ride.along_m[0, -1]))} in "
            f"{float(ride.t_s[-1] - ride.t_s[0]):.0f} s, at most {say.speed(float(speed.max()))}, "
            f"right to {_right_to(outing.site)}",
        )
    ]
    rows += [
        (
            "shot",
            f"{plain(s.name)}: {plain(s.style.words())}, {s.from_m:.0f} to {s.to_m:.0f} m"
            + (f", {s.takes} takes" if s.takes > 1 else ""),
        )
        for s in outing.shots
    ]
    return rows


def _day(outing: Outing) -> list[tuple[str, str]]:
    weather = outing.day.weather
    rows = [("start", outing.day.start.isoformat())]
    if weather.wind_m_s is not None:
        text = say.speed(weather.wind_m_s)
        if weather.wind_from_rad is not None:
            text += f" from {math.degrees(weather.wind_from_rad):.0f}°"
        if weather.gust_m_s is not None:
            text += f", gusts {say.speed(weather.gust_m_s)}"
        rows.append(("wind", text))
    if weather.visibility_m is not None:
        rows.append(("visibility", say.metres(weather.visibility_m)))
    rows += [
        (
            ", ".join(sorted(p.roles)),
            plain(p.name) + (f", at {plain(p.stands)}" if p.stands else ""),
        )
        for p in outing.day.crew
    ]
    rows += [("aircraft", plain(outing.aircraft.name)), ("rule pack", plain(outing.rules.id))]
    return rows


def _also(outing: Outing) -> list[str]:
    """What no check asks for and is worth a look."""
    site = outing.site
    lines = [plain(site.terrain.shows)] if site.terrain.shows else []
    if np.isnan(site.terrain.grid.z_m).any():
        lines.append("the terrain has gaps or an edge: what is near them is not known")
    if not site.people:
        lines.append("no path, car park or beach is drawn where other people may be")
    return lines
