"""Wildlife: stand-off in season, no approach from above, the launch."""

from __future__ import annotations

import dataclasses
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shotplan.checks.wildlife import CHECK
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.site import Wildlife
from shotplan.model.verdict import Verdict
from shotplan.scene.holding import in_season
from shotplan.scene.scene import Scene
from tests import worlds

EXACT = {"ride": {"error_m": 0.0}, "map_error_m": 0.0}  # else areas are grown by their error


def scene_of(folder: Path, *, site: dict[str, Any] | None = None, **world: Any) -> Scene:
    return worlds.staged(folder, site={**EXACT, **(site or {})}, **world)


def asked(scene: Scene) -> Finding:
    return judging.find(CHECK, scene)


def colony(east_m: float, **says: Any) -> dict[str, Any]:
    ring = worlds.box(east_m - 30.0, -30.0, east_m, 30.0)
    return worlds.feature("ledge", "wildlife", worlds.polygon(ring), **says)


@pytest.mark.parametrize(("away_m", "word"), [(99.0, Verdict.NO_GO), (101.0, Verdict.GO)])
def test_a_hundred_metres_level_unless_it_says_otherwise(
    tmp_path: Path, away_m: float, word: Verdict
) -> None:
    # The flight goes north at x = -12.
    found = asked(scene_of(tmp_path / "a", features=[colony(-12.0 - away_m)]))
    assert found.value == pytest.approx(away_m, abs=0.01)
    assert (found.verdict, found.limit, found.thing) == (word, 100.0, "ledge")
    nearer = asked(scene_of(tmp_path / "b", features=[colony(-12.0 - away_m, stand_off_m=60.0)]))
    assert (nearer.verdict, nearer.limit) == (Verdict.GO, 60.0)


def test_the_advice_names_what_is_missing(tmp_path: Path) -> None:
    found = asked(scene_of(tmp_path, features=[colony(-52.0)]))
    assert found.margin == pytest.approx(-60.0, abs=0.01)
    assert "60.0 m farther from ledge" in found.advice


@pytest.mark.parametrize(
    ("first", "last", "on", "within"),
    [
        ("04-01", "07-31", date(2026, 4, 1), True),
        ("04-01", "07-31", date(2026, 7, 31), True),
        ("04-01", "07-31", date(2026, 8, 1), False),
        ("11-15", "02-28", date(2026, 12, 31), True),
        ("11-15", "02-28", date(2027, 1, 1), True),
        ("11-15", "02-28", date(2027, 3, 1), False),
        ("", "", date(2026, 6, 6), True),
        ("09-01", "", date(2026, 8, 31), False),
    ],
)
def test_seasons_hold_both_their_days_and_may_run_over_new_year(
    first: str, last: str, on: date, within: bool
) -> None:
    area = Wildlife(
        id="a", name="", geometry="point", parts=(np.zeros((1, 2)),), season_from=first,
        season_to=last,
    )  # fmt: skip
    assert in_season(area, on) == within


@given(st.dates(date(2026, 1, 1), date(2026, 12, 31)), st.dates(), st.dates())
def test_a_season_and_the_rest_of_the_year_cover_every_day(on: date, a: date, b: date) -> None:
    def area(first: date, last: date) -> Wildlife:
        return Wildlife(
            id="a", name="", geometry="point", parts=(np.zeros((1, 2)),),
            season_from=f"{first:%m-%d}", season_to=f"{last:%m-%d}",
        )  # fmt: skip

    ends = (f"{a:%m-%d}", f"{b:%m-%d}")
    both = in_season(area(a, b), on) and in_season(area(b, a), on)
    either = in_season(area(a, b), on) or in_season(area(b, a), on)
    assert either == (ends[0] != ends[1] or f"{on:%m-%d}" == ends[0])
    assert both == (f"{on:%m-%d}" in ends)


def test_out_of_season_is_a_remark_and_the_local_date_counts(tmp_path: Path) -> None:
    nest = colony(-20.0, **{"from": "04-01", "to": "07-31"})
    site = {
        "start": datetime.fromisoformat("2026-07-31T23:30:00+00:00"),
        "timezone": "Europe/Copenhagen",
    }
    found = asked(scene_of(tmp_path / "a", features=[nest], site=site))
    assert found.verdict == Verdict.GO  # there it is the first of August
    assert "out of season on 08-01" in found.remarks[0].text
    site["timezone"] = "UTC"
    assert asked(scene_of(tmp_path / "b", features=[nest], site=site)).verdict == Verdict.NO_GO


def test_nobody_looked_is_unknown_and_nothing_drawn_is_go(tmp_path: Path) -> None:
    blank = {"survey": {"looked_for": ["people"]}}
    assert asked(scene_of(tmp_path / "a", site=blank)).verdict == Verdict.UNKNOWN
    hit = asked(scene_of(tmp_path / "b", site=blank, features=[colony(-20.0)]))
    assert hit.verdict == Verdict.NO_GO
    found = asked(scene_of(tmp_path / "c"))
    assert (found.verdict, found.reason) == (
        Verdict.GO,
        "wildlife was looked for, and none is drawn",
    )


@pytest.mark.parametrize(
    ("velocity", "word"),
    [
        ((-4.0, 0.0, -3.0), Verdict.CAUTION),  # toward it, 37° down
        ((-4.0, 0.0, -1.0), Verdict.GO),  # toward it, 14° down
        ((4.0, 0.0, -3.0), Verdict.GO),  # away from it
        ((-4.0, 0.0, 3.0), Verdict.GO),  # rising
        ((-0.3, 0.0, -0.2), Verdict.GO),  # 34° down, but it hangs in the air
    ],
)
def test_coming_down_on_it_steeply_is_a_caution(
    tmp_path: Path, velocity: tuple[float, float, float], word: Verdict
) -> None:
    scene = scene_of(tmp_path, features=[colony(-162.0)])  # 150 m west of the flight
    moving = np.broadcast_to(np.array(velocity), scene.track.xyz_m.shape)
    track = dataclasses.replace(scene.track, velocity_m_s=moving)
    found = asked(dataclasses.replace(scene, track=track))
    assert found.verdict == word
    if word == Verdict.CAUTION:
        assert found.told.limit == pytest.approx(200.0)
        assert "steeper than 20°" in found.reason
        assert "200 m" in found.advice


def test_a_launch_too_near_is_a_caution(tmp_path: Path) -> None:
    # The launch is at 30 m east.
    ring = worlds.box(100.0, -30.0, 130.0, 30.0)
    nest = worlds.feature("reeds", "wildlife", worlds.polygon(ring), stand_off_m=50.0)
    found = asked(scene_of(tmp_path, features=[nest]))
    assert found.verdict == Verdict.CAUTION
    assert found.reason == "the launch is 70.0 m from reeds"
    assert "30.0 m farther" in found.advice


@pytest.mark.parametrize("seed", [1, 2])
def test_swaying_while_the_rider_stands_is_no_approach_at_any_seed(
    tmp_path: Path, seed: int
) -> None:
    """Level ground: when a disturbed rider brakes to a stand, the aircraft hangs there and sinks
    by centimetres a second, steeply but nowhere to."""
    site = {"disturbance": {"rides": 100, "seed": seed}}
    found = asked(worlds.staged(tmp_path, rides=100, features=[colony(-162.0)], site=site))
    assert found.rides_breaking == 0
    assert (found.least_soft >= 0.0).all()
