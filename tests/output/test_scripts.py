"""Letters of any script: from fonts of the machine, behind the own one; what none has is said."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from matplotlib import get_data_path

from shotplan.output import lettering, paper, scripts
from tests.output.made_plan import made_plan

STIX = str(Path(get_data_path()) / "fonts" / "ttf" / "STIXGeneral.ttf")
NO_LETTER = "\ufdd0"  # Unicode: a noncharacter, so that no font has it


@pytest.fixture
def one_font(monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A machine with one font more; a letter that only that one has."""
    monkeypatch.setattr(scripts, "machine", lambda: (STIX,))
    scripts._having.cache_clear()
    lettering.wide.cache_clear()
    beyond = sorted(scripts.letters(STIX) - scripts.letters(scripts.own(bold=False)))
    yield next(c for c in map(chr, beyond) if c.isprintable() and c.isalpha())
    scripts._having.cache_clear()
    lettering.wide.cache_clear()


def drawn(text: str) -> bytes:
    axes = paper.sheet(120.0, 20.0)
    paper.write(axes, 4.0, 10.0, text)
    return paper.png(axes.figure)


def test_a_letter_is_taken_from_the_first_font_that_has_it(one_font: str) -> None:
    assert scripts.wanted("plain") == ()
    assert scripts.wanted("höher, Ωμέγα, Гора") == ()  # its own typeface has them
    assert scripts.wanted(f"a{one_font}") == (STIX,)
    assert lettering.writable(f"a{one_font}b{NO_LETTER}") == f"a{one_font}b□"


def test_it_is_written_and_as_wide_as_it_is_said_to_be(one_font: str) -> None:
    assert drawn(f"a{one_font}") == drawn(f"a{one_font}")
    assert drawn(f"a{one_font}") != drawn("a□")
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    axes = paper.sheet(200.0, 20.0)
    paper.write(axes, 0.0, 10.0, f"nn{one_font * 5}nn")
    canvas: Any = FigureCanvasAgg(axes.figure)
    canvas.draw()
    box = axes.texts[0].get_window_extent()
    said = lettering.wide(f"nn{one_font * 5}nn")
    assert box.width / 2.0 - 0.5 <= said <= 1.05 * box.width / 2.0  # never narrower than it is


def test_one_warning_names_what_no_font_can_write(one_font: str) -> None:
    outing = made_plan().outing

    def boxed(name: str) -> str:
        return scripts.boxed(replace(outing, site=replace(outing.site, name=name)))

    assert boxed("Gull Scarp") == ""
    assert boxed(f"Gull {one_font}") == ""
    said = boxed(f"Gull {chr(0x10FFF0 - 0x10)}")
    assert "no font on this machine has all letters of Gull" in said
    assert "boxes stand for them" in said


def test_a_font_that_cannot_be_read_or_is_pictures_is_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "broken.ttf").write_bytes(b"no font")
    assert scripts.letters(str(tmp_path / "broken.ttf")) == frozenset()
    from matplotlib import font_manager

    found = [
        "/f/ZSerif-Regular.ttf",
        "/f/ColorEmoji.ttf",
        "/f/ASans-Bold.ttf",
        "/f/BSans-Regular.ttf",
    ]
    monkeypatch.setattr(font_manager, "findSystemFonts", lambda: found)
    scripts.machine.cache_clear()
    order = [Path(p).name for p in scripts.machine()]
    scripts.machine.cache_clear()
    assert order == ["BSans-Regular.ttf", "ASans-Bold.ttf", "ZSerif-Regular.ttf"]
