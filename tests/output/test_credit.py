"""Whose data it is stands on every map and sheet made from it; where nothing is public, nothing."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import date
from html import unescape

import numpy as np
import pytest
from PIL import Image

from shotplan.judging.judged import Plan
from shotplan.model.site import Origin
from shotplan.output import credit
from shotplan.output.brief import brief, landowner, page
from shotplan.output.card import card
from shotplan.output.card.phone_words import phone_card
from shotplan.output.card.words import card as card_words
from shotplan.output.map import live
from shotplan.output.take_along.take_along import about
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan

OSM = Origin(source="osm", credit="© OpenStreetMap contributors", on=date(2013, 8, 3))
MEAN = Origin(source="lidar", credit=f"{{{{7*7}}}} {EVERY}")


def credited(plan: Plan, *sources: Origin) -> Plan:
    site = replace(plan.outing.site, sources=sources)
    return replace(plan, outing=replace(plan.outing, site=site))


@pytest.fixture(scope="module")
def bare() -> Plan:
    return made_plan()


def text_of(html: str) -> str:
    """What a page shows: without scripts, styles and elements."""
    shown = re.sub(r"<(script|style)\b.*?</\1>", "", html, flags=re.DOTALL)
    return unescape(re.sub(r"<[^>]*>", " ", shown))


def test_each_credit_stands_once_and_is_cut_where_it_is_beyond_measure(bare: Plan) -> None:
    assert credit.line(bare.outing.site) == ""
    twice = credited(bare, OSM, replace(OSM, source="other"), replace(OSM, credit=" "))
    assert credit.line(twice.outing.site) == OSM.credit
    long = credited(bare, replace(OSM, credit="x\n\ty " * 400))
    assert len(credit.line(long.outing.site)) == credit.LONGEST
    assert credit.line(long.outing.site).isprintable()


def test_it_stands_on_the_live_map_its_picture_and_below(bare: Plan) -> None:
    assert 'id="credit"' not in live.html(bare)
    html = live.html(credited(bare, OSM))
    assert f'<p id="credit">{OSM.credit}</p>' in html
    svg = re.search(r'<svg id="still".*?</svg>', html, flags=re.DOTALL)
    assert svg is not None
    assert OSM.credit in svg.group()
    assert f"Data of the map: {OSM.credit}" in text_of(html)


def test_a_hostile_credit_is_text_and_no_template(bare: Plan) -> None:
    html = live.html(credited(bare, MEAN))
    assert "{{7*7}}" in text_of(html)
    assert "49" not in credit.line(credited(bare, MEAN).outing.site)
    plain = live.html(credited(bare, OSM))
    assert html.count("<script") == plain.count("<script")
    assert html.count("<img") == plain.count("<img")


def test_brief_landowner_and_cards_say_it(bare: Plan) -> None:
    plan = credited(bare, OSM)
    for words in (brief.brief, landowner.page, card_words, lambda p: phone_card(p, 0)):
        assert words(plan).credits == OSM.credit
        assert words(bare).credits == ""
    pictures = {"map.png": b"", "side-0.png": b"", "side-1.png": b"", "you-0.png": b"",
                "you-1.png": b""}  # fmt: skip
    assert OSM.credit in text_of(page.html(brief.brief(plan), pictures))
    assert OSM.credit in about(plan)


def test_the_phone_card_has_a_line_more_and_all_else_stays(bare: Plan) -> None:
    """Pixels: only the foot differs (but for the few colours a picture is packed in)."""
    one, other = (
        np.array(Image.open(io.BytesIO(card.output(p)["card-A.png"])).convert("L"), dtype=float)
        for p in (bare, credited(bare, OSM))
    )
    rows = np.flatnonzero((np.abs(one - other) > 40.0).any(axis=1))
    assert len(rows)
    assert rows.min() > one.shape[0] * 0.96
