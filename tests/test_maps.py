"""maps/ shows the sites as they are: made from these very files, and drawing these numbers.

Why not bytes: a PNG depends on the versions of matplotlib, FreeType and zlib, and all rides of all
sites take minutes. So a picture is held to the hashes of what it was made from, and the numbers it
draws (words along the ride, heights, tracks, what stands where) are reckoned again here, for the
undisturbed ride. A change of colours or letters alone is not noticed: look, and make them anew with
`python -m tests.make_maps`.
"""

from __future__ import annotations

import hashlib
import io
import json
from functools import cache
from typing import Any

import pytest
from PIL import Image

from shotplan.files.bundled import bundled_sites
from tests.make_maps import MADE, MAPS, drawn
from tests.shared_plans import outing_of, plan_of

SITES = sorted(bundled_sites())
WALK = "walk"  # README.md's walk from a recording to a word: `tests.make_walk`
LARGEST, LARGEST_ALL = 400_000, 2_000_000  # bytes
OFF = 0.11  # metres or seconds: numbers are rounded to a tenth


@cache
def made(site: str) -> dict[str, Any]:
    return dict(json.loads((MAPS / site / MADE).read_text("utf-8")))


def test_every_site_has_its_pictures_and_there_are_no_others() -> None:
    assert sorted(p.name for p in MAPS.iterdir()) == sorted([*SITES, WALK])
    assert [p.name for p in (MAPS / WALK).iterdir()] == ["survey.png"]
    files = [p for p in MAPS.rglob("*") if p.is_file()]
    assert max(p.stat().st_size for p in files) < LARGEST
    assert sum(p.stat().st_size for p in files) < LARGEST_ALL


@pytest.mark.parametrize("site", SITES)
def test_the_pictures_are_those_that_were_made_from_the_site_as_it_is(site: str) -> None:
    said = made(site)
    assert said["inputs"] == outing_of(site).inputs
    assert said["rides"] == outing_of(site).disturbance.rides
    assert {p.name for p in (MAPS / site).iterdir()} == {MADE, *said["files"]}
    assert {"map.png", "strip-A.png", "profile.png"} <= set(said["files"])
    for name, sha256 in said["files"].items():
        data = (MAPS / site / name).read_bytes()
        assert hashlib.sha256(data).hexdigest() == sha256, name
        assert Image.open(io.BytesIO(data)).width >= 700


def alike(new: Any, old: Any, where: str) -> list[str]:
    """Where two trees of numbers and words differ by more than rounding."""
    if isinstance(new, dict) and isinstance(old, dict) and new.keys() == old.keys():
        return [line for key in new for line in alike(new[key], old[key], f"{where}.{key}")]
    if isinstance(new, list) and isinstance(old, list) and len(new) == len(old):
        return [
            line
            for i, (a, b) in enumerate(zip(new, old, strict=True))
            for line in alike(a, b, f"{where}[{i}]")
        ]
    numbers = isinstance(new, int | float) and isinstance(old, int | float)
    same = abs(new - old) <= OFF if numbers else new == old
    return [] if same else [f"{where}: {new!r}, in maps/ {old!r}"]


@pytest.mark.parametrize("site", SITES)
def test_what_is_drawn_is_what_is_reckoned_now(site: str) -> None:
    now = json.loads(json.dumps(drawn(plan_of(site, 1))))
    assert len(now["shots"]) >= 3
    assert alike(now, made(site)["drawn"], site) == []


def test_a_difference_is_noticed() -> None:
    assert alike({"a": [1.0, None]}, {"a": [1.05, None]}, "x") == []
    assert alike({"a": [1.0, "go"]}, {"a": [1.3, "no-go"]}, "x") == [
        "x.a[0]: 1.0, in maps/ 1.3", "x.a[1]: 'go', in maps/ 'no-go'",
    ]  # fmt: skip
    assert alike({"a": [1]}, {"a": [1, 2]}, "x") != []
