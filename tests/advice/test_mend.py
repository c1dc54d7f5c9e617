"""Changes hold: laid over the folder's own text and planned anew with another seed, each of them
gives at least the word it promises."""

from __future__ import annotations

import json
import math
import os
import shutil
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import shotplan as sp
from shotplan.advice import mend
from shotplan.files.tables import laid_over
from shotplan.model.nearby import Reach
from shotplan.model.verdict import Verdict
from shotplan.styles import STYLES
from tests import worlds
from tests.shared_plans import plan_of

ROOT = Path(__file__).resolve().parents[2]
REAL = Path(os.environ.get("SHOTPLAN_REAL", ROOT.parent / "shared" / "real"))
OTHER_SEED = 977  # neither the site's nor one that a proof used
MARKER = worlds.place("marker", east_m=0.0, north_m=0.0, height_m=2.0)
ORBIT = {
    "name": "round", "style": "orbit", "around": "marker", "radius_m": 15.0, "height_m": 6.0,
    "speed_m_s": 3.0, "direction": "clockwise", "start_deg": 90.0,
}  # fmt: skip


def mended(folder: Path, **how: Any) -> sp.Plan:
    return mend.mended(sp.make(sp.read(folder)), **how)


def laid(folder: Path, shot: str, keys: Mapping[str, Any], seed: int = OTHER_SEED) -> sp.Plan:
    """Of the shot alone, with keys laid over the text of site.toml, planned anew."""
    told = folder / "site.toml"
    old = told.read_text("utf-8")
    raw = tomllib.loads(old)
    raw["shot"] = [laid_over(s, keys) if s["name"] == shot else s for s in raw["shot"]]
    raw["disturbance"] = {**raw.get("disturbance", {}), "seed": seed}
    try:
        told.write_text(worlds.toml_text(raw), "utf-8")
        return sp.make(sp.read(folder), shot=shot)
    finally:
        told.write_text(old, "utf-8")


def must_hold(folder: Path, plan: sp.Plan, most: int = 9) -> int:
    """Every change of a plan (of each shot the first `most`); how many shots have one."""
    found = 0
    for shot in plan:
        assert shot.mended is not None
        seeds = [change.seed for change in shot.mended.changes]
        assert len({*seeds, plan.outing.disturbance.seed}) == len(seeds) + 1
        assert len(seeds) <= Reach().most
        assert bool(seeds) + bool(shot.mended.in_the_way) == (shot.verdict != Verdict.GO)
        found += bool(seeds)
        for change in shot.mended.changes[:most]:
            assert change.verdict < shot.verdict
            assert change.rides == plan.outing.disturbance.rides
            again = laid(folder, shot.name, change.keys)[shot.name]
            assert again.verdict <= change.verdict, f"{shot.name}: {change.text}"
    return found


def alone(plan: sp.Plan, name: str) -> sp.Plan:
    """The plan's shot of this name, as `make(shot=name)` gives it."""
    shots = tuple(s for s in plan.outing.shots if s.name == name)
    return replace(plan, outing=replace(plan.outing, shots=shots), shots=(plan[name],))


@pytest.mark.parametrize(
    ("site", "name"),
    [
        ("hvinhylde", "the same from the land side"),
        ("dunnaby", "low round the shed"),
        ("larrigan", "beside, on into the tunnel"),
    ],
)
def test_the_changes_of_a_bundled_site_hold(site: str, name: str, tmp_path: Path) -> None:
    """Of one shot each: `tests/benchmarks/bench_mend.py` tries all."""
    folder = shutil.copytree(ROOT / "sites" / site, tmp_path / site)
    plan = mend.mended(alone(plan_of(site), name))
    assert plan[name].verdict == Verdict.NO_GO
    assert must_hold(folder, plan) == 1


@pytest.mark.real
def test_the_changes_of_the_rim_hold(tmp_path: Path) -> None:
    """Four shots, all no-go as they were asked for (7 of 10 wanted)."""
    folder = shutil.copytree(REAL / "sites" / "rim", tmp_path / "rim")
    plan = mended(folder)
    assert [s.verdict for s in plan] == [Verdict.NO_GO] * 4
    assert must_hold(folder, plan, most=1) >= 3


def shot_of(style: type[Any]) -> dict[str, Any]:
    keys = {"name": "one", "style": style.name, **worlds.keys_of(style, "marker")}
    other = {"to_distance_m": 16.0, "to_height_m": 4.0, "side": "left"}
    return {key: other.get(key, value) for key, value in keys.items()}


@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)
def test_every_style_is_mended_without_being_named(style: type[Any], tmp_path: Path) -> None:
    """A tree right where it flies, beside the middle of the ride."""
    shot = shot_of(style)
    folder = worlds.write_site(tmp_path, site={"shot": [shot]}, features=[MARKER])
    flight = sp.make(sp.read(folder))["one"].track.xyz_m[0]
    east, north = (float(v) for v in flight[len(flight) // 2, :2])
    top = float(flight[len(flight) // 2, 2]) - worlds.GROUND_M
    oak = worlds.tree("oak", east_m=east, north_m=north, height_m=max(top, 3.0) + 1.0, radius_m=1.5)
    folder = worlds.write_site(tmp_path, site={"shot": [shot]}, features=[MARKER, oak])
    plan = mended(folder, reach=Reach(most=1, tries=80))
    assert plan.verdict == Verdict.NO_GO
    assert must_hold(folder, plan, most=1) == 1


def test_a_change_is_the_nearest_and_says_what_instead_of_what(tmp_path: Path) -> None:
    oak = worlds.tree("oak", east_m=-12.0, north_m=0.0, height_m=5.0)
    folder = worlds.write_site(tmp_path, features=[oak])
    (shot,) = mended(folder)
    assert shot.verdict == Verdict.NO_GO
    assert shot.mended is not None
    first = shot.mended.changes[0]
    keys = dict(first.keys)
    told = {
        "distance_m": f"{keys.get('distance_m', 0):g} m out",
        "height_m": f"{keys.get('height_m', 0):g} m up",
        "side": f"side {keys.get('side')}",
        "to_m": "m of the ride",
    }
    assert set(keys) <= {*told, "from_m"}
    assert all(told[key] in first.text for key in keys if key in told)
    assert " instead of " in first.text or "only " in first.text
    assert first.text.endswith(f": {first.verdict.word}")


def test_the_cost_is_settable(tmp_path: Path) -> None:
    """Where another side costs nothing it comes first; where a cut is free, a cut does."""
    oak = worlds.tree("oak", east_m=-12.0, north_m=0.0, height_m=30.0)
    folder = worlds.write_site(tmp_path, features=[oak])
    plan = sp.make(sp.read(folder))
    firsts = [
        set(mend.mended(plan, reach=reach).shots[0].mended.changes[0].keys)  # type: ignore[union-attr]
        for reach in (
            Reach(word_cost=0.0, cut_cost=9.0, most=1),
            Reach(cut_cost=0.0, word_cost=9.0, most=1),
        )
    ]
    assert firsts[0] == {"side"}
    assert firsts[1] <= {"from_m", "to_m"}


def test_a_wind_above_the_rating_is_in_the_way_of_all(tmp_path: Path) -> None:
    weather = {"wind_m_s": 14.0, "gust_m_s": 20.0}
    folder = worlds.write_site(tmp_path, site={"weather": weather})
    (shot,) = mended(folder)
    assert shot.mended is not None
    assert shot.mended.changes == ()
    assert shot.finding("wind").reason in shot.mended.in_the_way


def test_where_nobody_looked_no_change_is_promised(tmp_path: Path) -> None:
    folder = worlds.write_site(tmp_path, site={"survey": None})
    (shot,) = mended(folder)
    assert shot.verdict == Verdict.UNKNOWN
    assert shot.mended is not None
    assert shot.mended.changes == ()
    assert "look" in shot.mended.in_the_way


def test_a_cut_of_an_orbit_keeps_its_phase(tmp_path: Path) -> None:
    """Cut, it begins where the whole one is at that moment."""
    site = {"shot": [ORBIT]}
    oak = worlds.tree("oak", east_m=15.0, north_m=0.0, height_m=30.0, radius_m=1.0)
    folder = worlds.write_site(tmp_path, site=site, features=[MARKER, oak])
    plan = mended(folder, reach=Reach(size_cost=9.0, angle_cost=9.0, word_cost=9.0, speed_cost=9.0))
    whole = plan["round"]
    assert whole.mended is not None
    cut = next(c for c in whole.mended.changes if "from_m" in c.keys)
    part = laid(folder, "round", cut.keys)["round"]
    ride = plan.outing.ride
    later = float(np.diff(ride.when_s(np.array([whole.ride_from_m, part.ride_from_m])))[0])
    here = np.interp(later, whole.track.ride.t_s, np.arange(whole.track.ride.t_s.size))
    then = whole.track.xyz_m[0, round(float(here))]
    assert math.dist(part.track.xyz_m[0, 0, :2], then[:2]) < 1.0


def test_what_is_go_is_not_looked_at_and_one_worker_is_as_good_as_two(tmp_path: Path) -> None:
    oak = worlds.tree("oak", east_m=-12.0, north_m=0.0)
    shots = [worlds.SIDE_TRACK, {**worlds.SIDE_TRACK, "name": "high", "height_m": 25.0}]
    site = {"shot": shots}
    plan = sp.make(sp.read(worlds.write_site(tmp_path, features=[oak], site=site)))
    assert plan["high"].verdict <= Verdict.CAUTION
    alone, both = (mend.mended(plan, reach=Reach(most=1), workers=n) for n in (1, 2))
    assert [s.mended for s in alone] == [s.mended for s in both]
    calm = replace(plan, shots=tuple(s for s in plan if s.verdict == Verdict.GO))
    assert all(s.mended and not s.mended.changes for s in mend.mended(calm))


def test_hostile_names_are_escaped(tmp_path: Path) -> None:
    name = "<script>[bold]&amp;\\"
    rock = worlds.place(name, east_m=40.0, north_m=0.0)
    shot = {**worlds.SIDE_TRACK, "name": name, "side": f"toward:{name}"}
    oak = worlds.tree("oak", east_m=12.0, north_m=0.0, height_m=30.0, name=f"{name}\x1b[31m")
    site = {"shot": [shot]}
    folder = worlds.write_site(tmp_path, site=site, features=[rock, oak])
    (one,) = plan = mended(folder, reach=Reach(most=1))
    assert one.mended is not None
    for text in (*(c.text for c in one.mended.changes), one.mended.in_the_way):
        assert text.isprintable()
    from shotplan.output import report

    (told,) = json.loads(report.text(plan))["shots"]
    assert [c["text"] for c in told["changes"]] == [c.text for c in one.mended.changes]
