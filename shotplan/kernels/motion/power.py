"""Electrical power of a multirotor against airspeed, climb, air density; battery in the cold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.units import GRAVITY_M_S2

Array = NDArray[np.float64]

SEA_LEVEL_KG_M3 = 1.225
EVEN = 0.6  # of its greatest airspeed: up to here it takes about what hovering takes
AT_TOP = 1.6  # times hovering at its greatest airspeed, tilted as it must be against the drag


def over_hover(airspeed_m_s: Array, top_m_s: float, at_top: float = AT_TOP) -> Array:
    """Power in straight level flight over that in hover, by the share u of the greatest airspeed:
    1 up to 0.6, then `1 + (at_top - 1)·((u - 0.6)/0.4)²`.

    A fit to momentum theory with the tilt that the drag of a body of this size asks for (the same
    drag it falls with); that it takes a little less than hovering at half speed is left out.
    """
    beyond = np.maximum(np.asarray(airspeed_m_s, dtype=float) / top_m_s - EVEN, 0.0)
    return np.asarray(1.0 + (at_top - 1.0) * (beyond / (1.0 - EVEN)) ** 2)


def hover_w(at_sea_level_w: float, density_kg_m3: float) -> float:
    """Power in hover: it grows as density to the -1/2 (momentum theory)."""
    return float(at_sea_level_w * (SEA_LEVEL_KG_M3 / density_kg_m3) ** 0.5)


def climb_w(climb_m_s: Array, mass_kg: float, efficiency: float = 0.5) -> Array:
    """Extra power to climb, `m g ḣ / η`; sinking gives nothing back."""
    return np.maximum(np.asarray(climb_m_s), 0.0) * mass_kg * GRAVITY_M_S2 / efficiency


def air_density_kg_m3(elevation_m: float, temperature_c: float | None = None) -> float:
    """ICAO standard atmosphere to 11 km; with a measured temperature its pressure and that."""
    standard_k = 288.15 - 0.0065 * elevation_m
    pressure_pa: float = 101325.0 * (standard_k / 288.15) ** 5.25588
    kelvin = standard_k if temperature_c is None else temperature_c + 273.15
    return pressure_pa / (287.05287 * kelvin)


def cold_share(temperature_c: float) -> float:
    """Share of a battery's energy that the cold leaves: 1 % less per degree below 15 °C, 2 % below
    0 °C; never under a hundredth.

    Published beside it: about half at -18 °C (a battery reference site), a fifth less at 0 °C and
    half at -10 °C (a trade page).
    """
    lost = 0.01 * max(15.0 - temperature_c, 0.0) + 0.01 * max(-temperature_c, 0.0)
    return float(np.clip(1.0 - lost, 0.01, 1.0))
