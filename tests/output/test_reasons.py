"""What decides a part of the ride, in words."""

from __future__ import annotations

from pathlib import Path

import pytest

import shotplan as sp
from shotplan.checks import CHECKS
from shotplan.output.reasons import decides
from tests.worlds import box, feature, polygon, tree, write_site


@pytest.mark.parametrize(
    ("check", "near", "said"),
    [
        ("clearance", ("oak", "path"), "too near: the old oak"),
        ("clearance", ("oak", "a", "b"), "too near: the old oak, a and 1 more"),
        ("people", ("path", "oak", "ground"), "too near to people: walkers"),
        ("people", ("ground",), "too near to people"),
        ("ground", ("oak",), "too near: the ground"),
        ("sight", ("ground",), "nobody sees it any more"),
    ],
)
def test_only_what_a_check_is_about_is_named(
    tmp_path: Path, check: str, near: tuple[str, ...], said: str
) -> None:
    path = feature("path", "people", polygon(box(-40.0, -5.0, -30.0, 5.0)), name="walkers")
    oak = tree("oak", east_m=-12.0, north_m=0.0, name="the old oak")
    site = sp.read(write_site(tmp_path / "site", features=[path, oak])).site
    assert decides(next(c for c in CHECKS if c.id == check), near, site) == said
