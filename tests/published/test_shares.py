"""What a count of broken rides proves, against scipy and the textbook numbers."""

from __future__ import annotations

import pytest
from scipy import stats

from shotplan.kernels.rides.shares import binomial_cdf, rides_needed, upper_bound


@pytest.mark.parametrize(
    ("broken", "rides"),
    [(0, 1), (0, 59), (0, 60), (0, 299), (1, 60), (3, 300), (7, 300), (15, 300), (150, 300),
     (299, 300), (300, 300), (0, 1000), (42, 1000), (331, 2000), (1999, 2000)],
)  # fmt: skip
def test_the_bound_is_that_of_clopper_and_pearson(broken: int, rides: int) -> None:
    # Clopper and Pearson 1934 (Biometrika 26:404): the upper limit is a quantile of Beta(k+1, n-k).
    wanted = 1.0 if broken == rides else float(stats.beta.ppf(0.95, broken + 1, rides - broken))
    assert upper_bound(broken, rides) == pytest.approx(wanted, abs=1e-9)
    # scipy's own exact interval of a test that asks only whether the share is less.
    test = stats.binomtest(broken, rides, alternative="less")
    interval = test.proportion_ci(confidence_level=0.95, method="exact")
    assert upper_bound(broken, rides) == pytest.approx(interval.high, abs=1e-6)


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.99])
def test_other_confidences_alike(confidence: float) -> None:
    # Clopper and Pearson 1934, as above.
    wanted = float(stats.beta.ppf(confidence, 5 + 1, 120 - 5))
    assert upper_bound(5, 120, confidence) == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize(("share", "clean"), [(0.01, 299), (0.05, 59)])
def test_so_many_clean_rides_prove_so_small_a_share(share: float, clean: int) -> None:
    # Success run, n = ln(1 - C)/ln(1 - p), 95 %: 299 for 1 % and 59 for 5 % (textbook of
    # reliability; also DEFINITIONS "From rides to a verdict").
    assert rides_needed(share) == clean
    assert (
        float(stats.beta.ppf(0.95, 1, clean)) <= share < float(stats.beta.ppf(0.95, 1, clean - 1))
    )
    assert upper_bound(0, clean) <= share < upper_bound(0, clean - 1)


@pytest.mark.parametrize("share", [0.01, 0.05])
@pytest.mark.parametrize("broken", [1, 2, 5, 10])
def test_so_many_rides_do_when_some_are_broken(share: float, broken: int) -> None:
    # Clopper and Pearson 1934, as above: the first number of rides that proves it.
    n = rides_needed(share, broken)
    assert float(stats.beta.ppf(0.95, broken + 1, n - broken)) <= share
    assert float(stats.beta.ppf(0.95, broken + 1, n - 1 - broken)) > share


@pytest.mark.parametrize(("k", "n", "p"), [(0, 300, 0.01), (3, 300, 0.01), (40, 2000, 0.0165)])
def test_binomial_sums_are_scipys(k: int, n: int, p: float) -> None:
    # Binomial distribution function, scipy.stats.binom.
    assert binomial_cdf(k, n, p) == pytest.approx(float(stats.binom.cdf(k, n, p)), abs=1e-10)
