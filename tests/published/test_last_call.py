"""How long people take to stop a flight, against its sources."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.motion.sensing import overrun_m
from shotplan.model.ride import HANDS_ON_S, HARDEST_BRAKES_M_S2, RIDER_BRAKES_M_S2
from shotplan.scene import calling
from shotplan.units import GRAVITY_M_S2


def test_a_firm_stop_is_what_a_rear_brake_gives_and_the_hardest_what_both_do() -> None:
    # Famiglietti et al. 2020, SAE 2020-01-0876, abstract: eight bicycles, dry asphalt, upright
    # rider, full effort: rear brake alone 0.25 to 0.37 g, both 0.40 to 0.71 g.
    assert 0.25 * GRAVITY_M_S2 <= RIDER_BRAKES_M_S2 <= 0.37 * GRAVITY_M_S2
    assert pytest.approx(0.71 * GRAVITY_M_S2, abs=0.05) == HARDEST_BRAKES_M_S2


@pytest.mark.parametrize(
    ("brakes", "way"), [(RIDER_BRAKES_M_S2, 9.41), (5.9, 5.42), (HARDEST_BRAKES_M_S2, 4.57)]
)
def test_the_way_to_a_stop_from_8_m_s(brakes: float, way: float) -> None:
    # v²/2b, second round of sources (November 2026), 10.6.
    assert float(overrun_m(np.array(8.0), 0.0, brakes)) == pytest.approx(way, abs=0.006)


def test_a_spotter_takes_the_middle_of_the_suggested_span() -> None:
    # reference/physics.md section 6.2: spotter to voice to pilot 2.5 to 3 s (derived there).
    assert pytest.approx((2.5 + 3.0) / 2.0) == calling.SPOTTER_S
    # AASHTO perception and braking, same section: 2.5 s, never more than a spotter gets.
    assert calling.SPOTTER_S >= 2.5


def test_a_watching_pilot_takes_as_long_as_risk_assessment_assumes() -> None:
    # SORA default reaction, reference/physics.md section 6.2: 1 s.
    assert calling.PILOT_S == 1.0


def test_a_rider_who_steers_first_stops() -> None:
    # Braking: a firm stop, as above. The 5 s after it are an own assumption. 8.5 m/s: 2.5 s + 5 s.
    hands = calling.Caller(None, HANDS_ON_S, True, True)
    assert float(hands.seconds(np.array(8.5))) == pytest.approx(7.5)
