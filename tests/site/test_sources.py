"""The member `sources` of ground.geojson: typed, and it makes no survey of the person's void."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.errors import BadInput
from shotplan.files.together import NOTE
from shotplan.model.site import KINDS, Origin
from shotplan.outing import read
from shotplan.output.answers.inventory import inventory
from tests import worlds

LIDAR = {"source": "lidar", "credit": "a surveyor", "on": "2024-05-01", "read": "2026-12-01",
         "file": "a.laz"}  # fmt: skip
STRIP = worlds.feature(
    "lidar-surveyed-1", "surveyed", worlds.polygon(worlds.box(-120.0, -40.0, 120.0, 40.0)),
    looked_for=["trees", "buildings"], on="2024-05-01",
)  # fmt: skip


def written(folder: Path, sources: Any, *features: Any, **site: Any) -> Path:
    worlds.write_site(folder, features=features, site=site or None)
    path = folder / "ground.geojson"
    path.write_text(json.dumps({**json.loads(path.read_text()), "sources": sources}), "utf-8")
    return folder


def test_they_are_read(tmp_path: Path) -> None:
    site = read(written(tmp_path, [LIDAR, {"source": "zone"}])).site
    assert site.sources == (
        Origin(source="lidar", credit="a surveyor", on=date(2024, 5, 1), read=date(2026, 12, 1),
               file="a.laz"),
        Origin(source="zone"),
    )  # fmt: skip
    assert site.credits == ("a surveyor",)


def test_everything_wrong_with_them_is_said_at_once(tmp_path: Path) -> None:
    bad = [7, {"source": 3}, {"source": "osm", "colour": "red"}, {"source": "x", "on": "soon"}]
    with pytest.raises(BadInput) as refused:
        read(written(tmp_path / "a", bad))
    assert [p.where.split(":")[1].strip() for p in refused.value.problems] == [
        "sources 1", "sources 2", "sources 3", "sources 4",
    ]  # fmt: skip
    with pytest.raises(BadInput, match="wanted a list"):
        read(written(tmp_path / "b", {"osm": "mine"}))


def test_survey_tells_them_with_their_days(tmp_path: Path) -> None:
    found = dict(inventory(read(written(tmp_path, [LIDAR, {"source": "zone"}], STRIP))).there)
    assert found["from lidar"] == "a.laz, of 1 May 2024, read on 1 December 2026; a surveyor"
    assert found["from zone"] == "a survey, of a day it does not say"


def test_what_a_survey_looked_at_stands_beside_what_the_person_did(tmp_path: Path) -> None:
    """A drawn area of one's own replaces the boundary; an imported one does not."""
    far = np.array([300.0, 300.0])
    own = read(written(tmp_path / "own", [], STRIP)).site
    assert not own.looked(far, ("wires",))
    both = read(written(tmp_path / "both", [LIDAR], STRIP)).site
    assert both.looked(far, KINDS)
    nothing = read(written(tmp_path / "nothing", [LIDAR], STRIP, survey=None)).site
    assert not nothing.looked(far, ("trees",))
    assert nothing.looked(np.zeros(2), ("trees", "buildings"))
    assert not nothing.looked(np.zeros(2), ("wires",))


def test_an_add_that_was_killed_is_said(tmp_path: Path) -> None:
    folder = written(tmp_path, [])
    assert not any("stopped half way" in line for line in read(folder).repairs)
    (folder / NOTE).write_text("")
    assert any("stopped half way" in line for line in read(folder).repairs)
