"""The branches that every check shares, in the order they are asked."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Margin, Words, even
from shotplan.scene.telling import always, no_ground, spread, told

RIDE = SimpleNamespace(along_m=np.array([[5.0, 6.0, 7.0]]), t_s=np.array([0.0, 0.1, 0.2]))
SCENE: Any = SimpleNamespace(track=SimpleNamespace(ride=RIDE))


def test_a_sample_is_told_by_its_verdict() -> None:
    why = told(
        SCENE,
        lambda i, spot: f"{i} at {spot}",
        lambda i: f"move {i}",
        unknown=no_ground("no ground at {spot}", "it stays away"),
        nothing="nothing near",
    )
    spot = "6 m along the ride, 0.1 s into the shot"
    assert why(-1, Verdict.GO) == Words("nothing near", "nothing to change")
    assert why(1, Verdict.GO) == Words(f"1 at {spot}", "nothing to change")
    assert why(1, Verdict.CAUTION) == why(1, Verdict.NO_GO) == Words(f"1 at {spot}", "move 1")
    assert why(1, Verdict.UNKNOWN) == Words(
        f"no ground at {spot}", "give terrain that covers it; go if it stays away"
    )


def test_of_few_samples_the_spot_is_that_of_the_one_asked() -> None:
    asked = np.array([0, 2])
    some = Margin(
        margin=np.array([4.0, -1.0]), value=np.array([6.0, 1.0]), limit=np.array([2.0, 2.0]),
        thing=np.array(["oak", "elm"], dtype=object),
        why=told(SCENE, lambda k, spot: f"{k}, {spot}", str, unknown=Words("", ""), at=asked),
    )  # fmt: skip
    whole = spread(some, asked, 3)
    assert whole.thing.tolist() == ["oak", "elm", "elm"]  # between them the worse
    assert whole.why(1, Verdict.NO_GO) == Words("1, 7 m along the ride, 0.2 s into the shot", "1")


def test_an_even_margin_is_the_same_everywhere() -> None:
    margin = even(SCENE, -1.0, always(Words("so", "do")), value=2.0, limit=3.0, thing="oak")
    assert margin.margin.tolist() == [-1.0] * 3
    assert margin.thing.tolist() == ["oak"] * 3
    assert margin.why(2, Verdict.NO_GO) == Words("so", "do")
