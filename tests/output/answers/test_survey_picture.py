"""The site from above: where nobody looked is hatched, and only there."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from shotplan.outing import read
from shotplan.output.answers import survey_picture
from shotplan.output.map import drawing
from tests import worlds
from tests.output.hostile import EVERY

NORTH = worlds.feature(
    "north", "surveyed", worlds.polygon(worlds.box(-400.0, 20.0, 400.0, 400.0)),
    looked_for=worlds.ALL_KINDS,
)  # fmt: skip
SOUTH = worlds.feature(
    "south", "surveyed", worlds.polygon(worlds.box(-400.0, -400.0, 400.0, 60.0)),
    looked_for=["trees", "people"],
)  # fmt: skip


def drawn(folder: Path, *features: Any, **site: Any) -> bytes:
    return survey_picture.png(read(worlds.write_site(folder, site=site, features=features)))


def ink(data: bytes) -> tuple[float, float]:
    """Share of dark pixels in the upper (north) and the lower part of the map, off its middle."""
    grey = np.array(Image.open(io.BytesIO(data)).convert("L"))
    side = grey[:, 40 : grey.shape[1] // 3]
    high = grey.shape[1]  # of a map about as high as wide
    north, south = (
        side[int(0.15 * high) : int(0.35 * high)],
        side[int(0.6 * high) : int(0.8 * high)],
    )
    return float((north < 160).mean()), float((south < 160).mean())


def test_what_nobody_looked_at_is_hatched_and_nothing_else(tmp_path: Path) -> None:
    whole = ink(drawn(tmp_path / "whole"))
    half = ink(drawn(tmp_path / "half", NORTH))
    partly = ink(drawn(tmp_path / "partly", NORTH, SOUTH))
    none = ink(drawn(tmp_path / "none", survey=None))
    assert max(whole) < 0.02
    assert half[0] < 0.02 < partly[1] < half[1]  # one way is less than crossed
    assert min(none) > partly[1]


def test_the_legend_says_for_what_nobody_looked(tmp_path: Path) -> None:
    outing = read(worlds.write_site(tmp_path, features=[NORTH, SOUTH]))
    view = survey_picture._view(outing)
    told = dict(survey_picture._told(survey_picture._looked(outing, view)[2]))
    assert told[survey_picture.PARTLY] == "nobody looked for buildings, wires, wildlife"
    assert told[""] == "somebody looked for everything"
    assert survey_picture.NEVER not in told


def test_of_too_many_obstacles_the_nearest_are_drawn(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spots = [(-60.0 + 7.0 * k, 9.0 + 5.0 * (k % 5)) for k in range(18)]
    trees = [worlds.tree(f"t{k}", east_m=e, north_m=n) for k, (e, n) in enumerate(spots)]
    outing = read(worlds.write_site(tmp_path, features=trees, ride=90.0))
    found = survey_picture._near(outing, survey_picture._view(outing))
    assert [t.where_m[0, 1] for t in found] == pytest.approx(sorted(n for _, n in spots), abs=0.2)
    whole = survey_picture.png(outing)
    monkeypatch.setattr(drawing, "MOST_THINGS", 5)
    assert survey_picture.png(outing) != whole


def test_the_same_site_is_the_same_png(tmp_path: Path) -> None:
    assert drawn(tmp_path / "a", NORTH) == drawn(tmp_path / "b", NORTH)


def test_hostile_names_are_drawn_as_text(tmp_path: Path) -> None:
    name = EVERY.replace("\x1b", "").replace("\x07", "") + "$\\frac{1}{0}$"
    stone = worlds.place("stone", east_m=30.0, north_m=5.0, name=name)
    assert drawn(tmp_path, stone).startswith(b"\x89PNG")


def test_a_site_without_places_and_boundary_is_drawn_too(tmp_path: Path) -> None:
    folder = worlds.write_site(
        tmp_path, site={"crew": [{"name": "Ada", "role": "rider"}]}, without=["area", "launch"]
    )
    assert survey_picture.png(read(folder)).startswith(b"\x89PNG")
