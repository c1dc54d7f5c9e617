"""What a count of broken rides proves."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shotplan.kernels.rides.shares import (
    binomial_cdf,
    over_takes,
    proves,
    proving,
    rides_needed,
    upper_bound,
)


@pytest.mark.parametrize(("share", "rides"), [(0.01, 299), (0.05, 59)])
def test_clean_rides_needed_are_the_classic_numbers(share: float, rides: int) -> None:
    # Success-run theorem n = ln(1 - C) / ln(1 - p): 299 for 1 %, 59 for 5 % at 95 % (textbook;
    # also stated in DEFINITIONS "From rides to a verdict").
    assert rides_needed(share) == rides == math.ceil(math.log(0.05) / math.log(1 - share))


def test_five_takes_at_one_in_a_hundred() -> None:
    # 1 - 0.99^5 = 0.04901 (DEFINITIONS: "5 takes at 1 %: 4.9 %").
    assert over_takes(0.01, 5) == pytest.approx(0.0490099501)
    assert over_takes(0.01, 1) == pytest.approx(0.01)


def test_upper_bound_with_no_failures_has_a_closed_form() -> None:
    # Clopper and Pearson 1934: with 0 of n the one-sided bound is 1 - 0.05**(1/n).
    assert upper_bound(0, 300) == pytest.approx(1 - 0.05 ** (1 / 300), abs=1e-9)
    assert upper_bound(300, 300) == 1.0


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n - 1), st.just(n))))
def test_bound_is_where_the_tail_is_five_percent(case: tuple[int, int]) -> None:
    broken, rides = case
    p = upper_bound(broken, rides)
    assert binomial_cdf(broken, rides, p) == pytest.approx(0.05, abs=1e-6)
    assert p > broken / rides


@given(st.integers(1, 60), st.floats(0.01, 0.99))
def test_cdf_matches_exact_sums(n: int, p: float) -> None:
    k = n // 2
    exact = sum(math.comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k + 1))
    assert binomial_cdf(k, n, p) == pytest.approx(min(exact, 1.0), abs=1e-9)


@pytest.mark.parametrize(("broken", "rides"), [(-1, 10), (11, 10), (0, 0)])
def test_impossible_counts_are_refused(broken: int, rides: int) -> None:
    with pytest.raises(ValueError, match="wanted 0 <= broken"):
        upper_bound(broken, rides)


@given(st.integers(1, 400), st.sampled_from([0.0, 0.01, 0.05, 0.2, 0.5, 1.0]))
def test_what_proves_a_share_is_whatever_bounds_it(rides: int, share: float) -> None:
    bounded = [n for n in range(rides + 1) if upper_bound(n, rides) <= share]
    assert [n for n in range(rides + 1) if proves(n, rides, share)] == bounded
    assert proving(rides, share) == max(bounded, default=-1)


@given(st.integers(0, 12), st.sampled_from([0.01, 0.05, 0.2]))
def test_as_many_rides_are_needed_as_first_bound_the_share(broken: int, share: float) -> None:
    wanted = rides_needed(share, broken)
    assert upper_bound(broken, wanted) <= share < upper_bound(broken, wanted - 1)
