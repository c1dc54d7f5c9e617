"""Sight distances against the published tables."""

from __future__ import annotations

import pytest

from shotplan.kernels.light.seeing import seen_by_size_m, seen_by_visibility_m


@pytest.mark.parametrize(
    ("span", "distance", "atol"),
    # EASA guidelines Issue 03 (formula at second hand); rows of reference/rules.md section 2: 0.35
    # is the published example of 134 m, 1.0 the published 347 m, 0.679 the Danish authority's
    # 242.03 m, and its 0.44 and 0.477 rows (164.05, 176.11) come from rounded spans.
    [(0.20, 85.40, 1e-9), (0.25, 101.75, 1e-9), (0.30, 118.10, 1e-9), (0.35, 134.45, 1e-9),
     (0.44, 164.05, 0.2), (0.477, 176.11, 0.2), (0.679, 242.03, 0.01), (1.0, 347.0, 1e-9),
     (1.5, 510.5, 1e-9)],
)  # fmt: skip
def test_by_size(span: float, distance: float, atol: float) -> None:
    assert seen_by_size_m(span) == pytest.approx(distance, abs=atol)


@pytest.mark.parametrize(
    ("visibility", "distance"),
    # Danish authority's table of 0.3 x visibility, exact; capped at 5 km.
    [(100.0, 30.0), (1000.0, 300.0), (1500.0, 450.0), (5000.0, 1500.0), (20000.0, 1500.0)],
)
def test_by_visibility(visibility: float, distance: float) -> None:
    assert seen_by_visibility_m(visibility) == pytest.approx(distance, abs=1e-9)
