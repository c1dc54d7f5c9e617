"""A shot wanted, and the outing that holds everything a folder says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from shotplan.model.aircraft import Aircraft
from shotplan.model.day import Day, Stands
from shotplan.model.disturbance import Disturbance
from shotplan.model.flight import Style
from shotplan.model.ride import Ride
from shotplan.model.rules import Rules
from shotplan.model.site import Site

LinkLost = Literal["home", "hover", "land"]


@dataclass(frozen=True, kw_only=True)
class Shot:
    """`from_m`, `to_m`: the part of the (cropped) ride it films."""

    name: str
    style: Style
    from_m: float
    to_m: float
    takes: int = 1
    stands: Stands = field(default_factory=Stands)
    link_lost: LinkLost = "home"


@dataclass(frozen=True, kw_only=True)
class Outing:
    """All a folder says. `ride` is the whole cropped ride, one row, filming everywhere, t from 0;
    `inputs` file name -> sha256; `repairs` what reading mended or left out."""

    site: Site
    day: Day
    aircraft: Aircraft
    rules: Rules
    ride: Ride
    ride_source: str
    shots: tuple[Shot, ...]
    inputs: Mapping[str, str]
    repairs: tuple[str, ...] = ()
    disturbance: Disturbance = field(default_factory=Disturbance)
