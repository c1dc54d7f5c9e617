from __future__ import annotations

import dataclasses
import re

from shotplan.judging.judged import Plan
from shotplan.model.verdict import Verdict
from shotplan.output.map import top
from shotplan.output.reasons import reason
from shotplan.output.words import ranked
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan


def shots(plan: Plan, count: int) -> Plan:
    return dataclasses.replace(plan, shots=(plan.shots * count)[:count])


def test_each_row_has_letter_name_word_and_the_terminals_first_reason() -> None:
    plan = made_plan()
    said = top.top(plan)
    assert [(s.letter, s.name) for s in said.shots] == [
        ("A", "rim, from the sea side"),
        ("B", "from the land side"),
    ]
    for row, shot in zip(said.shots, plan.shots, strict=True):
        assert row.verdict == shot.verdict
        assert row.why == reason(ranked(shot)[0], plan.outing.site)


def test_of_a_shot_that_is_go_no_reason_is_invented() -> None:
    shot = dataclasses.replace(made_plan().shots[0], verdict=Verdict.GO)
    assert top.why(shot) == top.CLEAR


def test_more_than_five_shots_are_lower_rows() -> None:
    plan = made_plan()
    assert "class=many" not in top.html(top.top(shots(plan, 5)))
    assert "class=many" in top.html(top.top(shots(plan, 6)))


def test_names_are_text() -> None:
    html = top.html(top.top(made_plan(site_name=EVERY, shot_name=EVERY, tree_name=EVERY)))
    tags = set(re.findall(r"<(\w+)", html))
    assert tags == {"header", "h1", "span", "p", "nav", "a", "b"}
