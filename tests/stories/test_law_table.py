"""The same cliff-top flight under every rule pack: it differs where the law differs."""

from __future__ import annotations

import pytest

from shotplan.model.verdict import Verdict
from shotplan.rules import packs
from tests import make_docs
from tests.published.test_rule_packs import ROWS

GO, CAUTION, NO = Verdict.GO, Verdict.CAUTION, Verdict.NO_GO
NOTED = set(ROWS)
EUROPEAN = {f"{where}-open-a{k}" for where in ("eu", "uk") for k in (1, 2, 3)}


def verdicts(title: str) -> dict[str, Verdict]:
    """Pack id -> the word of one column, for the packs whose law was noted."""
    (column,) = [k for k, (head, _, _) in enumerate(make_docs.COLUMNS) if head == title]
    return {
        name: found[column].verdict for name, found in make_docs.findings().items() if name in NOTED
    }


def where(title: str, verdict: Verdict) -> set[str]:
    return {name for name, word in verdicts(title).items() if word == verdict}


def test_the_document_is_what_the_run_says() -> None:
    text = make_docs.DOCUMENT.read_text("utf-8")
    new = tuple(f"| `{name}` |" for name in set(packs()) - NOTED)  # their rows may be missing still

    def noted(lines: str) -> list[str]:
        return [line for line in lines.splitlines() if not (new and line.startswith(new))]

    assert noted(make_docs.written(text)) == noted(text), "run python -m tests.make_docs"
    assert text.count(make_docs.OPEN) == text.count(make_docs.CLOSE) == 1


def test_every_pack_has_its_row() -> None:
    table = make_docs.law_table()
    assert [name for name in packs() if f"| `{name}` |" not in table] == []


def test_height_goes_by_its_measure() -> None:
    # 54 m over the rider, beyond the lip: about 128 m straight down, 56 m to the rock.
    # reference/rules.md 0.1: EU and UK nearest surface; Japan 150 m; all others straight down
    assert where("height", GO) == EUROPEAN | {"jp-basic"}
    assert where("height", NO) == NOTED - EUROPEAN - {"jp-basic"}
    eu, us = (make_docs.findings()[name][0] for name in ("eu-open-a1", "us-part107"))
    assert eu.value == pytest.approx(56.0, abs=3.0)
    assert us.value == pytest.approx(129.0, abs=3.0)


def test_people_by_a_distance_or_only_not_above() -> None:
    # reference/rules.md 10: 30 m or 1:1 in these; elsewhere only not above them
    distant = {"au-excluded", "ca-basic", "jp-basic"} | {
        n for n in EUROPEAN if not n.endswith("a1")
    }
    assert where("people on the path", NO) == distant
    assert where("people on the path", GO) == NOTED - distant


def test_only_canada_forbids_the_rider_to_steer() -> None:
    # reference/rules.md 0.2: 901.37; elsewhere allowed within 50 m, undefined or not said
    assert where("the rider steers", NO) == {"ca-basic"}
    reasons = {name: found[2].reason for name, found in make_docs.findings().items()}
    assert "sparsely populated" in reasons["us-part107"]
    assert "lets it follow unseen" in reasons["eu-open-a1"]
    assert "does not say" in reasons["au-excluded"]


def test_an_observer_elsewhere_sees_for_the_pilot_in_two_countries() -> None:
    # reference/rules.md 9.1: Canada and New Zealand; co-located, alongside or not at all elsewhere
    title = "pilot under the thorn, observer at the lookout"
    assert where(title, CAUTION) == {"ca-basic", "nz-part101"}
    assert where(title, NO) == NOTED - {"ca-basic", "nz-part101"}


def test_after_sunset_three_packs_end_the_day() -> None:
    # reference/rules.md 10: Australia, New Zealand (day or shielded), Japan: day only
    assert where("sun just down", NO) == {"au-excluded", "nz-part101", "jp-basic"}
