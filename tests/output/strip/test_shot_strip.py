"""The strip of one shot: what is not go throughout, its number, its limit; the rest folded."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from shotplan.judging.judged import Plan
from shotplan.model.verdict import Verdict
from shotplan.output import words
from shotplan.output.strip import shot_strip
from shotplan.output.strip.curve import curve, unit_line
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan


@pytest.fixture(scope="module")
def plan() -> Plan:
    return made_plan()


def written(plan: Plan, index: int) -> list[str]:
    return [t.get_text() for t in shot_strip._page(plan, index)[0].texts]


def test_a_shot_is_a_page_and_the_same_plan_the_same_bytes(plan: Plan) -> None:
    files = shot_strip.output(plan)
    assert list(files) == ["strip-A.png", "strip-B.png"]
    assert files == shot_strip.output(plan)
    assert {Image.open(io.BytesIO(data)).width for data in files.values()} == {780}


def test_what_is_go_throughout_is_folded_into_one_row(plan: Plan) -> None:
    for index, shot in enumerate(plan.shots):
        told = shot_strip.told(shot)
        said = written(plan, index)
        for found in shot.findings:
            throughout = found.verdict == Verdict.GO and found.metre_codes.max() == 0
            assert (found in told) != throughout
            assert (found.of.question in said) != throughout
        rest = len(shot.findings) - len(told)
        assert f"{rest} other{'s' * (rest != 1)}" in said


def test_no_id_of_a_check_is_on_it(plan: Plan) -> None:
    for index, shot in enumerate(plan.shots):
        lines = " ".join(written(plan, index))
        assert not [f.check for f in shot.findings if f"{f.check}:" in lines]


def test_a_curve_is_the_number_with_its_limit_and_the_limit_is_said(plan: Plan) -> None:
    shot = plan.shots[0]
    found = shot.finding("clearance")
    drawn = curve(shot, found)
    assert drawn is not None
    assert drawn.least
    assert unit_line(found, drawn) == "m; needs 2.2, for go 4"  # soft from 4 m on
    np.testing.assert_allclose(drawn.value, found.values)
    assert drawn.low < min(2.18, float(found.values.min()))
    # as the margins of the undisturbed ride have it, the worst of all rides within 5 m
    np.testing.assert_allclose(drawn.worst - 2.18, found.least.min(axis=0), atol=1e-5)
    known = np.isfinite(drawn.worst)
    there = np.interp(drawn.metres, drawn.along_m, drawn.value)
    assert known.sum() > 100
    assert (drawn.worst <= there + 1e-5)[known].all()


def test_at_most_lies_under_its_limit_and_a_margin_of_another_thing_has_no_curve(
    plan: Plan,
) -> None:
    shot = plan.shots[0]
    height = shot.finding("height")
    drawn = curve(shot, height)
    assert drawn is not None
    assert not drawn.least
    assert unit_line(height, drawn) == "m; at most 120"
    assert curve(shot, replace(height, margins=0.5 * height.margins)) is None
    nothing = np.full_like(height.values, np.nan)
    assert curve(shot, replace(height, values=nothing)) is None


def test_the_worst_place_has_its_code_and_its_number(plan: Plan) -> None:
    shot = plan.shots[0]
    (first, *_) = shot_strip.told(shot)
    pin = words.pins(shot, "A")[first.check]
    assert any(text.startswith(pin) for text in written(plan, 0))


def within(axes: Any) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas: Any = FigureCanvasAgg(axes.figure)
    canvas.draw()
    for text in axes.texts:
        box = text.get_window_extent(canvas.get_renderer())
        assert box.x0 >= 0.0, text.get_text()
        assert box.x1 <= axes.figure.bbox.x1 + 1.0, text.get_text()


@pytest.mark.filterwarnings("error")
def test_hostile_names_are_text_and_nothing_leads_off_the_page() -> None:
    for name in (EVERY, "w" * 120):
        named = made_plan(shot_name=name, tree_name=name, site_name=name)
        for index in range(2):
            axes, high = shot_strip._page(named, index)
            within(axes)
            assert high <= axes.get_ylim()[0]
            assert not any(text.get_parse_math() for text in axes.texts)
