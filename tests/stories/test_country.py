"""A site whose rule pack is of another country, or that names none: said, and no error."""

from __future__ import annotations

from pathlib import Path

import pytest

from shotplan import plan
from shotplan.outing import read
from shotplan.output import answer
from tests import worlds


def repairs(folder: Path, **site: str | None) -> list[str]:
    outing = read(worlds.write_site(folder, site=site))
    return [line for line in outing.repairs if outing.rules.id in line]


def test_a_pack_of_another_country_is_a_remark(tmp_path: Path) -> None:
    assert repairs(tmp_path / "a", country="NZ") == [
        "the site is in NZ; eu-open-a1 is for 31 others: other rules hold there"
    ]
    assert repairs(tmp_path / "b", country="ca", rules="us-part107") == [
        "the site is in CA; us-part107 is for US: other rules hold there"
    ]


@pytest.mark.parametrize(("country", "rules"), [("AT", "eu-open-a2"), ("jp", "jp-basic")])
def test_a_pack_of_the_place_needs_no_remark(tmp_path: Path, country: str, rules: str) -> None:
    assert repairs(tmp_path, country=country, rules=rules) == []


def test_no_country_says_that_nothing_was_checked(tmp_path: Path) -> None:
    (line,) = repairs(tmp_path, country=None)
    assert line == (
        "site.toml names no country: whether eu-open-a1 is the rule pack of the place was not "
        "checked"
    )


def test_the_remark_stands_among_the_cautions(tmp_path: Path) -> None:
    folder = worlds.write_site(tmp_path, site={"country": "NZ"}, ride=worlds.straight(0.0, 20.0))
    said = answer.cautions(plan.make(read(folder)))
    assert [line for line in said if line.startswith("the site is in NZ")]
