"""One screen: what fits on it, what stands on it, what never does."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

import shotplan as sp
from shotplan.checks import CHECKS
from shotplan.cli import show
from shotplan.judging.judged import Plan
from shotplan.model.change import Mended
from shotplan.model.verdict import Verdict
from shotplan.output.screen import Line, screen
from tests.output.hostile import EVERY
from tests.worlds import SIDE_TRACK, tree, write_site


@cache
def four(name: str = "heath") -> Plan:
    """Two shots that hit the oak, two that are go, on a heath with a launch."""
    shots = [
        {**SIDE_TRACK, "name": f"{name} {i}", "distance_m": out}
        for i, out in enumerate((12.0, 11.5, 20.0, 24.0))
    ]
    features = [tree("oak", east_m=-12.0, north_m=0.0, name=name)]
    with TemporaryDirectory() as folder:
        site = write_site(Path(folder), features=features, site={"shot": shots})
        return sp.make(sp.read(site), rides=300)


def printed(capsys: pytest.CaptureFixture[str], plan: Plan) -> list[str]:
    show.screen(screen(plan, "home-hill", ("map.html", "card-*.png")))
    return capsys.readouterr().out.splitlines()


def test_four_shots_fit_a_screen(capsys: pytest.CaptureFixture[str]) -> None:
    lines = printed(capsys, four())
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 80
    words = [line.split()[-1] for line in lines if re.match("[A-D]  ", line)]
    assert words == [s.verdict.word for s in four()]
    assert len({len(line) for line in lines if re.match("[A-D]  ", line)}) == 1


def test_it_names_no_check_and_no_key(capsys: pytest.CaptureFixture[str]) -> None:
    said = "\n".join(printed(capsys, four()))
    for check in CHECKS:
        assert f"{check.id}:" not in said
        assert f"({check.id}" not in said
    assert not re.search(r"\b[a-z]+_(m|s|deg)\b", said)
    for at_most in re.findall(r"[^\n]*(?:at most|needs)[^\n]*", said):
        assert len(re.findall(r"\d+\.?\d*", at_most)) >= 2


def test_what_decides_stands_under_the_shot(capsys: pytest.CaptureFixture[str]) -> None:
    lines = printed(capsys, four())
    at = next(i for i, line in enumerate(lines) if line.startswith("A  "))
    assert lines[at + 1] == "   It hits heath: 0.0 m, needs 2.2."
    assert any(re.match(r"   Good as it is from \d+ to \d+ m of the ride\.", row) for row in lines)


def test_the_end_says_what_to_open(capsys: pytest.CaptureFixture[str]) -> None:
    rows = printed(capsys, four())
    assert "open        map.html    everything, on the phone too" in rows
    assert "then        shotplan brief home-hill   a page for everybody who stands there" in rows
    show.screen(screen(four(), "home-hill", ()))
    assert "open" not in capsys.readouterr().out


def test_hostile_names_are_text(capsys: pytest.CaptureFixture[str]) -> None:
    lines = printed(capsys, four(EVERY))
    said = "\n".join(lines)
    assert "\x1b" not in said
    assert "\u202e" not in said
    assert max(map(len, lines)) <= 80


def test_a_long_line_goes_on_under_its_text_with_the_word_at_its_end(
    capsys: pytest.CaptureFixture[str],
) -> None:
    show.screen((Line("over the meadow " * 9, "A", Verdict.GO, leads=True),))
    rows = capsys.readouterr().out.splitlines()
    assert rows[0].startswith("A  over the meadow")
    assert all(re.match("   (over|the|meadow) ", row) for row in rows[1:])
    assert rows[-1].endswith("-> go")
    assert len(rows[-1]) == 80


def test_what_may_be_the_wrong_place_is_said_first(capsys: pytest.CaptureFixture[str]) -> None:
    off = replace(four(), outing=replace(four().outing, doubt="ride.gpx: it lies 228 m too high"))
    assert printed(capsys, off)[2] == "Look first: ride.gpx: it lies 228 m too high."


def test_what_nobody_gave_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    weather = replace(four().outing.day.weather, gust_m_s=None)
    day = replace(four().outing.day, weather=weather)
    said = " ".join(printed(capsys, replace(four(), outing=replace(four().outing, day=day))))
    assert re.search(r"not given +\S*gust", said)


def test_a_caution_without_a_change_is_not_said_to_fail(capsys: pytest.CaptureFixture[str]) -> None:
    none = Mended(in_the_way="nothing near it works; what stops it: the wind")
    blocked, *clear = four()
    told = replace(four(), shots=(replace(blocked, mended=none), *clear))
    assert "A  nothing near it works; what stops it: the wind" in printed(capsys, told)
    cautious = replace(blocked, verdict=Verdict.CAUTION, mended=none)
    assert not any("stops it" in x for x in printed(capsys, replace(told, shots=(cautious,))))
