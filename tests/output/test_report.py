from __future__ import annotations

import json
import math
import re
import unicodedata

import numpy as np
import pytest

from shotplan.output import report
from shotplan.output.words import plain
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan

TOP = ["format", "tool", "site", "rules", "verdict", "inputs", "shots", "reminders", "cautions"]
SHOT = ["name", "style", "verdict", "ride_from_m", "ride_to_m", "duration_s", "rides", "findings",
        "stretches"]  # fmt: skip
FINDING = ["check", "family", "verdict", "value", "limit", "margin", "unit", "thing",
           "rides_breaking", "share_bound", "at", "reason", "advice", "source",
           "assumptions", "also"]  # fmt: skip
ALSO = ["verdict", "value", "limit", "margin", "unit", "thing", "at", "reason", "advice"]
AT = ["time_s", "ride_m", "lon", "lat", "height_above_launch_m", "height_m", "surface_m"]
STRETCH = ["from_m", "to_m", "verdict", "binding", "margin"]


def test_it_has_the_keys_of_the_format_and_no_others() -> None:
    said = json.loads(report.text(made_plan()))
    assert list(said) == TOP
    for shot in said["shots"]:
        assert list(shot) == SHOT
        assert all(list(f) == FINDING for f in shot["findings"])
        assert all(f["at"] is None or list(f["at"]) == AT for f in shot["findings"])
        assert all(list(a) == ALSO for f in shot["findings"] for a in f["also"])
        assert all(list(s) == STRETCH for s in shot["stretches"])
    assert all(set(r) == {"text", "source", "known"} for r in said["reminders"])
    assert said["format"] == 1
    assert re.fullmatch(r"shotplan 0\.1\.0, plan [0-9a-f]{4}", said["tool"])


def test_values_are_those_of_the_findings() -> None:
    plan = made_plan(hilly=True)
    said = report.report(plan)
    for shot, told in zip(plan.shots, said["shots"], strict=True):
        for found, row in zip(shot.findings, told["findings"], strict=True):
            assert row["verdict"] == found.verdict.word
            assert row["margin"] == pytest.approx(found.margin, abs=5e-4)
            assert found.at is not None
            assert row["at"]["height_above_launch_m"] == pytest.approx(
                found.at.height_above_launch_m, abs=5e-4
            )
            back = plan.outing.site.frame.xy_m(np.array([row["at"]["lon"], row["at"]["lat"]]))
            # 9 decimals of a degree are a tenth of a millimetre
            np.testing.assert_allclose(back, found.at.xyz_m[:2], atol=2e-4)


def test_what_else_is_not_go_stands_in_also_and_is_not_said_twice() -> None:
    """The made clearance warns below 4 m beside its limit of 2.18 m, and by a remark."""
    plan = made_plan()
    said = report.report(plan)
    (row,) = (f for f in said["shots"][1]["findings"] if f["check"] == "clearance")
    warned = [a for a in row["also"] if a["limit"] is not None]
    assert all(a["limit"] == pytest.approx(4.0) for a in warned)
    assert "a tenth of the blind samples is near" in [a["reason"] for a in row["also"]]
    assert not any("a tenth of the blind" in line for line in said["cautions"])


def test_numbers_are_rounded_and_unknown_is_null() -> None:
    assert report.number(1.23456) == 1.235
    assert report.number(1.23456789012, 9) == 1.23456789
    assert math.copysign(1.0, report.number(-0.0001) or 0.0) == 1.0
    assert [report.number(v) for v in (None, math.nan, math.inf, -math.inf)] == [None] * 4


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert report.output(made_plan()) == report.output(made_plan())


def test_remarks_are_not_lost() -> None:
    cautions = report.report(made_plan())["cautions"]
    assert any("the limit of 2.18 m is 0.18 m half span" in line for line in cautions)


def test_hostile_names_stay_text() -> None:
    plan = made_plan(site_name=EVERY, shot_name=EVERY)
    said = json.loads(report.text(plan))
    assert said["site"] == plain(EVERY)
    assert said["shots"][0]["name"] == plain(EVERY)


def test_names_in_it_are_what_the_terminal_shows() -> None:
    name = "up\u202eside\x1b[31m\u2066 down"
    plan = made_plan(site_name=name, shot_name=name)
    text = report.text(plan)
    assert json.loads(text)["site"] == "up·side·[31m· down"
    assert not any(unicodedata.category(c) in ("Cc", "Cf") for c in text.replace("\n", ""))
    assert "\\u" not in text  # nor as an escape, which a reader turns back
