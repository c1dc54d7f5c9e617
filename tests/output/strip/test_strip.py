"""The strip: the same bytes, readable in grey, no name from a file is a formula."""

from __future__ import annotations

import io
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from shotplan.advice.style_table import StyleTable
from shotplan.model.verdict import Verdict
from shotplan.output import lettering, look, paper
from shotplan.output.strip import key, strip, style_strip
from tests.output.hostile import EVERY
from tests.output.made_table import made_table

CLOCK = strip.Clock(np.array([0.0, 100.0]), np.array([0.0, 20.0]))


def opened(png: bytes) -> Image.Image:
    return Image.open(io.BytesIO(png)).convert("RGB")


def row(*verdicts: Verdict, words: tuple[tuple[str, ...], ...] = ()) -> strip.Row:
    edges = np.linspace(0.0, 100.0, len(verdicts) + 1).tolist()
    return strip.Row("r", tuple(
        strip.Cell(a, b, v, words) for a, b, v in zip(edges[:-1], edges[1:], verdicts, strict=True)
    ))  # fmt: skip


def shares(image: Image.Image, colour: str) -> float:
    """The share of pixels of about a colour."""
    wanted = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])
    return float((np.abs(np.asarray(image).astype(int) - wanted).max(axis=2) < 12).mean())


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> StyleTable:
    return made_table(tmp_path_factory.mktemp("made") / "site")


def test_the_same_table_gives_the_same_small_picture(table: StyleTable) -> None:
    first = style_strip.png(table)
    assert first == style_strip.png(table)
    assert opened(first).width == 780  # a phone's 390 pixels of a page, two each
    assert len(first) < 150_000


@pytest.mark.parametrize("verdict", list(Verdict))
def test_each_word_has_its_colour(verdict: Verdict) -> None:
    colour = look.VERDICTS[verdict].line
    others = [v for v in Verdict if v != verdict]
    with_it = opened(draw([row(*[verdict] * 3)], (), CLOCK))
    without = opened(draw([row(*others)], (), CLOCK))
    assert shares(with_it, colour) > shares(without, colour) + 0.005


def draw(*given: Any, **more: Any) -> bytes:
    """A strip as a PNG."""
    return paper.packed(strip.pixels(*given, **more))


def line_of(verdict: Verdict) -> np.ndarray[Any, Any]:
    """The grey line under a cell that is as wide as the picture, its ends left out."""
    png = draw([row(verdict)], (), CLOCK)
    grey = np.asarray(opened(png).convert("L")).astype(int)
    band = strip._bands(CLOCK, 1)[0]
    middle = round(2.0 * (band.y(0) + strip.WORDS + key.LINE / 2.0))
    return grey[middle - 2 : middle + 2, 40:740]


def test_words_differ_in_grey_by_their_line_alone() -> None:
    lines = {v: line_of(v) for v in Verdict}
    even = np.ptp(lines[Verdict.GO])
    assert even < 12
    assert all(np.ptp(lines[v]) > 80 for v in Verdict if v != Verdict.GO)
    # Dashes are wider than dots, and crosses stand on a line that is not black.
    bright = {v: float((line > 150).mean()) for v, line in lines.items()}
    assert bright[Verdict.CAUTION] > 1.15 * bright[Verdict.UNKNOWN]
    assert lines[Verdict.NO_GO].min() > lines[Verdict.CAUTION].min() + 15


def test_long_rides_go_on_in_other_bands_and_short_ones_do_not() -> None:
    def bands(length_m: float) -> list[strip._Band]:
        return strip._bands(strip.Clock(np.array([0.0, length_m]), np.array([0.0, 1.0])), 2)

    assert [len(bands(m)) for m in (200.0, 300.0, 5000.0)] == [1, 2, strip.MOST_BANDS]
    first, second = bands(300.0)
    assert first.to_m == second.from_m == 150.0
    assert first.below < second.top
    assert first.part(160.0, 200.0) is None


def test_the_way_and_the_gaps_are_seen() -> None:
    rows = [row(Verdict.GO), row(Verdict.GO)]
    bare = opened(draw(rows, (), CLOCK))
    way = (strip.Span(0, 0.0, 50.0, "1"), strip.Span(1, 50.0, 80.0, "2"))
    drawn = opened(draw(rows, (), CLOCK, path=way, gaps=[(80.0, 100.0)]))
    band = strip._bands(CLOCK, 2)[0]
    x = round(2.0 * band.x(50.0))
    between = slice(round(2 * (band.y(0) + strip.WORDS + key.LINE)) + 4, round(2 * band.y(1)) - 4)
    assert (np.asarray(drawn)[between, x] > 240).all(axis=1).mean() > 0.9  # the white core
    assert shares(drawn, look.INK) > shares(bare, look.INK) + 0.005


@pytest.mark.filterwarnings("error")
def test_hostile_and_foreign_names_are_text(tmp_path: Path) -> None:
    named = made_table(tmp_path / "site", called="$\\frac{1}{0}$ 松の木 \U0001f332")
    assert opened(style_strip.png(named)).width == 780
    words = ((EVERY, EVERY),)
    png = draw(
        [row(Verdict.NO_GO, words=words)._replace(label=EVERY, note="")],
        [strip.Mark(50.0, EVERY, 0.0)],
        CLOCK,
        title=EVERY,
    )
    assert opened(png).width == 780


def test_what_the_typeface_cannot_write_is_a_box() -> None:
    assert lettering.writable("ok \ufdd0\x1b") == "ok □·"  # a code that is no letter of any font


def test_words_are_cut_and_numbers_are_not() -> None:
    wide = lettering.wide("clearance of the pines", lettering.SMALL)
    assert lettering.fitting((("clearance of the pines",),), wide + 1.0) == (
        "clearance of the pines",
    )
    (cut,) = lettering.fitting((("clearance of the pines",),), wide / 2.0)
    assert cut.startswith("clear")
    assert cut.endswith("…")
    assert lettering.wide(cut, lettering.SMALL) <= wide / 2.0
    assert lettering.fitting((("12 m out, 6 m up",), ("12 m",)), 1.0) == ()
    assert lettering.fitting((("12 m out, 6 m up",), ("12 m",)), 40.0) == ("12 m",)


def test_landmarks_do_not_touch_and_the_best_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    written: list[tuple[float, float, str]] = []

    def note(axes: Any, x: float, y: float, text: str, **_: Any) -> None:
        written.append((x, y, text))

    marks = [strip.Mark(float(m), f"mark number {m}", worth=abs(m - 50)) for m in range(5, 96, 3)]
    band = strip._bands(CLOCK, 1)[0]
    monkeypatch.setattr(strip, "write", note)
    strip._landmarks(paper.sheet(look.WIDE, 300.0), band, sorted(marks, key=lambda m: m.worth))
    assert written[0][2] == "mark number 50"
    assert 3 <= len(written) < len(marks)
    for lane in {y for _, y, _ in written}:
        ends = sorted(
            (x, x + lettering.wide(t, lettering.SMALL)) for x, y, t in written if y == lane
        )
        assert all(a[1] < b[0] for a, b in pairwise(ends))
