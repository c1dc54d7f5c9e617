from __future__ import annotations

import dataclasses

import pytest

from shotplan.model.judged import Stretch
from shotplan.model.verdict import Verdict
from shotplan.output import words
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan


def test_what_decides_comes_first() -> None:
    said = words.answer(made_plan())
    first, second = said.shots
    assert said.verdict == Verdict.NO_GO
    assert [r.check for r in first.deciding] == ["clearance"]
    assert [r.verdict.word for r in first.rest] == ["go", "go"]
    assert first.deciding[0].distance == "0.0 m, needs 2.2 m"
    assert first.deciding[0].pin == "A1"
    assert second.deciding[0].pin == "B1"
    for shot in said.shots:
        assert [int(r.verdict) for r in shot.rows] == sorted(
            (int(r.verdict) for r in shot.rows), reverse=True
        )


def test_where_all_is_go_the_tightest_harm_is_pinned() -> None:
    shot = made_plan().shots[1]
    calm = dataclasses.replace(
        shot,
        findings=tuple(dataclasses.replace(f, verdict=Verdict.GO) for f in shot.findings),
    )
    assert words.pins(calm, "A") == {"clearance": "A1"}


def test_an_upper_limit_reads_as_one() -> None:
    shot = made_plan().shots[0]
    assert words.distance(shot.finding("height")) == "6.0 m, at most 120 m"


def test_numbers_that_round_alike_get_another_decimal() -> None:
    assert words.amount(2.16, "m", 2.18) == "2.16 m"
    assert words.amount(2.1796, "m", 2.18) == "2.180 m"
    assert words.amount(0.6, "m", 2.2) == "0.6 m"
    assert words.amount(1.07, "of what it has") == "107% of what it has"
    assert words.amount(None, "m") == "unknown"


def test_unknown_is_never_printed_as_a_number() -> None:
    found = dataclasses.replace(
        made_plan().shots[0].findings[0],
        verdict=Verdict.UNKNOWN, value=None, limit=None, margin=None,
    )  # fmt: skip
    assert words.distance(found) == "unknown"
    clear = dataclasses.replace(found, verdict=Verdict.GO)
    assert words.distance(clear) == "nothing near"


def test_letters_go_on_after_z() -> None:
    assert [words.letter(i) for i in (0, 25, 26, 27, 52, 701, 702)] == [
        "A", "Z", "AA", "AB", "BA", "ZZ", "AAA",
    ]  # fmt: skip


def test_a_stretch_says_what_binds_and_by_how_much() -> None:
    assert words.stretch(Stretch(40.0, 62.0, Verdict.GO, "clearance", 3.1)) == (
        "40 to 62 m: go (clearance, 3.1 to spare)"
    )
    assert words.stretch(Stretch(62.0, 70.0, Verdict.NO_GO, "clearance", -1.6)) == (
        "62 to 70 m: no-go (clearance, 1.6 short)"
    )
    assert words.stretch(Stretch(0.0, 9.0, Verdict.UNKNOWN, "clearance", None)) == (
        "0 to 9 m: unknown (clearance)"
    )


def test_rides_that_break_it_are_counted() -> None:
    row = words.answer(made_plan(rides=3)).shots[0].deciding[0]
    assert row.rides.startswith("3 of 3 rides break it")


@pytest.mark.parametrize("sign", ["\x1b", "\x07", "\u202e", "\u2066", "\r", "\n", "\u200f"])
def test_signs_that_steer_a_terminal_or_turn_a_line_are_shown_as_a_dot(sign: str) -> None:
    assert words.plain(f"a{sign}b") == "a·b"


def test_names_are_made_plain_everywhere() -> None:
    said = words.answer(made_plan(site_name=EVERY, shot_name=EVERY))
    assert "\x1b" not in repr(said).replace("\\x1b", "\x1b")


def test_no_word_grants_anything() -> None:
    text = repr(words.answer(made_plan())).lower()
    assert "legal" not in text
    assert "safe" not in text


def test_assumptions_are_told_once_with_their_checks() -> None:
    assert words.assumptions(made_plan()) == {
        "crowns are taken as solid": ("clearance", "height", "sight")
    }
