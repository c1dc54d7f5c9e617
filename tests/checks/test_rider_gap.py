"""Rider gap: as flown, at a firm stop, and as hard as both brakes can."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from shotplan.checks.rider_gap import CHECK
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from tests import worlds

HALF_SPAN_M = 0.18


def found(folder: Path, distance_m: float, **says: Any) -> Finding:
    shot = {"name": "chase", "style": "follow-behind", "distance_m": distance_m, "height_m": 2.0}
    site = {"ride": {"speed_m_s": 8.0}, "shot": [{**shot, **says}]}
    return judging.find(CHECK, worlds.staged(folder, site=site))


def test_hard_braking_alone_is_a_caution_and_a_firm_stop_refuses(tmp_path: Path) -> None:
    words = {d: found(tmp_path / f"{d}", d) for d in (4.0, 6.5, 12.0)}
    assert [w.verdict for w in words.values()] == [Verdict.NO_GO, Verdict.CAUTION, Verdict.GO]
    assert "if the rider makes a firm stop (3.4 m/s²) there" in words[4.0].reason
    hard = words[6.5]
    assert "as hard as both brakes can (7.0 m/s²)" in hard.reason
    assert "FHWA" not in hard.source
    assert "SAE 2020-01-0876" in hard.source


def test_the_metres_it_asks_for_are_enough(tmp_path: Path) -> None:
    near = found(tmp_path / "a", 6.5)
    more = float(near.advice.split("keep ")[1].split(" m")[0])
    assert found(tmp_path / "b", 6.5 + more).verdict == Verdict.GO


def test_a_disturbed_ride_is_not_told_with_the_braking_of_the_undisturbed(tmp_path: Path) -> None:
    scene = worlds.staged(tmp_path, rides=3)
    assert scene.first.braking_gap_m is not None
    assert scene.only(2).braking_gap_m is None
    assert scene.others[0].braking_gap_m is None
    assert scene.only(0).braking_gap_m == pytest.approx(scene.first.braking_gap_m)
