"""Recordings of rides whose truth is known: what is planned on them is what the truth would get."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from shotplan import plan
from shotplan.judging.judged import Plan
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from tests import worlds
from tests.ride.truth import recorded, ridden

JITTER_M = (0.0, 0.1, 0.35, 0.7)  # one after the other, over the rides
RIDES = range(10)
PART = {"from_m": 170.0, "to_m": 330.0}  # the stop of 20 s is at 250 m
SHOTS = [
    {**worlds.SIDE_TRACK, **PART},
    {"name": "after", "style": "follow-behind", "distance_m": 10.0, "height_m": 6.0, **PART},
]
SITE = {
    "aircraft": {"class": "folding-all-round"},
    "weather": {"wind_m_s": 2.0, "wind_from_deg": 250.0, "gust_m_s": 4.0},
    "shot": SHOTS,
}


def planned(ride: str, **said: Any) -> Plan:
    """On flat ground in light wind, undisturbed."""
    with tempfile.TemporaryDirectory() as name:
        return plan.make(read(worlds.write_site(Path(name), site={**SITE, **said}, ride=ride)))


def cautions(made: Plan) -> float:
    """The share of metres with a caution of `pace`."""
    codes = np.concatenate([shot.finding("pace").metre_codes for shot in made])
    return float((codes > int(Verdict.GO)).mean())


def test_a_recording_gets_the_word_of_the_ride_it_is_of() -> None:
    same, shares = 0, []
    for seed in RIDES:
        truth = ridden(seed)
        middle = truth.xy_m[len(truth.t_s) // 2]
        exact = worlds.gpx_text(truth.xy_m[::10] - middle, truth.t_s[::10])
        t, xy = recorded(truth, seed, JITTER_M[seed % len(JITTER_M)])
        made, wanted = planned(worlds.gpx_text(xy - middle, t)), planned(exact)
        same += [s.verdict for s in made] == [s.verdict for s in wanted]
        assert all(s.verdict <= Verdict.CAUTION for s in wanted)
        shares.append(cautions(made))
    assert same >= 9, same
    assert float(np.mean(shares)) <= 0.08, shares


# Where he rides for 300 m on end, in metres along each recording.
REAL = {"lyon_offroad_ride": 0.0, "ardennes_ride": 0.0, "munich_ride": 0.0}
