"""The panel of the hill against fresh plans: what it says is never more generous."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from shotplan import plan
from shotplan.aids.recheck_wind import SIDES
from shotplan.judging.judged import Plan
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.output.map.recheck import block
from tests.output import recheck_twin as twin
from tests.output.recheck_twin import Entry
from tests.worlds import Array, feature, line, straight, tree, write_site

START = datetime.fromisoformat("2026-06-20T19:00:00+02:00")
ENTRIES = 100
TREE_M = 19.0  # left of the ride, beyond the aircraft 12 m out
REACH_MIN = 180.0


def ridge(east: Array, north: Array) -> Array:
    """A bank 6 m high that runs north, 25 m west of the ride."""
    return np.asarray(84.0 + 6.0 * np.clip((-east - 25.0) / 8.0, 0.0, 1.0) + 0.0 * north)


WORLDS: tuple[dict[str, Any], ...] = (
    {"ride": straight(20.0, 60.0)},
    {
        "ride": straight(0.0, 60.0),
        "terrain": ridge,
        "site": {"rules": "us-part107", "country": "US"},
        "shots": [{"name": "a", "style": "follow-behind", "distance_m": 9.0, "height_m": 5.0}],
    },
    {
        "ride": straight(90.0, 60.0),
        "shots": [
            {"name": "a", "style": "side-track", "side": "right", "distance_m": 9.0,
             "height_m": 9.0, "takes": 2}
        ],
        "site": {"ride": {"speed_m_s": 8.0}, "aircraft": {"class": "unsensed"}},
    },
)  # fmt: skip


class Drawn(NamedTuple):
    """An entry, what stands and blows in the fresh plan, and whether a table ends before it."""

    entry: Entry
    weather: dict[str, Any]
    start: datetime
    tree_m: float
    outside: bool


def made(
    folder: Path,
    world: dict[str, Any],
    tree_m: float = TREE_M,
    error_m: float = 3.0,
    **changed: Any,
) -> Plan:
    """A plan with one ride of a small world, with its tree `tree_m` off the line."""
    given = {"start": START, **world.get("site", {}), **changed}
    if "shots" in world:
        given["shot"] = world["shots"]
    ride = world["ride"]
    way = (ride[-1] - ride[0]) / np.linalg.norm(ride[-1] - ride[0])
    left = np.array([-way[1], way[0]])
    at = tree_m * left
    walkers = [45.0 * left - 200.0 * way, 45.0 * left + 200.0 * way]
    things = [
        tree("larch", east_m=at[0], north_m=at[1], height_m=5.0, radius_m=1.0, error_m=error_m),
        feature("path", "people", line([tuple(p) for p in walkers])),
    ]
    return plan.make(
        read(
            write_site(
                folder,
                site=given,
                features=things,
                ride=world["ride"],
                terrain=world.get("terrain", 84.0),
            )
        )
    )


def drawn(rng: np.random.Generator, table: dict[str, Any]) -> Drawn:
    """One random entry: some of wind, time and a paced distance."""
    which = rng.integers(1, 8)
    weather: dict[str, Any] = {}
    entry: dict[str, Any] = {"paced": [None] * len(table["things"])}
    outside, start, tree_m = False, START, TREE_M
    if which & 1:
        from_deg = float(rng.uniform(0.0, 360.0))
        mean = float(rng.choice([rng.uniform(0.0, 6.0), rng.uniform(0.0, 16.0)]))
        gust = mean * float(rng.uniform(1.0, 2.2))
        height = str(rng.choice(["open", "hand"]))
        side = round(from_deg / 22.5) % len(SIDES)
        entry |= {"side": side, "mean": mean, "gust": gust, "height": height}
        weather = {"wind_m_s": mean, "wind_from_deg": from_deg, "gust_m_s": gust}
        if height == "hand":
            weather |= {"measured_at": "launch", "measured_height_m": 2.0}
        outside |= mean > 14.0 or gust > 21.0
    if which & 2:
        minutes = float(rng.integers(-200, 201))
        start = START + timedelta(minutes=minutes)
        entry["time"] = 60.0 * start.hour + start.minute
        outside |= abs(minutes) > REACH_MIN
    if which & 4 and table["things"]:
        tree_m = TREE_M + float(rng.uniform(-14.0, 4.0))
        entry["paced"] = [tree_m]
    return Drawn(Entry(**entry), weather, start, tree_m, outside)


def test_never_more_generous_than_a_fresh_plan(tmp_path: Path) -> None:
    """100 entries over three worlds; where a table ends it is at least unknown."""
    rng = np.random.default_rng(20260620)
    same = open_ended = 0
    for number, world in enumerate(WORLDS):
        planned = made(tmp_path / f"planned-{number}", world)
        table: dict[str, Any] = block(planned)["recheck"]  # type: ignore[assignment]
        (shot,) = table["shots"]
        for k in range(number, ENTRIES, len(WORLDS)):
            one = drawn(rng, table)
            # What is paced is 0.5 m off at most, the drawn ride's own error (DEFINITIONS).
            error_m = 3.0 if one.tree_m == TREE_M else 0.0
            fresh = made(
                tmp_path / f"fresh-{k}", world, one.tree_m, error_m,
                start=one.start, weather=one.weather,
            )  # fmt: skip
            said, real = twin.word(table, shot, one.entry), int(fresh.verdict)
            least = min(real, int(Verdict.UNKNOWN)) if one.outside else real
            bad = [
                (f.check, f.verdict.word, f.reason) for f in fresh.shots[0].findings if f.verdict
            ]
            assert said >= max(least, int(planned.verdict)), (k, one, bad)
            same += said == real
            open_ended += said <= int(Verdict.CAUTION)
    assert same >= 40, same  # a panel that only ever forbids would prove nothing
    assert open_ended >= 20, open_ended


@pytest.mark.parametrize("world", WORLDS)
def test_the_plans_own_numbers_leave_its_own_word(tmp_path: Path, world: dict[str, Any]) -> None:
    planned = made(tmp_path, world)
    table: dict[str, Any] = block(planned)["recheck"]  # type: ignore[assignment]
    (shot,) = table["shots"]
    own = Entry(side=11, mean=2.0, gust=4.0, time=60.0 * START.hour, paced=[TREE_M] * 9)
    assert twin.word(table, shot, own) == int(planned.verdict)
    assert twin.word(table, shot, Entry(paced=[None] * 9)) == int(planned.verdict)
