from __future__ import annotations

import numpy as np
import pytest

from shotplan.model.verdict import Verdict
from shotplan.output import words
from shotplan.output.map import findings
from tests.output.made_plan import made_plan


def test_what_is_not_go_in_the_order_in_which_it_decides() -> None:
    plan = made_plan(rides=2)
    for i, (shot, told) in enumerate(zip(plan.shots, findings.block(plan)["finds"], strict=True)):
        found = [f for f in words.ranked(shot) if f.verdict != Verdict.GO]
        assert [f.verdict.word for f in found] == [one["word"] for one in told]
        pins = words.pins(shot, words.letter(i))
        assert [pins.get(f.check, "") for f in found] == [one["tag"] for one in told]
        assert {one["mark"] for one in told} <= {"×", "!", "?"}


def test_a_finding_says_what_it_hits_how_near_and_where() -> None:
    plan = made_plan()
    first = findings.block(plan)["finds"][0][0]
    assert first["tag"] == "A·1"
    assert first["mark"] == "×"
    assert first["title"] == "It hits the leaning larch"
    assert first["rows"][0] == ["room", "0.0 m, needs 2.2"]
    at = plan.shots[0].findings[0].at
    assert at is not None
    assert plan.outing.site.frame.lonlat_deg(np.array(at.xyz_m[:2])) == pytest.approx(
        first["at"], abs=1e-6
    )
