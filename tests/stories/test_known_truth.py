"""Recordings of rides whose truth is known: what is planned on them is what the truth would get."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import plan
from shotplan.errors import Problems
from shotplan.files.gpx import read_gpx
from shotplan.judging.judged import Plan
from shotplan.model.frame import Frame
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.ride.clean import clean
from tests import worlds
from tests.conftest import real_folder
from tests.ride.truth import recorded, ridden

JITTER_M = (0.0, 0.1, 0.35, 0.7)  # one after the other, over the rides
RIDES = range(10)
PART = {"from_m": 170.0, "to_m": 330.0}  # the stop of 20 s is at 250 m
SHOTS = [
    {**worlds.SIDE_TRACK, **PART},
    {"name": "after", "style": "follow-behind", "distance_m": 10.0, "height_m": 6.0, **PART},
]
SITE = {
    "aircraft": {"class": "folding-light"},
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


LENGTH_M = 300.0


@pytest.mark.real
@pytest.mark.parametrize("name", ["lyon_offroad_ride", "ardennes_ride", "munich_ride"])
def test_a_real_recording_is_refused_for_no_made_up_reason(name: str) -> None:
    """300 m of it at riding speed, laid on flat ground in 2 m/s of wind."""
    problems = Problems()
    fixes = read_gpx(real_folder() / "track" / f"{name}.gpx", name, problems)
    assert fixes is not None
    lonlat = np.column_stack([fixes.lon_deg, fixes.lat_deg])
    lon, lat = (float(v) for v in lonlat.mean(axis=0))
    there = Frame(lon_deg=lon, lat_deg=lat)
    done = clean(fixes, there, None, name, problems)
    assert done is not None
    along, t = done.path.along_m, done.path.t_s
    starts = np.arange(0.0, along[-1] - 600.0, 100.0)
    lasts = np.interp(starts + LENGTH_M, along, t) - np.interp(starts, along, t)
    riding = starts[(lasts > LENGTH_M / 12.0) & (lasts < LENGTH_M / 3.0)]
    for low in riding[:: max(1, len(riding) // 3)][:3]:
        begin, end = np.interp([low - 100.0, low + LENGTH_M + 100.0], along, t)
        seconds = np.asarray(fixes.time_s) - np.asarray(fixes.time_s)[0]
        part = (seconds >= begin) & (seconds <= end)
        xy = there.xy_m(lonlat[part])
        text = worlds.gpx_text(xy - xy.mean(axis=0), seconds[part] - seconds[part][0])
        made = planned(text, shot=[{**s, "from_m": 100.0, "to_m": 400.0} for s in SHOTS])
        for shot in made:
            for check in ("pace", "wind"):
                found = shot.finding(check)
                assert found.verdict <= Verdict.CAUTION, (low, found.reason)
                assert "0 km/h" not in found.advice
