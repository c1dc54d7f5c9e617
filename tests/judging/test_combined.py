from __future__ import annotations

import pytest

from shotplan.judging.combined import sentence
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Group

GO, CAUTION, UNKNOWN, NO = Verdict.GO, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.NO_GO


@pytest.mark.parametrize(
    "verdicts",
    [
        [],
        [("place", GO), ("crew", GO)],
        [("place", CAUTION), ("place", NO), ("crew", GO)],
    ],
)
def test_one_kind_of_caution_needs_no_sentence(verdicts: list[tuple[Group, Verdict]]) -> None:
    assert sentence(verdicts) == ""


def test_two_kinds_are_counted_once_each_and_named() -> None:
    said = sentence(
        [("place", CAUTION), ("people", GO), ("wind and light", UNKNOWN), ("place", NO)]
    )
    assert said.startswith("2 kinds of caution at once (place and wind and light): ")
    assert "personal minimums" in said
    assert "at second hand" in said


def test_all_kinds() -> None:
    groups: list[Group] = ["place", "wind and light", "people", "crew", "aircraft"]
    said = sentence([(group, CAUTION) for group in groups])
    assert said.startswith(
        "5 kinds of caution at once (place, wind and light, people, crew and aircraft): "
    )
