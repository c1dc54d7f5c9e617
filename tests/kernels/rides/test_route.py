"""The route over stretches, against every combination there is."""

from __future__ import annotations

import itertools
from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from shotplan.kernels.rides.route import GAP, route


class Problem(NamedTuple):
    cost: NDArray[np.float64]
    allowed: NDArray[np.bool_]
    gap_cost: float
    pair: NDArray[np.float64]
    least: int

    def solved(self, **other: Any) -> Any:
        given_ = {
            "gap_cost": self.gap_cost,
            "change_cost_pair": self.pair,
            "least_stretches": self.least,
            **other,
        }
        return route(self.cost, self.allowed, **given_)


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """Small ones; half of them in whole numbers, where many routes cost the same."""
    c, s, least = draw(st.integers(1, 4)), draw(st.integers(1, 6)), draw(st.integers(1, 4))
    rng = np.random.default_rng(draw(st.integers(0, 2**31)))
    whole = draw(st.booleans())
    cost, pair = rng.uniform(0.0, 3.0, (c, s)), rng.uniform(0.0, 2.0, (c, c))
    if whole:
        cost, pair = np.floor(cost), np.floor(pair)
    allowed = rng.random((c, s)) < draw(st.sampled_from([0.3, 0.7, 1.0]))
    cost[~allowed] = np.nan
    return Problem(cost, allowed, draw(st.sampled_from([0.5, 2.0, 40.0])), pair, least)


def combinations(p: Problem) -> tuple[NDArray[np.int_], NDArray[np.float64], NDArray[np.int_]]:
    """Every choice that keeps the rules, what it costs, and how often it changes."""
    c, s = p.cost.shape
    every = np.array(list(itertools.product(range(-1, c), repeat=s)))
    good = np.ones(len(every), dtype=bool)
    paid = np.zeros(len(every))
    for k in range(s):
        here = every[:, k]
        flown = here != GAP
        good &= ~flown | p.allowed[here, k]
        paid += np.where(flown, np.nan_to_num(p.cost[here, k]), p.gap_cost)
        starts = flown & ((every[:, k - 1] != here) if k else True)
        whole = (every[:, k : k + p.least] == here[:, None]).all(axis=1) & (k + p.least <= s)
        good &= ~starts | whole
        if k:
            both = flown & (every[:, k - 1] != GAP) & (every[:, k - 1] != here)
            paid += np.where(both, p.pair[every[:, k - 1], here], 0.0)
    changes = (every[:, 1:] != every[:, :-1]).sum(axis=1)
    return every[good], paid[good], changes[good]


@given(problems())
def test_no_combination_is_cheaper(p: Problem) -> None:
    every, paid, changes = combinations(p)
    found = p.solved()
    assert found.cost == pytest.approx(paid.min(), abs=1e-9)
    (row,) = np.flatnonzero((every == found.choice).all(axis=1))  # it keeps the rules
    assert paid[row] == pytest.approx(found.cost, abs=1e-9)
    equal = paid < paid.min() + 1e-9
    assert changes[row] == changes[equal].min()


@given(problems())
def test_forbidding_never_makes_it_cheaper(p: Problem) -> None:
    free = p.solved()
    less = p.allowed & (np.random.default_rng(3).random(p.allowed.shape) < 0.8)
    assert p._replace(allowed=less).solved().cost >= free.cost - 1e-9


@given(problems())
def test_never_through_what_is_not_allowed_whatever_a_gap_costs(p: Problem) -> None:
    choice = p.solved(gap_cost=1e6).choice
    flown = np.flatnonzero(choice != GAP)
    assert p.allowed[choice[flown], flown].all()


@given(problems())
def test_a_dear_gap_is_only_where_nothing_else_is(p: Problem) -> None:
    choice = p.solved(gap_cost=1e3, least_stretches=1).choice
    np.testing.assert_array_equal(choice == GAP, ~p.allowed.any(axis=0))


@given(problems(), st.floats(0.0, 3.0))
def test_one_cost_for_all_changes_is_a_full_table(p: Problem, change: float) -> None:
    table = p.solved(change_cost_pair=np.full(p.pair.shape, change))
    plain = p.solved(change_cost_pair=None, change_cost=change)
    assert plain.cost == table.cost
    np.testing.assert_array_equal(plain.choice, table.choice)


def test_a_forbidden_middle_is_gone_round() -> None:
    cost = np.array([[1.0] * 7, [2.0] * 7])
    allowed = np.ones((2, 7), dtype=bool)
    allowed[0, 3] = False
    there_and_back = route(cost, allowed, gap_cost=50.0, change_cost=1.0)
    assert there_and_back.choice.tolist() == [0, 0, 0, 1, 0, 0, 0]
    assert there_and_back.cost == 6.0 + 2.0 + 2.0
    # Two changes at 4 each are dearer than to stay with the worse picture on one side.
    once = route(cost, allowed, gap_cost=50.0, change_cost=4.0)
    assert once.choice.tolist() == [1, 1, 1, 1, 1, 1, 1]
    assert once.cost == 14.0
    # At least two stretches: before or after the middle costs the same; seen from the end, 0 stays
    # as long as it can.
    longer = route(cost, allowed, gap_cost=50.0, change_cost=1.0, least_stretches=2)
    assert longer.choice.tolist() == [0, 0, 1, 1, 0, 0, 0]
    assert longer.cost == 5.0 + 4.0 + 2.0


def test_a_run_too_short_is_a_gap_at_the_ends_too() -> None:
    allowed = np.array([[True, True, False, True, True, True]])
    found = route(np.zeros((1, 6)), allowed, gap_cost=5.0, least_stretches=3)
    assert found.choice.tolist() == [GAP, GAP, GAP, 0, 0, 0]
    assert found.cost == 15.0
    assert route(np.zeros((1, 2)), allowed[:, :2], gap_cost=5.0, least_stretches=3).cost == 10.0


def test_a_change_of_numbers_is_cheaper_than_one_of_style() -> None:
    cost, allowed = np.zeros((3, 4)), np.ones((3, 4), dtype=bool)
    allowed[0, 2:] = False
    allowed[1:, :2] = False
    pair = np.array([[0.0, 3.0, 1.0], [3.0, 0.0, 3.0], [1.0, 3.0, 0.0]])
    found = route(cost, allowed, gap_cost=50.0, change_cost_pair=pair)
    assert found.choice.tolist() == [0, 0, 2, 2]
    assert found.cost == 1.0


def test_ties_go_to_the_fewest_changes_and_the_lowest_candidate() -> None:
    cost = np.full((3, 9), 0.1)
    found = route(cost, np.ones((3, 9), dtype=bool), gap_cost=9.0)
    assert found.choice.tolist() == [0] * 9


def test_without_candidates_or_stretches() -> None:
    nobody = route(np.empty((0, 3)), np.empty((0, 3), dtype=bool), gap_cost=2.0)
    assert nobody.choice.tolist() == [GAP] * 3
    assert nobody.cost == 6.0
    nowhere = route(np.empty((2, 0)), np.empty((2, 0), dtype=bool), gap_cost=2.0)
    assert nowhere.choice.shape == (0,)
    assert nowhere.cost == 0.0


@pytest.mark.parametrize(
    "wrong",
    [
        {"gap_cost": np.inf},
        {"gap_cost": 1.0, "change_cost": -1.0},
        {"gap_cost": 1.0, "least_stretches": 0},
        {"gap_cost": 1.0, "change_cost_pair": np.zeros((3, 3))},
    ],
)
def test_costs_that_are_none_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="wanted"):
        route(np.zeros((2, 3)), np.ones((2, 3), dtype=bool), **wrong)
