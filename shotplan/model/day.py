"""What changes between days: hour, weather, crew."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Literal

import numpy as np

from shotplan.model.arrays import Array

CrewRole = Literal["rider", "pilot", "spotter"]
Category = Literal["0", "I", "II", "III", "IV"]


@dataclass(frozen=True, kw_only=True)
class Weather:
    """None is not known. `wind_from_rad` is where it blows from (true); speeds at
    `measured_height_m` above the ground of `measured_at` (forecast, launch, or a place's id).
    `roughness` of the site's ground: a category of EN 1991-1-4 Table 4.1."""

    wind_m_s: float | None = None
    wind_from_rad: float | None = None
    gust_m_s: float | None = None
    temperature_c: float | None = None
    visibility_m: float | None = None
    measured_at: str = "forecast"
    measured_height_m: float = 10.0
    roughness: Category = "II"

    @property
    def wind_toward_m_s(self) -> Array | None:
        """`(3,)` the vector the air moves toward (x east, y north); None where not known.

        A west wind (from 270°) blows toward the east: positive x. Calm needs no direction.
        """
        if self.wind_m_s is None:
            return None
        if self.wind_m_s == 0.0:
            return np.zeros(3)
        if self.wind_from_rad is None:
            return None
        return -self.wind_m_s * np.array(
            [math.sin(self.wind_from_rad), math.cos(self.wind_from_rad), 0.0]
        )


@dataclass(frozen=True, kw_only=True)
class Person:
    """One of the crew. `stands`: id of a place ("" not said)."""

    name: str
    roles: frozenset[CrewRole]
    stands: str = ""
    eye_m: float = 1.6


@dataclass(frozen=True, kw_only=True)
class Day:
    """When, in what weather, with whom. `start` knows its offset."""

    start: datetime
    timezone: tzinfo
    weather: Weather = field(default_factory=Weather)
    crew: tuple[Person, ...] = ()
    aircraft_between: Literal["lands", "waits"] = "lands"
    reset_s: float = 300.0

    def who(self, role: CrewRole) -> tuple[Person, ...]:
        """Everybody who holds a role, in the order given."""
        return tuple(p for p in self.crew if role in p.roles)


@dataclass(frozen=True, kw_only=True)
class Stands:
    """Where people stand for one shot: name -> place id."""

    at: Mapping[str, str] = field(default_factory=dict)

    def place_of(self, person: Person) -> str:
        """The place's id for a person in this shot ("" not said)."""
        return self.at.get(person.name, person.stands)
