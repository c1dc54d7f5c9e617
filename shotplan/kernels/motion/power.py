"""Electrical power of a multirotor against airspeed, climb, air density; battery in the cold.

Shape: Zeng, Xu and Zhang 2019 (IEEE TWC 18(4), eq. 12), scaled to the aircraft's own hover power.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.units import GRAVITY_M_S2

Array = NDArray[np.float64]

SEA_LEVEL_KG_M3 = 1.225


class Rotor(NamedTuple):
    """Constants of the model: blade power P0 and induced power Pi in hover (W), blade tip speed,
    mean induced velocity in hover v0 (m/s), and the parasite coefficient ½·d0·ρ·s·A (kg/m)."""

    blade_w: float
    induced_w: float
    tip_m_s: float
    induced_m_s: float
    parasite_kg_m: float


# Table I of the paper: W 20 N, R 0.4 m, A 0.503 m², Ω 300 rad/s, s 0.05, δ 0.012, k 0.1, d0 0.6,
# v0 4.03 m/s, U_tip 120 m/s, ρ 1.225.
PAPER = Rotor(
    blade_w=0.012 / 8 * 1.225 * 0.05 * 0.503 * 300.0**3 * 0.4**3,
    induced_w=(1 + 0.1) * 20.0**1.5 / (2 * 1.225 * 0.503) ** 0.5,
    tip_m_s=120.0,
    induced_m_s=4.03,
    parasite_kg_m=0.5 * 0.6 * 1.225 * 0.05 * 0.503,
)


def level_flight_w(airspeed_m_s: Array, rotor: Rotor) -> Array:
    """Power in straight level flight (eq. 12): blade, induced, parasite."""
    v = np.asarray(airspeed_m_s, dtype=float)
    ratio = v**2 / (2.0 * rotor.induced_m_s**2)
    # sqrt(sqrt(1 + q²) - q) written so that it does not cancel at high speed.
    induced = np.sqrt(1.0 / (np.sqrt(1.0 + ratio**2) + ratio))
    return np.asarray(
        rotor.blade_w * (1.0 + 3.0 * v**2 / rotor.tip_m_s**2)
        + rotor.induced_w * induced
        + rotor.parasite_kg_m * v**3
    )


def scaled(hover_w: float, mass_kg: float, disc_area_m2: float, density_kg_m3: float) -> Rotor:
    """The paper's shape for another aircraft: its hover power, its own induced velocity.

    Blade and induced shares as in the paper; parasite power scaled with hover power and with the
    cube of the induced velocity, so that speeds scale with it. Hover power grows as ρ^-1/2.
    """
    weight = mass_kg * GRAVITY_M_S2
    induced = (weight / (2.0 * density_kg_m3 * disc_area_m2)) ** 0.5
    hover = hover_w * (SEA_LEVEL_KG_M3 / density_kg_m3) ** 0.5
    share = hover / (PAPER.blade_w + PAPER.induced_w)
    slow = PAPER.induced_m_s / induced
    return Rotor(
        blade_w=PAPER.blade_w * share,
        induced_w=PAPER.induced_w * share,
        tip_m_s=PAPER.tip_m_s / slow,
        induced_m_s=induced,
        parasite_kg_m=PAPER.parasite_kg_m * share * slow**3,
    )


def disc_area_m2(span_m: float) -> float:
    """Disc area of four rotors, each a third of the largest dimension across.

    An estimate: 0.12 m at 0.36 m and 0.19 m at 0.55 m are common (common practice).
    """
    return 4.0 * np.pi / 4.0 * (span_m / 3.0) ** 2


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
    """Share of a battery's energy that the cold leaves: 1 % less per degree below 15 °C.

    A value from memory (low confidence), meant as a setting; never below 0.4.
    """
    return float(np.clip(1.0 - 0.01 * max(15.0 - temperature_c, 0.0), 0.4, 1.0))
