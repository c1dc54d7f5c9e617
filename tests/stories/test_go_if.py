"""Every "go if": just inside the limit the finding is go, just outside it is not."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from shotplan import plan
from shotplan.checks import CHECKS
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.scene.margin import GoIf
from tests import asked, worlds

# Sites with one thing or another not said: site.toml keys laid over the usual test site.
BARE: dict[str, dict[str, Any]] = {
    "no weather": {"weather": None},
    "no visibility": {"weather": {"visibility_m": None}},
    "no gust": {"weather": {"gust_m_s": None}},
    "no wind direction": {"weather": {"wind_from_deg": None}},
    "no temperature": {"weather": {"temperature_c": None}},
    "no return height": {"return_height_m": None},
    "nothing but the ride": {"weather": None, "return_height_m": None},
}
STEP = {"m": 0.5, "m/s": 0.1, "°C": 0.2, "%": 0.5}


def planned(site: dict[str, Any]) -> tuple[Finding, ...]:
    base = {"aircraft": {"class": "folding-all-round"}}
    with tempfile.TemporaryDirectory() as name:
        folder = worlds.write_site(
            Path(name), site={**base, **site}, ride=worlds.straight(0.0, 60.0)
        )
        return plan.make(read(folder)).shots[0].findings


@cache
def bare(name: str) -> tuple[Finding, ...]:
    return planned(BARE[name])


@cache
def limits() -> tuple[tuple[str, str, GoIf], ...]:
    return tuple(
        (name, found.check, limit) for name in BARE for found in bare(name) for limit in found.go_if
    )


def said(site: dict[str, Any], limit: GoIf, value: float) -> dict[str, Any]:
    """The bare site with the limit's key (and what goes with it) filled in."""
    result = dict(site)
    for key, given in (*limit.given, (limit.key, value)):
        table, _, leaf = key.rpartition(".")
        if table:
            result[table] = {**(result.get(table) or {}), leaf: given}
        else:
            result[leaf] = given
    weather = {**worlds.SITE["weather"], **(result.get("weather") or {})}
    if "gust_m_s" not in (limit.key, *dict(limit.given)) and weather["gust_m_s"] is not None:
        gust = max(weather["gust_m_s"], weather["wind_m_s"] or 0.0)  # a gust is never the less
        result["weather"] = {**(result.get("weather") or {}), "gust_m_s": gust}
    return result


def verdict(name: str, check: str, limit: GoIf, value: float) -> Verdict:
    site = said({k: v for k, v in BARE[name].items() if v is not None}, limit, value)
    if BARE[name].get("weather", {}) is None and "weather" in site:
        usual = dict.fromkeys(worlds.SITE["weather"])
        site["weather"] = {**usual, **site["weather"]}
    with asked.only(check):
        (found,) = planned(site)
    return found.verdict


def test_missing_input_is_unknown_and_says_what_would_make_it_go() -> None:
    assert limits(), "no finding names a limit"
    for name in BARE:
        for found in bare(name):
            if any((n, c) == (name, found.check) for n, c, _ in limits()):
                assert found.verdict == Verdict.UNKNOWN, (name, found.check)


def test_just_inside_it_goes_and_just_outside_it_does_not() -> None:
    wrong = []
    for name, check, limit in limits():
        step = max(STEP.get(limit.unit, 0.02), abs(limit.value) * 0.02)
        outside = limit.value + (step if limit.bound == "at-most" else -step)
        got = verdict(name, check, limit, limit.value), verdict(name, check, limit, outside)
        if got[0] != Verdict.GO or got[1] == Verdict.GO:
            wrong.append((name, check, limit, [v.word for v in got]))
    assert not wrong


def test_with_nothing_but_a_ride_what_depends_on_the_rest_is_unknown() -> None:
    bare = {"weather": None, "crew": None, "return_height_m": None}
    with tempfile.TemporaryDirectory() as name:
        folder = worlds.write_site(
            Path(name), site=bare, without=("launch",), ride=worlds.straight(0.0, 60.0)
        )
        found = plan.make(read(folder)).shots[0].findings
    unknown = {f.check: f for f in found if f.verdict == Verdict.UNKNOWN}
    assert set(unknown) >= {"sight", "crew", "pace", "wind", "battery", "return", "link"}
    for finding in unknown.values():
        assert "go if" in finding.advice, finding


def test_the_checks_are_the_ones_asked() -> None:
    assert {check for _, check, _ in limits()} <= {c.id for c in CHECKS}
