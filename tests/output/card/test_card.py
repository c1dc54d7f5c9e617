from __future__ import annotations

import dataclasses
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from shotplan import plan as pipeline
from shotplan.judging.judged import Plan
from shotplan.outing import read
from shotplan.output import paper
from shotplan.output.calls import CALLS
from shotplan.output.card import card
from shotplan.output.card.words import Card
from shotplan.output.card.words import card as words_of
from shotplan.output.lettering import wide
from shotplan.scene.wind_limits import SIDES, wind_limits
from tests import worlds
from tests.output.hostile import EVERY, NAMES

LEAD = {"name": "ahead", "style": "lead", "distance_m": 9.0, "height_m": 4.0, "takes": 2}


@cache
def _made(folder: Path, name: str) -> Plan:
    oak = worlds.tree(
        "oak", east_m=-15.0, north_m=20.0, height_m=12.0, radius_m=2.0, name=name,
    )  # fmt: skip
    site: dict[str, Any] = {"name": name, "shot": [{**worlds.SIDE_TRACK, "name": name}, LEAD]}
    return pipeline.make(read(worlds.write_site(folder, features=[oak], site=site)))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return _made(tmp_path_factory.getbasetemp() / "card", "the bent oak")


def texts(sheets: list[Any]) -> list[str]:
    return [t.get_text() for axes in sheets for t in axes.texts]


def test_settings_are_those_of_the_shot(made: Plan) -> None:
    first, second = words_of(made).shots
    scene = made.shots[0].scene
    # the ground is level, so the display reads the height over the rider
    assert first.dials[0].label == "display reads"
    assert first.dials[0].value.endswith("6.0 m")
    assert {(d.label, d.value) for d in first.dials} >= {
        ("over rider", "6 m"), ("distance", "12 m"), ("side", "left"),
    }  # fmt: skip
    assert first.style == scene.shot.style.words()
    assert any(d.value.endswith(", 2×") for d in second.dials)
    assert any((d.label, d.value) == ("each take", "voltage") for d in second.dials)


def test_last_take_off_and_limits_are_the_plans(made: Plan) -> None:
    said = words_of(made)
    for index, shot in enumerate(said.shots):
        (slot,) = [s for s in made.timeline if s.what == "last take-off" and s.shot == index]
        at = slot.start.astimezone(made.outing.day.timezone)
        assert shot.dials[-1] == ("take off by", f"{at:%H:%M}")
    limits = wind_limits(made.shots[0].scene)
    cells = dict(said.wind.rows)["A"]
    assert len(cells) == len(limits) == len(SIDES)
    for cell, limit in zip(cells, limits, strict=True):
        speed, force = cell.split(" F")
        assert float(speed) <= limit.hand_m_s < float(speed) + 0.1 + 1e-9
        assert int(force) == limit.force
    assert SIDES[said.wind.planned] == "W"  # from 250 degrees


def test_what_is_near_to_pace_and_to_call_is_on_it(made: Plan) -> None:
    said = words_of(made)
    assert said.shots[0].near[0].startswith("the bent oak ")
    ((pace, whose),) = said.pace
    assert pace.startswith("the bent oak, left at 120 m: must be at least ")
    assert whose == (0,)
    shown = " ".join(texts(card.pages(said)))
    for call in CALLS:
        assert call.word.upper() in shown
        assert call.sign.split()[0] in shown
    assert "climbs to 40 m above launch and flies home" in said.alone


def test_a_rider_who_steers_has_no_place_to_stand_and_what_is_not_said_is_a_blank(
    made: Plan,
) -> None:
    ada = dataclasses.replace(made.outing.day.crew[0], roles=frozenset(("rider", "pilot")))
    tove = dataclasses.replace(
        made.outing.day.crew[1], name="Tove", roles=frozenset(("spotter",)), stands=""
    )
    day = dataclasses.replace(made.outing.day, crew=(ada, tove))
    site = dataclasses.replace(made.outing.site, return_height_m=None)
    outing = dataclasses.replace(made.outing, day=day, site=site)
    said = words_of(dataclasses.replace(made, outing=outing, timeline=()))
    assert said.crew == "Ada rides and is pilot, Tove spotter at ____________"
    assert said.notes == (
        "Ada rides and steers: no place to stand, so no picture of what is seen from it.",
    )
    assert said.alone.startswith("climbs to ____ m")
    assert said.shots[0].dials[-1].value == "__:__"
    nobody = dataclasses.replace(outing, day=dataclasses.replace(day, crew=()))
    assert "not named" in words_of(dataclasses.replace(made, outing=nobody)).notes[0]


def within_the_page(axes: Any) -> None:
    """No text may lead off the sheet."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas: Any = FigureCanvasAgg(axes.figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    for text in axes.texts:
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0.0, text.get_text()
        assert box.x1 <= axes.figure.bbox.x1, text.get_text()
        assert box.y0 >= 0.0, text.get_text()


def test_four_shots_a_page_and_nothing_leads_off_it(made: Plan) -> None:
    said = words_of(made)
    for count, pages in ((1, 1), (4, 1), (5, 2), (9, 3)):
        more = said._replace(
            shots=tuple(said.shots[k % 2] for k in range(count)),
            wind=said.wind._replace(rows=tuple(said.wind.rows[k % 2] for k in range(count))),
        )
        sheets = card.pages(more)
        assert len(sheets) == pages
        for axes in sheets:
            within_the_page(axes)


def test_long_and_hostile_names_stay_text_on_the_page(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    for k, name in enumerate((EVERY, *NAMES, "w" * 120)):
        printable = "".join(c for c in name if c.isprintable()) if k else name[:200]
        said = _hostile(words_of(_made(tmp_path_factory.getbasetemp() / "card", "the bent oak")),
                        printable)  # fmt: skip
        (sheet,) = card.pages(said)
        within_the_page(sheet)
        assert not any(text.get_parse_math() for text in sheet.texts)
        assert not any(ord(c) < 32 for text in sheet.texts for c in text.get_text())


def _hostile(said: Card, name: str) -> Card:
    """Every word on the card that may come from a file."""
    shots = tuple(
        s._replace(
            name=name, style=name, why=name, near=(name, name), go_if=(name,), first=name,
            calls=(name, name), dials=tuple(d._replace(value=name) for d in s.dials),
        )
        for s in said.shots
    )  # fmt: skip
    return said._replace(
        site=name, crew=name, air=name, notes=(name,), alone=name, shots=shots, pace=((name, (0,)),)
    )


def test_the_same_plan_gives_the_same_bytes(made: Plan) -> None:
    files = card.output(made)
    assert files == card.output(made)
    assert list(files) == ["card.pdf", "card-A.png", "card-B.png"]
    assert files["card.pdf"].startswith(b"%PDF-1.")
    assert b"CreationDate" not in files["card.pdf"]
    assert b"/Count 1 " in files["card.pdf"]
    # A5 upright: 148 by 210 mm (ISO 216)
    assert b"/MediaBox [ 0 0 419.52" in files["card.pdf"]


def test_words_are_wrapped_where_they_have_room_and_units_stay_with_their_number() -> None:
    text = "nearest ground 13.0 m, needs 2.7 m, at 120 m; then a much longer line of words"
    lines = paper.wrapped(text, 90.0, size=8.0)
    assert " ".join(lines) == text
    assert not any(line.startswith("m") and line[1:2] in ",; " for line in lines)
    assert all(wide(line, 8.0) <= 91.0 for line in lines)
    (cut,) = paper.wrapped(text, 90.0, size=8.0, lines=1)
    assert cut.endswith("…")
    assert paper.wrapped("", 90.0) == []
