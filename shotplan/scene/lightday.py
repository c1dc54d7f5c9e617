"""The light of a day at a site, hour by hour: what `advice/when` finds and `output/light` draws."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from shotplan.model.arrays import Array
from shotplan.scene.sun import SunDay

Span = tuple[datetime, datetime]


class SideSpan(NamedTuple):
    """From when until when the light falls on the rider mostly from one side (`light.SIDES`)."""

    side: str
    span: Span


@dataclass(frozen=True, kw_only=True)
class ShotLight:
    """One shot, were it begun at each of the day's t moments (its sun taken as still).

    `sides (t, 5)` share of its samples lit from each of `light.SIDES`, 0 with the sun down;
    `glare_s` watcher -> `(t,)` seconds within 25° of the sun, NaN where they stand is not known;
    `sunny (t,)` share of it with direct sun on the rider; `windows` when it may begin: in the
    pack's light, none of the aircraft's eyes too dark, nobody it is known of looking into the sun.
    """

    name: str
    lasts_s: float
    sides: Array
    glare_s: Mapping[str, Array]
    sunny: Array
    windows: tuple[Span, ...]
    mostly: tuple[SideSpan, ...]


@dataclass(frozen=True, kw_only=True)
class LightDay:
    """One date in the site's zone. `flying` when the pack's light begins and ends (None: it does
    not) and `flying_why`; `moments (t,)` the hours looked at, `elevation_rad (t,)` the sun's;
    `sunny` when more than half of the filmed ride is in direct sun; `doubt_m` how far the ground
    toward the sun is known where hills beyond might shade it (+inf: far enough)."""

    on: date
    sun: SunDay
    golden: tuple[Span, ...]
    flying: tuple[datetime | None, datetime | None]
    flying_why: str
    moments: tuple[datetime, ...]
    elevation_rad: Array
    shots: tuple[ShotLight, ...]
    sunny: tuple[Span, ...]
    doubt_m: float
