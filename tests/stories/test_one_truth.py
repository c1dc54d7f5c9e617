"""One truth on every sheet: what stands on two of them is the same."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache
from html import unescape
from typing import Any

import pytest

from shotplan.aids.last_call import last_calls
from shotplan.judging.judged import Plan
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.output import ALL, answer, paper, stop
from shotplan.output.card.phone_words import phone_card
from shotplan.output.screen import screen
from shotplan.output.words import letter
from tests import shared_plans

SITES = ("dunnaby", "larrigan")
READ = ("report", "map", "brief", "take-along")
CALL = re.compile(r"\b[A-Z]!\d+\b")


def plan_of(site: str) -> Plan:
    """Of the undisturbed ride."""
    return shared_plans.plan_of(site, 1)


@cache
def sheets(site: str) -> dict[str, str]:
    """The text of every file that is text."""
    made = {n: d for o in ALL if o.name in READ for n, d in o.make(plan_of(site)).items()}
    texts = {
        n: d.decode("utf-8") for n, d in made.items() if n.split(".")[-1] not in ("pdf", "kmz")
    }
    texts["plan.ics"] = re.sub(r"\r\n ", "", texts["plan.ics"]).replace("\\,", ",")
    return {n: unescape(t) for n, t in texts.items()}


def printed(site: str) -> str:
    return "\n".join(line.text for line in screen(plan_of(site), site, ()))


def flown(site: str) -> Iterator[int]:
    for index, shot in enumerate(plan_of(site)):
        if shot.verdict != Verdict.NO_GO:
            yield index


@pytest.mark.parametrize("site", SITES)
def test_calls_have_the_same_numbers(site: str) -> None:
    found = {n: set(CALL.findall(t)) for n, t in sheets(site).items() if n != "report.json"}
    plan = plan_of(site)
    placed = {
        c.code(letter(i))
        for i, shot in enumerate(plan)
        for c in last_calls(shot, plan.marks)
        if not c.before_start  # these are looked at before the take
    }
    assert placed
    assert found["plan.kml"] == found["plan.gpx"] == found["plan.geojson"] == placed
    assert placed <= found["map.html"]
    for name in ("plan.ics", "brief.html"):
        assert found[name] <= found["map.html"]
    letters = {letter(i) for i in flown(site)}
    for code in {c for c in placed if c.partition("!")[0] in letters}:
        assert code in found["brief.html"], code
    for index in flown(site):
        called = {c.flag for c in phone_card(plan_of(site), index).calls if c.flag}
        assert called - {"look"} <= found["map.html"]


@pytest.mark.parametrize("site", ["hvinhylde"])
def test_pictures_number_calls_as_every_sheet(site: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where the first of a shot is looked at before the take, and not drawn."""
    written: list[str] = []
    write = paper.write

    def noted(axes: Any, x: float, y: float, text: str, **how: Any) -> Any:
        written.append(text)
        return write(axes, x, y, text, **how)

    monkeypatch.setattr(paper, "write", noted)
    plan = plan_of(site)
    wanted = {
        c.code(letter(i)) for i, shot in enumerate(plan) for c in last_calls(shot, plan.marks)
        if not c.before_start
    }  # fmt: skip
    for output in (o for o in ALL if o.name == "strip"):
        output.make(plan)
    assert set(CALL.findall(" ".join(written))) == wanted
    written.clear()
    for output in (o for o in ALL if o.name == "profile"):
        output.make(plan)
    drawn = set(CALL.findall(" ".join(written)))
    assert drawn
    assert drawn <= wanted


@pytest.mark.parametrize("site", SITES)
def test_words_are_the_same(site: str) -> None:
    report = json.loads(sheets(site)["report.json"])
    lines = screen(plan_of(site), site, ())
    told = {line.label: line.word for line in lines if line.word is not None and line.label}
    for index, shot in enumerate(report["shots"]):
        word = shot["verdict"]
        assert str(told[letter(index)]) == word
        assert phone_card(plan_of(site), index).verdict.word == word
        assert f"{letter(index)} {word}: {shot['name']}" in sheets(site)["plan.ics"]


@pytest.mark.parametrize("site", SITES)
def test_the_rule_to_stop_is_the_same(site: str) -> None:
    rule = stop.stop(plan_of(site))
    assert f"stop {rule.wind}" in printed(site)
    for index in flown(site):
        assert phone_card(plan_of(site), index).stop == rule[:3]
    brief = " ".join(re.sub(r"<[^>]*>", " ", sheets(site)["brief.html"]).split())
    for said in (rule.people, rule.sight):
        assert said in brief
    assert rule.wind in brief or rule.seen in brief


@pytest.mark.parametrize("site", SITES)
def test_the_last_take_off_is_the_same(site: str) -> None:
    first = say.clock(min(answer.last_take_offs(plan_of(site)).values()))
    assert f"last take-off {first}" in printed(site)
    assert first in sheets(site)["brief.html"]
    assert first in sheets(site)["map.html"]
    events = sheets(site)["plan.ics"].split("BEGIN:VEVENT")
    assert sum("SUMMARY:last take-off" in e for e in events) == 1


@pytest.mark.parametrize("site", SITES)
def test_every_sheet_says_of_which_plan_it_is(site: str) -> None:
    mark = plan_of(site).outing.fingerprint
    for name, text in sheets(site).items():
        if name != "tracks.csv":
            assert mark in text, name
