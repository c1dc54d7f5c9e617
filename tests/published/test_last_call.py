"""How long people take to stop a flight, against its sources."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.aids import last_call
from shotplan.model.ride import HANDS_ON_S, RIDER_BRAKES_M_S2
from shotplan.units import GRAVITY_M_S2


def test_the_rider_brakes_as_the_handbook_says() -> None:
    # FHWA-HRT-04-103, reference/physics.md section 6.3: typical bicycle, dry: 0.35 g = 3.4 m/s².
    assert pytest.approx(0.35 * GRAVITY_M_S2, abs=0.05) == RIDER_BRAKES_M_S2


def test_a_spotter_takes_the_middle_of_the_suggested_span() -> None:
    # reference/physics.md section 6.2: spotter to voice to pilot 2.5 to 3 s (derived there).
    assert pytest.approx((2.5 + 3.0) / 2.0) == last_call.SPOTTER_S
    # AASHTO perception and braking, same section: 2.5 s, never more than a spotter gets.
    assert last_call.SPOTTER_S >= 2.5


def test_a_watching_pilot_takes_as_long_as_risk_assessment_assumes() -> None:
    # SORA default reaction, reference/physics.md section 6.2: 1 s.
    assert last_call.PILOT_S == 1.0


def test_a_rider_who_steers_first_stops() -> None:
    # Braking: FHWA as above. The 5 s after it are an own assumption. 8.5 m/s: 2.5 s + 5 s.
    hands = last_call.Hands("Ada", HANDS_ON_S, True, "")
    assert float(hands.seconds(np.array(8.5))) == pytest.approx(7.5)
