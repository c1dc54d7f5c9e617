"""The light of days as words and as plain data; the picture is in `light_picture`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np

from shotplan.kernels.light import light
from shotplan.model import say
from shotplan.output.words import letter, plain
from shotplan.scene import sunlight
from shotplan.scene.lightday import LightDay, ShotLight, Span

FEW_DAYS = 3  # told at length; more days get a line each
NOTES = (
    "clear hours of a shot: it may begin then by the pack's light, none of the aircraft's eyes is "
    f"too dark, and nobody who watches looks within {light.GLARE_DEG:.0f}° of the sun",
    "a clear sky is taken; cloud takes 2 to 4 stops of the light",
    "only the sun is looked at: wind, people and batteries are for `shotplan plan`",
)


def rows(days: Sequence[LightDay]) -> tuple[tuple[str, str], ...]:
    """Label and text, a line each: at length for few days, a line a day for many."""
    if len(days) > FEW_DAYS:
        return tuple(_line(day) for day in days)
    found: list[tuple[str, str]] = []
    for day in days:
        found += [*([("", "")] if found else []), *_day(day)]
    return tuple(found)


def _day(day: LightDay) -> list[tuple[str, str]]:
    low, high = sunlight.GOLDEN_DEG
    top = math.degrees(float(day.elevation_rad.max()))
    said = [
        (f"{day.on:%a} {day.on.day} {day.on:%B %Y}", f"sun up {_up(day)}, at most {top:.0f}° high"),
        ("by the pack", f"{_ends(day.flying)} ({plain(day.flying_why)})"),
        ("golden hour", f"{spans(day.golden)} (sun {low:.0f} to {high:.0f}° high, a convention)"),
        ("sun on the ride", spans(day.sunny) + _doubt(day)),
    ]
    for index, shot in enumerate(day.shots):
        said.append((f"{letter(index)} clear hours", f"{spans(shot.windows)}: {plain(shot.name)}"))
        sides = ", ".join(f"{m.side} {_span(m.span)}" for m in shot.mostly)
        said.append(("", f"light on the rider: {sides or 'no sun on it all day'}"))
        said += [("", line) for line in _glare(day, shot)]
    return said


def _line(day: LightDay) -> tuple[str, str]:
    hours = ", ".join(f"{letter(i)} {spans(s.windows)}" for i, s in enumerate(day.shots))
    golden = spans(day.golden)
    return f"{day.on:%a} {day.on.isoformat()}", f"sun {_up(day)}; golden {golden}; clear {hours}"


def _doubt(day: LightDay) -> str:
    if not math.isfinite(day.doubt_m):
        return ""
    return f" (hills farther than the known ground, here {day.doubt_m:.0f} m off, are not counted)"


def _glare(day: LightDay, shot: ShotLight) -> list[str]:
    """Who looks into the sun, when, and for how much of the shot at worst."""
    said = []
    for name, seconds in shot.glare_s.items():
        if np.isnan(seconds).any():
            said.append(f"glare: where {plain(name)} stands is not known")
            continue
        dazzled = glare_spans(day.moments, seconds)
        if dazzled:
            worst = f"up to {seconds.max():.0f} s of {shot.lasts_s:.0f} s"
            said.append(f"glare: {plain(name)} {spans(dazzled)}, {worst}")
    return said


def glare_spans(moments: Sequence[datetime], seconds: Any) -> tuple[Span, ...]:
    """Runs of moments at which somebody looks into the sun for any time at all."""
    return say.spans(moments, np.nan_to_num(seconds) > 0.0)


def spans(found: Sequence[Span]) -> str:
    """`04:27 to 05:21 and 20:43 to 21:37`; `none`."""
    return " and ".join(_span(s) for s in found) or "none"


def _span(span: Span) -> str:
    first, last = (say.clock(at) for at in span)
    return first if first == last else f"{first} to {last}"


def _up(day: LightDay) -> str:
    if day.sun.sunrise is None or day.sun.sunset is None:
        return "all day" if float(day.elevation_rad.max()) > 0.0 else "never"
    return _span((day.sun.sunrise, day.sun.sunset))


def _ends(ends: tuple[datetime | None, datetime | None]) -> str:
    begins, stops = ends
    if begins is not None and begins == stops:
        return "no light"
    if begins is None or stops is None:
        return "all day"
    return _span((begins, stops))


def data(days: Sequence[LightDay]) -> list[dict[str, Any]]:
    """The same for machines; moments in ISO 8601 with their offset."""
    return [
        {
            "date": day.on.isoformat(),
            "sunrise": _iso(day.sun.sunrise),
            "sunset": _iso(day.sun.sunset),
            "civil_dawn": _iso(day.sun.dawn),
            "civil_dusk": _iso(day.sun.dusk),
            "flying_from": _iso(day.flying[0]),
            "flying_to": _iso(day.flying[1]),
            "flying_why": day.flying_why,
            "golden": _isos(day.golden),
            "sun_on_ride": _isos(day.sunny),
            "ground_known_m": day.doubt_m if math.isfinite(day.doubt_m) else None,
            "shots": [
                {
                    "name": shot.name,
                    "clear": _isos(shot.windows),
                    "light": [{"side": m.side, "span": _isos([m.span])[0]} for m in shot.mostly],
                    "glare": {
                        name: None if np.isnan(s).any() else _isos(glare_spans(day.moments, s))
                        for name, s in shot.glare_s.items()
                    },
                }
                for shot in day.shots
            ],
        }
        for day in days
    ]


def _iso(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat(timespec="minutes")


def _isos(found: Sequence[Span]) -> list[list[str | None]]:
    return [[_iso(a), _iso(b)] for a, b in found]
