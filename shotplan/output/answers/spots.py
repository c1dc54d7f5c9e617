"""Where to launch and to stand, as words and as plain data; the picture is in `spots_picture`."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from shotplan.advice.vantage import (
    CROWDED,
    DOUBT,
    ROLES,
    TERMS,
    WEIGHTS,
    Role,
    Underfoot,
    Vantage,
    Vantages,
)
from shotplan.kernels.light.light import GLARE_DEG
from shotplan.model import say
from shotplan.output import first
from shotplan.output.answers.spots_short import in_short, letters, share
from shotplan.output.report import number
from shotplan.output.words import letter, plain
from shotplan.scene import sun

PLURAL = {"launch": "launches", "pilot": "pilots", "spotter": "spotters"}
MOST_REASONS = 4  # for points ruled out
NEAR_DEG = 50


def notes() -> tuple[str, ...]:
    """How to read it."""
    return (
        "seen: of every 0.1 s of all shots, undisturbed, with nothing in between that is drawn; "
        "where the ground between is not known it counts as not seen",
        *(f"score of a {role}, out of 1: {_weighed(WEIGHTS[role])}" for role in ROLES),
        f"each thing that is not known about a place takes {DOUBT:g} off its score, a tree, "
        f"building or pole beside it up to {CROWDED:g}; weights are own settings",
        "not looked at: radio, power, owners, whether one may be there; go and look before the day",
    )


def _weighed(weights: Mapping[str, float]) -> str:
    return ", ".join(f"{100 * w:.0f} % {TERMS[name]}" for name, w in weights.items())


def rows(found: Vantages) -> tuple[tuple[str, str], ...]:
    """Label and text, a line each: the flight, whether to move, then role by role the proposals
    and now."""
    said = [*_flight(found), *in_short(found)]
    for role in ROLES:
        said.append(("", ""))
        for one in found.proposals[role]:
            said += _proposal(one, found)
        if len(found.proposals[role]) < 3:
            said.append((PLURAL[role], _few(found, role)))
        said += [line for one in found.now if one.role == role for line in _now(one, found)]
    return (*said, *(("note", plain(line)) for line in found.notes))


def _flight(found: Vantages) -> list[tuple[str, str]]:
    outing = found.outing
    shots = ", ".join(f"{letter(i)} {plain(s.name)}" for i, s in enumerate(outing.shots))
    frame, start = outing.site.frame, outing.day.start.astimezone(outing.day.timezone)
    azimuth, up = (float(a[0]) for a in sun.position([start], frame.lon_deg, frame.lat_deg))
    shines = first.sun(azimuth, up) if up > 0.0 else "sun down"
    air = first.wind(outing.day.weather)
    return [
        ("the flight", f"{shots}; seen up to {found.limit_m:.0f} m"),
        ("", f"{first.moment(start)}: {air}; {shines}"),
    ]


def _proposal(one: Vantage, found: Vantages) -> list[tuple[str, str]]:
    told = [(f"{one.role} {one.number}", f"{_sight(one)}; score {one.score:.2f}")]
    return [*told, *(("", line) for line in _where(one, found)), *_for_and_against(one, found)]


def _now(one: Vantage, found: Vantages) -> list[tuple[str, str]]:
    who = " and ".join(plain(name) for name in one.who)
    if one.ground is None:
        return [(f"{one.role} now", f"{who} rides: {_sight(one)}")]
    part = "" if len(one.shots) == len(found.outing.shots) else letters(one.shots)
    there = f"{who} at {plain(one.place)}" if who else plain(one.place)
    told = [(f"{one.role} now", f"{there}{part}: {_sight(one)}; score {_score(one.score)}")]
    return [*told, *_for_and_against(one, found)]


def _for_and_against(one: Vantage, found: Vantages) -> list[tuple[str, str]]:
    against = [f"against it: {plain(', '.join(one.against))}"] if one.against else []
    doubts = (f"not known: {plain(line)}" for line in one.doubts)
    return [("", line) for line in (*_reasons(one, found), *against, *doubts)]


def _score(value: float) -> str:
    return "not known" if math.isnan(value) else f"{value:.2f}"


def _sight(one: Vantage) -> str:
    seen = one.watched
    shots = ", ".join(f"{letter(i)} {share(s)}" for i, s in enumerate(seen.by_shot))
    text = f"sees {share(seen.seen)} of the flight"
    if len(seen.by_shot) > 1:
        text += f" ({shots})"
    if math.isfinite(seen.nearest_m):
        text += f", {say.metres(seen.nearest_m)} to {say.metres(seen.farthest_m)} from it"
    if seen.unknown > 0.0:
        text += f"; {_up(seen.unknown)} more behind ground that is not known"
    return text


def _up(value: float) -> str:
    return f"{math.ceil(100.0 * value - 1e-9):.0f} %"


def _where(one: Vantage, found: Vantages) -> list[str]:
    """The place, by the ride and by degrees."""
    under = one.ground
    if under is None:
        return []
    lon, lat = found.outing.site.frame.lonlat_deg(one.xyz_m[:2])
    at = f"at {plain(one.place)}, " if one.place else ""
    beside = f"beside pilot {one.beside}, " if one.beside else ""
    return [f"{at}{beside}{_by_ride(under)} ({lat:.6f}, {lon:.6f})"]


def _by_ride(under: Underfoot) -> str:
    """`6.8 m right of the ride at 115 m`; past its ends only how far off."""
    if abs(abs(under.right_m) - under.ride_m) > 1.0:
        return f"{say.metres(under.ride_m)} off the ride, nearest at {under.at_m:.0f} m"
    side = "right" if under.right_m > 0.0 else "left"
    return f"{say.metres(under.ride_m)} {side} of the ride at {under.at_m:.0f} m"


def _reasons(one: Vantage, found: Vantages) -> list[str]:
    """What is underfoot, who and what is around, wind and sun; what hangs on the others."""
    if one.ground is None:
        return []
    return [
        _underfoot(one.ground),
        _around(one.ground),
        f"{_wind(one, found)}; {_sun(one)}",
        *_others(one),
    ]


def _underfoot(under: Underfoot) -> str:
    parts = [
        "slope not known" if math.isnan(under.slope_deg) else f"slope {under.slope_deg:.0f}°",
        _off(under.drop_m, "from a drop", "no drop within 20 m"),
        _off(under.obstacle_m, f"from {plain(under.obstacle)}", "nothing stands within 200 m"),
    ]
    if not math.isnan(under.sky):
        parts.append(f"{share(under.sky)} of the sky over 15° open")
    return ", ".join(parts)


def _around(under: Underfoot) -> str:
    out = f"{say.metres(under.fall_m)} out of " if under.fall_m > 0.0 else ""
    fall = f"{out}where it may come down"
    people = _off(under.people_m, f"from {plain(under.people)}", "no other people's ways drawn")
    walk = (
        f"{under.walk_m:.0f} m on foot from the ride"
        if math.isfinite(under.walk_m)
        else "no way there on foot from the ride"
    )
    return f"{fall}, {people}, {walk}"


def _off(away_m: float, what: str, none: str) -> str:
    if math.isinf(away_m):
        return none
    return f"{say.metres(max(away_m, 0.0))} {what}"


def _wind(one: Vantage, found: Vantages) -> str:
    shares = one.watched.wind
    if shares is None:
        calm = found.outing.day.weather.wind_m_s == 0.0
        return "no wind" if calm else "upwind or downwind not known"
    up, cross, down = (round(100.0 * s) for s in shares)
    return f"upwind of {up} % of the flight, across {cross} %, downwind {down} %"


def _sun(one: Vantage) -> str:
    seen = one.watched
    if seen.sun_s == 0.0:
        return "no sun in the eyes: it is down, or behind the ground"
    if seen.glare_s == 0.0 and seen.near_sun_s == 0.0:
        return f"never within {NEAR_DEG}° of the sun"
    if seen.glare_s == 0.0:
        return f"within {NEAR_DEG}° of the sun for {_s(seen.near_sun_s)}, never {GLARE_DEG:.0f}°"
    return (
        f"within {GLARE_DEG:.0f}° of the sun for {_s(seen.glare_s)}, within {NEAR_DEG}° for "
        f"{_s(seen.near_sun_s)} more"
    )


def _s(value: float) -> str:
    return f"{math.ceil(value - 1e-9):.0f} s"


def _others(one: Vantage) -> list[str]:
    """How it goes with the launch, or with the pilot."""
    if one.role == "pilot" and math.isfinite(one.launch_m):
        sees = ", which is seen" if one.number else ""
        return [f"{say.metres(one.launch_m)} from launch 1{sees}"]
    if one.role == "spotter" and math.isfinite(one.together):
        return [
            f"{share(one.together)} of the flight is seen from there or by pilot {one.beside or 1}"
        ]
    return []


def _few(found: Vantages, role: Role) -> str:
    """Why there are fewer than three."""
    reasons = found.ruled_out[role]
    told = ", ".join(f"{count} {plain(why)}" for why, count in reasons[:MOST_REASONS])
    count = len(found.proposals[role])
    return (
        f"{'no place' if not count else f'only {count}'} found; of {found.tried[role]} points "
        f"tried: {told or 'none ruled out'}"
    )


def data(found: Vantages) -> dict[str, Any]:
    """The same for machines; what is not known or does not apply is null."""
    return {
        "site": found.outing.site.name,
        "shots": [shot.name for shot in found.outing.shots],
        "seen_up_to_m": found.limit_m,
        "weights": WEIGHTS,
        "proposals": {role: [_data(v, found) for v in found.proposals[role]] for role in ROLES},
        "now": [_data(v, found) for v in found.now],
        "tried": dict(found.tried),
        "ruled_out": {role: dict(found.ruled_out[role]) for role in ROLES},
        "notes": list(found.notes),
    }


def _data(one: Vantage, found: Vantages) -> dict[str, Any]:
    seen, under = one.watched, one.ground
    lonlat = found.outing.site.frame.lonlat_deg(one.xyz_m[:2]) if under else np.full(2, np.nan)
    return {
        "role": one.role,
        "number": one.number,
        "who": list(one.who),
        "place": one.place,
        "shots": list(one.shots),
        "lon_deg": number(lonlat[0], 8),
        "lat_deg": number(lonlat[1], 8),
        "east_m": number(one.xyz_m[0]),
        "north_m": number(one.xyz_m[1]),
        "elevation_m": number(one.xyz_m[2]),
        "score": number(one.score),
        "terms": {name: number(value) for name, value in one.terms.items()},
        "seen": number(seen.seen, 6),
        "seen_by_shot": [number(s, 6) for s in seen.by_shot],
        "behind_unknown_ground": number(seen.unknown, 6),
        "nearest_m": number(seen.nearest_m),
        "farthest_m": number(seen.farthest_m),
        "upwind_cross_downwind": None if seen.wind is None else [number(w) for w in seen.wind],
        "glare_s": number(seen.glare_s),
        "near_sun_s": number(seen.near_sun_s),
        "ground": None
        if under is None
        else {
            key: number(value) if isinstance(value, float) else value
            for key, value in under._asdict().items()
        },
        "launch_1_m": number(one.launch_m),
        "seen_with_pilot": number(one.together, 6),
        "beside_pilot": one.beside or None,
        "against": list(one.against),
        "not_known": list(one.doubts),
    }
