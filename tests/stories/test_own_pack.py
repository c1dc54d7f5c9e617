"""A pack of one's own that stands alone: whoever holds a page reads that the rules are not ours."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shotplan import plan as planning
from shotplan.files.bundled import pack_files
from shotplan.judging.judged import Plan
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.output import answer
from shotplan.output.answers import inventory
from shotplan.output.brief import brief, landowner
from shotplan.output.card import words as card
from shotplan.output.take_along import take_along
from tests import worlds

WORDS = "own pack"


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = tmp_path_factory.mktemp("own")
    text = pack_files()["us-recreational"].read_text("utf-8")
    for key, value in (
        ("id", '"ours"'), ("title", '"Our country, decree 7"'), ("countries", '["CL"]'),
        ("limit_m", "5.0"), ("document", '"Decree 7"'), ("clause", '"art. 3"'),
    ):  # fmt: skip
        text = re.sub(rf"^{key} = .*$", f"{key} = {value}", text, count=1, flags=re.MULTILINE)
    (folder / "ours.toml").write_text(text, "utf-8")
    site = {"rules": "ours.toml", "country": "CL"}
    worlds.write_site(folder, site=site, ride=worlds.straight(0.0, 30.0))
    return planning.make(read(folder))


def test_its_numbers_are_asked_and_cited(own: Plan) -> None:
    height = own.shots[0].finding("height")
    assert (height.verdict, height.limit) == (Verdict.NO_GO, 5.0)
    assert height.source == "Decree 7, art. 3 (at second hand, 2026-11-25)"


def test_every_page_says_that_the_pack_is_ones_own(own: Plan) -> None:
    said = answer.answer(own)
    pages = {
        "map": said.site,
        "rules": said.rules,
        "survey": inventory.inventory(own.outing).site,
        "brief": brief.brief(own).site,
        "landowner": landowner.page(own).site,
        "card": card.card(own).site,
        "take along": take_along.about(own),
        "calendar and tracks": own.outing.titled,
    }
    assert [page for page, text in pages.items() if WORDS not in text] == []


def test_no_page_of_a_bundled_pack_says_so(tmp_path: Path) -> None:
    outing = read(worlds.write_site(tmp_path))
    assert outing.titled == outing.site.name
