"""One thing in two surveys is kept once, by the better one, and only where that one looked."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from shotplan.intake.found import Found
from shotplan.intake.twice import told_apart
from tests import worlds
from tests.intake.made_found import lidar, osm, own, strip, tree

RIDE = np.array([worlds.lonlat(-100.0, 0.0), worlds.lonlat(100.0, 0.0)])


def left(found: Found) -> set[str]:
    return {f["properties"]["id"] for f in found.features}


def building(source: str, number: int, west: float, south: float, size: float = 8.0) -> Any:
    ring = worlds.box(west, south, west + size, south + size)
    return own(source, "building", number, worlds.polygon(ring), height_m=6.0)


def test_what_lidar_has_is_left_out_of_the_others() -> None:
    better = lidar(tree("lidar", 1, 0.0, 20.0, radius_m=2.0), building("lidar", 1, 30.0, 20.0),
                   strip("lidar"))  # fmt: skip
    worse = osm(
        tree("osm", 1, 4.5, 20.0),  # 4.5 m from the trunk, 2.5 m from the crown
        tree("osm", 2, 5.5, 20.0),
        building("osm", 1, 31.0, 21.5),
        building("osm", 2, 36.0, 20.0),  # half of it stands where lidar saw nothing
        own("osm", "wire", 1, worlds.line([(0.0, 20.0), (1.0, 20.0)]), height_m=8.0),
        own("osm", "people", 1, worlds.line([(0.0, 20.0), (1.0, 20.0)])),
    )
    first, second = told_apart([better, worse], RIDE)
    assert first == better
    assert left(second) == {
        "osm-tree-0002",
        "osm-building-0002",
        "osm-wire-0001",
        "osm-people-0001",
    }
    assert second.said == ("2 of its trees and buildings are left out: lidar has them, within 3 m",)


def test_where_lidar_did_not_look_nothing_is_left_out() -> None:
    beyond = tree("lidar", 1, 0.0, 59.0), tree("lidar", 2, 0.0, 62.0)
    worse = osm(tree("osm", 1, 0.0, 59.5), tree("osm", 2, 0.0, 60.5))
    _, second = told_apart([lidar(*beyond, strip("lidar")), worse], RIDE)
    assert left(second) == {"osm-tree-0002"}
    _, second = told_apart([lidar(*beyond, strip("lidar", kinds=["buildings"])), worse], RIDE)
    assert len(left(second)) == 2
    _, second = told_apart([lidar(*beyond), worse], RIDE)
    assert len(left(second)) == 2


def test_a_canopy_raster_stands_between_them() -> None:
    canopy = Found(source="canopy", features=(tree("canopy", 1, 0.0, 20.0), strip("canopy")))
    found = told_apart(
        [lidar(tree("lidar", 1, 50.0, 20.0), strip("lidar")), canopy,
         osm(tree("osm", 1, 50.5, 20.0), tree("osm", 2, 0.5, 20.0))], RIDE,
    )  # fmt: skip
    assert [len(left(one)) for one in found] == [2, 2, 0]


def test_against_a_brute_count() -> None:
    """Trees only: the same by distances alone."""
    random = np.random.default_rng(4)
    ours, theirs = random.uniform(-55.0, 55.0, (2, 60, 2))
    radius = random.uniform(1.0, 3.0, 60)
    better = lidar(
        *(
            tree("lidar", k, *p, radius_m=r)
            for k, (p, r) in enumerate(zip(ours, radius, strict=True))
        ),
        strip("lidar"),
    )
    _, second = told_apart([better, osm(*(tree("osm", k, *p) for k, p in enumerate(theirs)))], RIDE)
    away = np.linalg.norm(theirs[:, None] - ours, axis=2) - radius
    least = away.min(axis=1)
    clear = np.abs(least - 3.0) > 0.1  # circles are drawn with corners
    kept = np.array([f"osm-tree-{k:04d}" in left(second) for k in range(60)])
    assert clear.sum() > 5
    assert (kept[clear] == (least[clear] > 3.0)).all()
    assert 0 < kept.sum() < 60
    assert len(second.features) == pytest.approx(kept.sum())
