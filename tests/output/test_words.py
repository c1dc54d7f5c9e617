from __future__ import annotations

import math
from dataclasses import replace

import pytest

from shotplan.checks import battery
from shotplan.judging.judged import Also, Spot, Stretch
from shotplan.model.change import Change, Mended
from shotplan.model.verdict import Verdict
from shotplan.output import answer, measures, words
from shotplan.scene.margin import Remark
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan


def test_what_decides_comes_first() -> None:
    said = answer.answer(made_plan())
    first, second = said.shots
    assert said.verdict == Verdict.NO_GO
    assert [r.check for r in first.deciding] == ["clearance"]
    assert [r.verdict.word for r in first.rest] == ["go", "go"]
    assert first.deciding[0].distance == "0.0 m, needs 2.2 m"
    assert first.deciding[0].pin == "A·1"
    assert second.deciding[0].pin == "B·1"
    for shot in said.shots:
        assert [int(r.verdict) for r in shot.rows] == sorted(
            (int(r.verdict) for r in shot.rows), reverse=True
        )


def test_where_all_is_go_nothing_is_pinned() -> None:
    shot = made_plan().shots[1]
    calm = replace(
        shot,
        findings=tuple(replace(f, verdict=Verdict.GO) for f in shot.findings),
    )
    assert words.pins(calm, "A") == {}
    assert words.pins(shot, "B") == {"clearance": "B·1"}


def test_an_upper_limit_reads_as_one() -> None:
    shot = made_plan().shots[0]
    assert measures.distance(shot.finding("height")) == "6.0 m, at most 120 m"


def test_numbers_that_round_alike_get_another_decimal() -> None:
    assert measures.amount(2.16, "m", 2.18) == "2.16 m"
    assert measures.amount(2.1796, "m", 2.18) == "2.180 m"
    assert measures.amount(0.6, "m", 2.2) == "0.6 m"
    assert measures.amount(1.07, "of the battery") == "107 % of the battery"
    assert measures.amount(None, "m") == "unknown"


def test_unknown_is_never_printed_as_a_number() -> None:
    found = replace(
        made_plan().shots[0].findings[0],
        verdict=Verdict.UNKNOWN, by_limit=Verdict.UNKNOWN, value=None, limit=None, margin=None,
    )  # fmt: skip
    assert measures.distance(found) == "unknown"
    clear = replace(found, verdict=Verdict.GO, by_limit=Verdict.GO)
    assert measures.distance(clear) == "nothing near"


def test_letters_go_on_after_z() -> None:
    assert [words.letter(i) for i in (0, 25, 26, 27, 52, 701, 702)] == [
        "A", "Z", "AA", "AB", "BA", "ZZ", "AAA",
    ]  # fmt: skip


def test_a_stretch_says_what_binds_and_by_how_much_in_which_unit() -> None:
    assert words.stretch(Stretch(40.0, 62.0, Verdict.GO, "clearance", 3.1), "m") == (
        "40 to 62 m: go (clearance, 3.1 m to spare)"
    )
    assert words.stretch(Stretch(62.0, 70.0, Verdict.NO_GO, "clearance", -1.6), "m") == (
        "62 to 70 m: no-go (clearance, 1.6 m short)"
    )
    assert words.stretch(Stretch(0.0, 9.0, Verdict.UNKNOWN, "clearance", None), "m") == (
        "0 to 9 m: unknown (clearance)"
    )
    assert words.stretch(Stretch(0.0, 9.0, Verdict.GO, "battery", 0.1), "of the battery") == (
        "0 to 9 m: go (battery, 10.0 % of the battery to spare)"
    )
    assert words.stretch(Stretch(0.0, 9.0, Verdict.NO_GO, "wind", -0.04), "m/s") == (
        "0 to 9 m: no-go (wind, 0.04 m/s short)"
    )


def test_a_need_reads_as_one() -> None:
    first = made_plan().shots[0].findings[0]
    found = replace(first, of=battery.CHECK, value=1.46, limit=1.0, unit="of the battery")
    assert measures.distance(found) == "needs 146 % of the battery"


def test_heights_begin_with_what_the_display_shows() -> None:
    at = Spot(0, 0.0, 0.0, (0.0, 0.0, 0.0), 5.52, 78.8, 10.0)
    assert measures.heights(at) == (
        "your display reads 5.5 m; 78.8 m above the ground below, 10.0 m from the nearest ground"
    )
    blank = at._replace(height_above_launch_m=math.nan, surface_m=78.8)
    assert measures.heights(blank, launch=False) == (
        "no launch is drawn; 78.8 m above the ground below"
    )
    assert measures.heights(blank).startswith("what your display reads is not known; ")


def test_what_else_is_no_go_is_seen_and_the_parts_of_the_limit_are_notes() -> None:
    plan = made_plan()
    shot = plan.shots[0]
    also = (
        Also(Verdict.NO_GO, 0.5, 2.0, -1.5, "m", "hut", None, "the hut is near", "stay off"),
        Also(Verdict.UNKNOWN, None, 2.0, None, "m", "wire", None, "a wire", "give its height"),
    )
    found = replace(
        shot.findings[0],
        remarks=(*shot.findings[0].remarks, Remark("walk it")),
        also=(*also, *shot.findings[0].also),
    )
    changed = replace(shot, findings=(found, *shot.findings[1:]), combined="two kinds")
    said = answer.answer(replace(plan, shots=(changed,))).shots[0]
    row = said.deciding[0]
    assert "also no-go: 0.5 m, needs 2.0 m: the hut is near; stay off" in row.seen
    assert "also unknown: a wire; give its height" in row.seen
    assert any("a tenth of the blind samples is near" in line for line in row.seen)
    assert [n.text for n in row.notes if n.kind != "limit"] == ["walk it"]
    assert sum(n.kind == "limit" for n in row.notes) == 1
    assert said.combined == "two kinds"


def test_what_reading_mended_is_no_caution_before_flying() -> None:
    said = answer.answer(made_plan())
    assert said.read == ("ride.gpx: 2 fixes out of 312 jumped and were left out",)
    assert said.cautions == (
        "Walk the ride first, look for wires, and fly the easy version first.",
    )
    assert set(answer.cautions(made_plan())) == {*said.read, *said.cautions}


def test_the_first_screen_counts_and_says_why_when_and_in_what_wind() -> None:
    said = answer.answer(made_plan())
    assert said.tally == "1 no-go, 1 caution"
    assert said.shots[0].why == "clearance: the leaning larch"
    assert said.planned == (
        "Sat 20 June 2026, 20:10 (UTC+01:00); wind from WSW, 5 m/s, gusts not known"
    )


def test_rides_that_break_it_are_counted() -> None:
    row = answer.answer(made_plan(rides=3)).shots[0].deciding[0]
    assert row.rides.startswith("3 of 3 rides break it")


@pytest.mark.parametrize(
    "sign", ["\x1b", "\x07", "\u202e", "\u2066", "\r", "\n", "\u200f", "\u2028"]
)
def test_signs_that_steer_a_terminal_or_turn_a_line_are_shown_as_a_dot(sign: str) -> None:
    assert words.plain(f"a{sign}b") == "a·b"


def test_names_are_made_plain_everywhere() -> None:
    said = answer.answer(made_plan(site_name=EVERY, shot_name=EVERY))
    assert "\x1b" not in repr(said).replace("\\x1b", "\x1b")


def test_no_word_grants_anything() -> None:
    text = repr(answer.answer(made_plan())).lower()
    assert "legal" not in text
    assert "safe" not in text


def test_assumptions_are_told_once_with_their_checks() -> None:
    assert answer.assumptions(made_plan()) == {
        "crowns are taken as solid": ("clearance", "height", "sight")
    }


def test_only_a_change_that_was_flown_is_called_one() -> None:
    made = made_plan()
    shot = answer.answer(made).shots[0]
    assert shot.change == ""
    decides = shot.deciding[0]
    assert (decides.advice, decides.reckoned != "") == ("", True)
    change = Change(
        keys={"height_m": 9.0}, verdict=Verdict.GO, rides=300, seed=2, text="9 m up\x1b: go"
    )
    for mended, said in (
        (Mended(changes=(change,)), "9 m up·: go"),
        (Mended(in_the_way="none works: wind"), "none works: wind"),
        (Mended(), ""),
    ):
        shots = (replace(made.shots[0], mended=mended), *made.shots[1:])
        assert answer.answer(replace(made, shots=shots)).shots[0].change == said


def test_the_chance_over_all_takes_stands_beside_every_share() -> None:
    # 1 - 0.99^5 = 4.9 % (the chance of at least one in five that are independent; textbook).
    assert measures.at_most(0.01, 5) == "under 1.0 % of all such rides (5 takes: 4.9 %)"
    made = made_plan(rides=300)
    shots = tuple(
        replace(s, scene=replace(s.scene, shot=replace(s.scene.shot, takes=5))) for s in made.shots
    )
    said = answer.answer(replace(made, shots=shots))
    assert "(5 takes: 4.9 %)" in said.proved
    few = next(f for f in shots[0].findings if f.check == "clearance")
    few = replace(few, rides_breaking=3, share_bound=0.0257)
    some = replace(shots[0], findings=(few,))
    (row,) = answer.answer(replace(made, shots=(some,))).shots[0].rows
    assert row.rides.endswith("under 2.6 % of all such rides (5 takes: 12.2 %)")


def test_what_the_rides_prove_is_said_once_and_no_more() -> None:
    """Clopper and Pearson: none of 300 proves a share under 1 - 0.05^(1/300) = 0.99 %."""
    assert "under 1.0 % of all such rides do" in answer.answer(made_plan(rides=300)).proved
    alone = answer.answer(made_plan())
    assert alone.proved.startswith("Only the undisturbed ride was flown")
    assert alone.shots[0].part.endswith("undisturbed ride only")
