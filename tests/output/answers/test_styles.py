"""A style table in words and as data, and the runs both and the picture are made of."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from shotplan.advice.style_table import StyleTable
from shotplan.checks import CHECKS
from shotplan.model.verdict import Verdict
from shotplan.output.answers import styles
from shotplan.output.strip import style_runs
from shotplan.output.words import plain
from tests.output.hostile import EVERY
from tests.output.made_table import made_table


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> StyleTable:
    return made_table(tmp_path_factory.mktemp("made") / "site")


def section(table: StyleTable, title: str, *, every: bool = False) -> styles.Section:
    (found,) = (s for s in styles.said(table, every=every).sections if s.title == title)
    return found


def test_the_route_comes_first_with_places_margins_and_what_to_fly_first(table: StyleTable) -> None:
    said = styles.said(table)
    assert said.verdict == Verdict.CAUTION
    route = said.sections[0]
    assert [line.label for line in route.lines] == ["1", "2", "3", "-", "4", "all", ""]
    first = route.lines[0].text
    assert "0 to 160 m, 0 to 27 s: side-track, left, 12 m out, 6 m above the rider" in first
    assert "from the start of the ride\nto 20 m before the leaning larch (left, 9 m)" in first
    # Of 6 m up half the span, keep_clear_m and the lowest thing looked for are kept.
    assert "tightest, undisturbed: 3.3 m to spare (ground)" in first
    assert (
        "fly first: side-track left 30 m, 20 m up over launch (9.0 m to spare (pine-1)); " in first
    )
    assert [line.verdict for line in route.lines[:3]] == [
        leg.plan.verdict for leg in table.legs[:3]
    ]
    assert route.lines[3].text.startswith("from 300 to 340 m nothing passes: land or hold before")
    assert route.lines[-1].text == "made up for a test"


def test_what_the_rides_proved_is_rounded_up_and_no_more_is_said(table: StyleTable) -> None:
    def told(broken: int, flown: int, bound: float) -> str:
        changed = replace(table, broken=broken, flown=flown, bound=bound)
        return next(
            line.text for line in styles.said(changed).sections[0].lines if line.label == "all"
        )

    # Clopper and Pearson (1934), one-sided 95 %: 7 of 300 -> 0.0434 (R's binom.test, from memory).
    assert told(7, 300, 0.0434).startswith(
        "7 of 300 rides break something along the way: under 4.4 %"
    )
    assert told(0, 299, 0.00997).startswith(
        "none of 299 rides breaks something along the way: under 1.0 %"
    )
    assert "only the undisturbed ride was flown" in told(0, 1, 1.0)


def test_what_is_so_whatever_the_style(table: StyleTable) -> None:
    (line,) = section(table, "Whatever the style").lines
    assert (line.label, line.verdict) == ("wind", Verdict.NO_GO)
    assert line.text.endswith("\nChange: wait")


def refused(table: StyleTable) -> StyleTable:
    """The same in a wind that no style bears: no ride breaks anything, and yet all is no-go."""
    return replace(table, word=Verdict.NO_GO, broken=0, bound=0.00993)


def test_what_is_no_go_is_not_recommended(table: StyleTable) -> None:
    said = styles.said(refused(table))
    assert "Recommended" not in [s.title for s in said.sections]
    first, left = said.sections[:2]
    (line,) = (line for line in first.lines if line.label == "wind")
    assert {line.verdict for line in first.lines} == {Verdict.NO_GO}
    assert line.text.endswith("\nWould have to change: wait")
    assert [line.label for line in left.lines] == ["1", "2", "3", "-", "4", "all", ""]
    assert not [line for line in left.lines if line.verdict == Verdict.NO_GO]
    (union,) = (line.text for line in left.lines if line.label == "all")
    assert union.startswith("but for what stands above: none of 300 rides breaks")
    assert not [s for s in said.sections if s.title == "Whatever the style"]  # told first
    assert styles.data(refused(table))["forbids"][-1]["check"]
    assert styles.data(table)["forbids"] == []


def test_where_nothing_passes_it_says_what_forbids_it_and_what_would_have_to_change(
    table: StyleTable,
) -> None:
    codes = np.full_like(table.verdict, int(Verdict.NO_GO))
    binding, thing = np.full_like(table.binding, "clearance"), np.full_like(table.thing, "pine-1")
    binding[0], thing[0, :5] = "people", "the shore path"
    none = replace(table, word=Verdict.NO_GO, legs=(), common=(), verdict=codes, binding=binding,
                   thing=thing)  # fmt: skip
    first = styles.said(none).sections[0]
    assert [line.label for line in first.lines] == ["clearance", "people"]
    assert "80 % of what was tried is refused for it: pine-1" in first.lines[0].text
    assert "keep_clear_m" in first.lines[0].text
    assert "the shore path" in first.lines[1].text
    assert "an hour when nobody is there" in first.lines[1].text


def test_every_check_a_search_asks_says_what_would_lift_it() -> None:
    missing = [c.id for c in CHECKS if c.nature.searched != "never" and not c.lifts]
    assert missing == []


def test_neighbours_of_one_word_are_one_line(table: StyleTable) -> None:
    lines = section(table, "side-track, left").lines
    assert [(line.label, line.verdict) for line in lines] == [
        ("0 to 160 m", Verdict.GO),
        ("160 to 240 m", Verdict.NO_GO),
        ("240 to 280 m", Verdict.GO),
        ("280 to 300 m", Verdict.CAUTION),
        ("300 to 340 m", Verdict.NO_GO),
        ("340 to 400 m", Verdict.CAUTION),
    ]
    assert lines[0].text == "12 m, 6 m up; 3.1 m to spare (pine-1)"
    assert lines[1].text == "too near: the leaning larch"
    assert lines[2].text == "20 m, 10 m up; 3.1 m to spare"
    assert lines[3].text.endswith("too near: pine-2; up to 1 of 60 rides break it")


def test_groups_are_ordered_best_first(table: StyleTable) -> None:
    # go on 200, 160, 80 and 0 m
    assert style_runs.ordered_groups(table) == (
        "side-track, left", "side-track, right", "follow-behind", "top-down",
    )  # fmt: skip


def test_every_candidate_is_told_when_asked(table: StyleTable) -> None:
    said = styles.said(table, every=True)
    titles = {s.title for s in said.sections}
    assert {c.label for c in table.candidates} <= titles
    (line, *_) = section(table, "side-track left 20 m, 10 m up", every=True).lines
    assert line.text == "3.1 m to spare (pine-1)"


def test_runs_cover_the_ride_and_say_no_better_word_than_the_table(table: StyleTable) -> None:
    rng = np.random.default_rng(5)
    for _ in range(40):
        codes = rng.integers(0, 4, table.verdict.shape).astype(np.int8)
        mixed = replace(
            table,
            verdict=codes,
            cost=rng.random(codes.shape),
            binding=rng.choice(np.array(["clearance", "view"], dtype=object), codes.shape),
        )
        for group in mixed.groups():
            runs = style_runs.of_group(mixed, group)
            assert [r.first for r in runs] == [0, *(r.past for r in runs[:-1])]
            assert runs[-1].past == codes.shape[1]
            best = codes[mixed.best_of(group), np.arange(codes.shape[1])]
            for run in runs:
                assert (best[run.first : run.past] == int(run.verdict)).all()
                if run.verdict in style_runs.PASSES:
                    own = codes[run.candidate, run.first : run.past]
                    assert (own == int(run.verdict)).all()
        for index in range(len(codes)):
            for run in style_runs.of_candidate(mixed, index):
                assert (codes[index, run.first : run.past] == int(run.verdict)).all()


def test_a_margin_nobody_knows_is_not_a_number(table: StyleTable) -> None:
    margin = table.margin_m.copy()
    margin[0, 0], margin[1, 0] = np.nan, np.nan
    lines = section(replace(table, margin_m=margin), "side-track, left").lines
    assert lines[0].text == "12 m, 6 m up; margin not known"


def test_the_data_is_json_without_numbers_nobody_knows(table: StyleTable) -> None:
    data = json.loads(json.dumps(styles.data(table), allow_nan=False))
    assert data["verdict"] == "caution"
    assert data["route"][0]["shot"] == {
        "style": "side-track", "side": "left", "distance_m": 12.0, "height_m": 6.0,
    }  # fmt: skip
    assert data["gaps"] == [{"from_m": 300.0, "to_m": 340.0}]
    assert len(data["candidates"]) == len(table.candidates)
    assert len(data["edges_m"]) == len(data["candidates"][0]["verdict"]) + 1
    assert data["candidates"][4]["margin_m"][0] is None
    assert data["share_bound"] == pytest.approx(table.bound)


def test_hostile_names_are_made_plain(tmp_path: Path) -> None:
    table = made_table(tmp_path / "site", called=EVERY.replace("\x07", ""))
    told = "\n".join(
        f"{line.label} {line.text}"
        for every in (False, True)
        for s in styles.said(table, every=every).sections
        for line in (styles.Line(s.title, None, ""), *s.lines)
    )
    assert all(plain(line) == line for line in told.split("\n"))
    assert "onerror" in told


def test_it_never_says_safe_or_legal(table: StyleTable) -> None:
    told = " ".join(
        line.text for s in styles.said(table, every=True).sections for line in s.lines
    ).lower()  # fmt: skip
    assert not [w for w in ("safe", "legal", "permitted") if w in told]
