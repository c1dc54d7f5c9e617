"""What a search for a style hands each of them to make its candidates of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True, kw_only=True)
class Ladders:
    """`styles` by name, `sides`, and the numbers that are tried in every combination."""

    styles: tuple[str, ...]
    sides: tuple[str, ...] = ("left", "right", "downhill", "uphill")
    behind_m: tuple[float, ...] = (6.0, 9.0, 12.0, 18.0)
    side_m: tuple[float, ...] = (6.0, 9.0, 12.0, 18.0, 25.0)
    heights_m: tuple[float, ...] = (2.5, 4.0, 6.0, 10.0)
    top_down_m: tuple[float, ...] = (8.0, 12.0, 18.0, 25.0)
    orbit_m: tuple[float, ...] = (10.0, 15.0, 25.0)
    orbit_m_s: tuple[float, ...] = (3.0,)
    orbit_heights_m: tuple[float, ...] = (6.0, 12.0)
    hold_heights_m: tuple[float, ...] = (3.0, 6.0, 12.0)


class Search(NamedTuple):
    """What is tried on a site: `places` ids of those near the ride where nobody stands, `slopes`
    whether the ground under the ride falls one way."""

    tries: Ladders
    places: tuple[str, ...]
    slopes: bool
