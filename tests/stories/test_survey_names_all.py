"""One thing at a time is taken away from a full site: whatever check then says unknown, `survey`
names it with what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import plan as planning
from shotplan.checks import CHECKS
from shotplan.outing import Outing, read
from shotplan.output.answers.inventory import inventory
from shotplan.output.answers.missing import missing
from tests import worlds

CREW: list[dict[str, Any]] = [
    {"name": "Ada", "role": "rider"},
    {"name": "Bo", "role": "pilot", "stands": "look"},
    {"name": "Cy", "role": "spotter", "stands": "look"},
]
FULL: dict[str, Any] = {
    "aircraft": {"class": "folding-light", "class_mark": "C0"},
    "crew": CREW,
}
HEAVY = {"class": "folding-all-round", "class_mark": "C2"}
OAK = worlds.tree("oak", east_m=40.0, north_m=20.0)
LOOK = worlds.place("look", east_m=30.0, north_m=-10.0)
WIRE = worlds.feature("cable", "wire", worlds.line([(20.0, -40.0), (20.0, 40.0)]))
HALF = worlds.feature(
    "half", "surveyed", worlds.polygon(worlds.box(-500.0, -500.0, 500.0, 0.0)),
    looked_for=worlds.ALL_KINDS,
)  # fmt: skip


def hole(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    return np.where((north > 90.0) & (north < 130.0), np.nan, worlds.GROUND_M) + 0.0 * east


def a_site(folder: Path, site: Mapping[str, Any] = FULL, **more: Any) -> Outing:
    given = {"features": [OAK, LOOK], **more}
    return read(worlds.write_site(folder, site=worlds.laid_over(FULL, site) | _gone(site), **given))


def _gone(site: Mapping[str, Any]) -> dict[str, Any]:
    """What a case takes away whole, so that it is not there in the world's own site either."""
    gone = {k: v for k, v in site.items() if v is None}
    tables = {k: {**FULL.get(k, {}), **v} for k, v in site.items() if isinstance(v, Mapping)}
    return gone | tables


def unknown(outing: Outing) -> set[str]:
    (shot, *_) = planning.make(outing, rides=1).shots
    return {f.check for f in shot.findings if f.verdict.word == "unknown"}


def named(outing: Outing) -> set[str]:
    return {check.id for one in missing(outing) for check in one.checks}


WITHOUT = {k: {"survey": {"looked_for": [o for o in worlds.ALL_KINDS if o != k]}}
           for k in worlds.ALL_KINDS}  # fmt: skip
MEASURED = ("wind_m_s", "wind_from_deg", "gust_m_s", "temperature_c", "visibility_m")
CASES: dict[str, tuple[Mapping[str, Any], Mapping[str, Any], Iterable[str]]] = {
    "weather": ({"weather": None}, {}, ("wind", "gust", "visibility", "temperature")),
    **{key: ({"weather": {key: None}}, {}, (key.split("_")[0],)) for key in MEASURED},
    **{f"looked for {k}": (site, {}, (k,)) for k, site in WITHOUT.items()},
    "survey": ({"survey": None}, {}, worlds.ALL_KINDS),
    "half surveyed": ({}, {"features": [OAK, LOOK, HALF]}, ("trees", "of the ride")),
    "boundary": ({}, {"without": ["area"]}, ("boundary",)),
    "launch": ({}, {"without": ["launch"]}, ("launch",)),
    "return height": ({"return_height_m": None}, {}, ("return height",)),
    "pilot": ({"crew": [CREW[0], CREW[2]]}, {}, ("pilot",)),
    "pilot's place": ({"crew": [CREW[0], {"name": "Bo", "role": "pilot"}, CREW[2]]}, {}, ("Bo",)),
    "spotter's place": ({"crew": [*CREW[:2], {"name": "Cy", "role": "spotter"}]}, {}, ("Cy",)),
    "a wire's height": ({}, {"features": [OAK, LOOK, WIRE]}, ("cable",)),
    "ground": ({}, {"terrain": hole}, ("ground",)),
    "class mark": (
        {"rules": "eu-open-a2", "aircraft": {**HEAVY, "class_mark": None}}, {}, ("class mark",)
    ),
    "visibility a pack asks for": (
        {"rules": "us-part107", "weather": {"visibility_m": None}}, {}, ("visibility",)
    ),
    "wind where it hovers": ({"link_lost": "hover", "weather": {"wind_m_s": None}}, {}, ("wind",)),
}  # fmt: skip


def test_of_a_full_site_nothing_is_missing_and_nothing_unknown(tmp_path: Path) -> None:
    outing = a_site(tmp_path)
    assert missing(outing) == ()
    assert unknown(outing) == set()


@pytest.mark.parametrize("case", CASES)
def test_whatever_becomes_unknown_is_named(tmp_path: Path, case: str) -> None:
    site, more, words = CASES[case]
    outing = a_site(tmp_path, site, **more)
    lacking = unknown(outing)
    assert lacking, "the case takes nothing away that anybody needs"
    assert lacking <= named(outing)
    told = " ".join(inventory(outing).missing)
    assert all(word in told for word in words)


def test_the_mark_is_not_asked_for_where_it_changes_nothing(tmp_path: Path) -> None:
    assert missing(a_site(tmp_path, {"aircraft": {"class_mark": None}})) == ()


def test_what_leaves_most_open_is_told_first(tmp_path: Path) -> None:
    outing = a_site(tmp_path, {"weather": None, "survey": None, "return_height_m": None})
    told = [(sum(c.family == "harm" for c in one.checks), len(one.checks))
            for one in missing(outing)]  # fmt: skip
    assert told == sorted(told, reverse=True)
    assert inventory(outing).missing[0].startswith("nobody looked for trees")


def test_every_need_of_a_check_is_taken_away_by_some_case(tmp_path: Path) -> None:
    """So that a new need cannot be listed without a case that shows it."""
    taken = {
        (one.what, thing)
        for i, (site, more, _) in enumerate(CASES.values())
        for one in missing(a_site(tmp_path / str(i), site, **more))
        for thing in one.things
    }
    assert {(need.what, need.thing) for check in CHECKS for need in check.needs} <= taken
