"""The route over ranked candidates: by brute force the same cost; never through what is refused."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from shotplan import plan as planning
from shotplan.advice import candidates as offered
from shotplan.advice.ranking import field_of, ranked
from shotplan.advice.style_table import StyleTable
from shotplan.advice.wanted import Wanted
from shotplan.advice.which_style import which_style
from shotplan.checks import clearance, ground, rider_gap
from shotplan.flying import stage_scene
from shotplan.kernels.rides.route import GAP
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing, read
from tests import worlds

SMALL = Wanted(
    styles=("follow-behind", "side-track"), sides=("left", "right"), behind_m=(9.0,),
    side_m=(12.0,), heights_m=(6.0,), rides=5, stretch_m=30.0,
    least_run_m=30.0, change_style_weight=0.5, change_numbers_weight=0.2, ladder_steps=2,
)  # fmt: skip


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Outing:
    """A straight ride north with a row of trees to the left of its middle, one to the right."""
    rows = [
        worlds.tree(f"left-{i}", east_m=-12.0, north_m=float(y), height_m=12.0)
        for i, y in enumerate(range(-20, 25, 8))
    ]
    right = worlds.tree("right", east_m=12.0, north_m=70.0, height_m=12.0)
    crew = [{"name": "Ada", "role": "rider"}, {"name": "Bo", "role": "pilot", "stands": "launch"}]
    folder = worlds.write_site(
        tmp_path_factory.mktemp("rows") / "site",
        site={"crew": crew, "disturbance": {"rides": 3}},
        features=[*rows, right],
    )
    return read(folder)


@pytest.fixture(scope="module")
def table(outing: Outing) -> StyleTable:
    return which_style(outing, SMALL)


def _cost(table: StyleTable, choice: tuple[int, ...]) -> float:
    """What a route costs by the stated weights; +inf where a run is refused or too short."""
    total = 0.0
    for stretch, candidate in enumerate(choice):
        if candidate == GAP:
            total += SMALL.gap_weight
            continue
        word = int(table.verdict[candidate, stretch])
        if word == int(Verdict.NO_GO):
            return np.inf
        total += float(table.cost[candidate, stretch])
        total += SMALL.caution_weight * (word == int(Verdict.CAUTION))
        total += SMALL.unknown_weight * (word == int(Verdict.UNKNOWN))
    for before, after in itertools.pairwise(choice):
        if before != after and GAP not in (before, after):
            groups = {table.candidates[c].group for c in (before, after)}
            alike = len(groups) == 1
            total += SMALL.change_numbers_weight if alike else SMALL.change_style_weight
    return total


def test_of_all_combinations_none_is_cheaper(table: StyleTable) -> None:
    count, stretches = table.verdict.shape
    assert (count, stretches) == (3, 7)
    every = itertools.product([GAP, *range(count)], repeat=stretches)
    best = min(_cost(table, choice) for choice in every)
    mine = _cost(table, tuple(int(c) for c in table.choice()))
    assert mine == pytest.approx(best, abs=1e-9)


def test_the_rows_force_a_change(table: StyleTable) -> None:
    assert (table.verdict == int(Verdict.NO_GO)).any()
    assert len(set(table.choice().tolist()) - {GAP}) >= 2 or len(table.legs) == 1


def test_a_leg_carries_the_rides_of_the_site_and_its_own_word(table: StyleTable) -> None:
    assert table.flown == 3
    for leg in table.legs:
        assert leg.plan.rides == 3
        assert leg.to_m > leg.from_m


def test_candidates_side_by_side_are_ranked_as_alone(outing: Outing) -> None:
    field = field_of(outing, SMALL)
    styles = offered.candidates(outing, SMALL)
    together = ranked(field, styles)
    for style, mine in zip(styles, together, strict=True):
        (alone,) = ranked(field, (style,))
        np.testing.assert_array_equal(mine.verdict, alone.verdict)
        np.testing.assert_array_equal(mine.broken, alone.broken)
        np.testing.assert_allclose(mine.margin_m, alone.margin_m, atol=1e-9)


def test_what_is_refused_is_refused_by_the_plan_too(outing: Outing, table: StyleTable) -> None:
    """A search ranks by the same checks as the plan: the words of one candidate, flown whole."""
    for index, candidate in enumerate(table.candidates):
        shot = replace(outing.shots[0], style=candidate.style, from_m=0.0, to_m=200.0)
        scene = stage_scene(outing, shot, outing.day.start)
        judged = planning.findings(scene, (clearance.CHECK, ground.CHECK, rider_gap.CHECK))
        codes = np.max([f.metre_codes for f in judged], axis=0)
        for stretch, (low, high) in enumerate(itertools.pairwise(table.edges_m)):
            worst = codes[int(np.ceil(low)) : int(np.ceil(high))].max(initial=0)
            if worst == int(Verdict.NO_GO):
                assert table.verdict[index, stretch] == int(Verdict.NO_GO)


def test_same_input_same_answer(outing: Outing, table: StyleTable, tmp_path: Path) -> None:
    again = which_style(outing, SMALL)
    np.testing.assert_array_equal(again.verdict, table.verdict)
    np.testing.assert_array_equal(again.choice(), table.choice())
    assert [leg.plan.verdict for leg in again.legs] == [leg.plan.verdict for leg in table.legs]
