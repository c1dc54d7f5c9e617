"""A second reading replaces its own, keeps what was changed by hand, and touches nothing else."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.files.geojson_kept import Piece, piece
from shotplan.intake.merging import Known, digest, merged
from tests.intake.made_found import lidar, tree

MINE = {"type": "Feature", "id": "oak", "properties": {"role": "tree", "height_m": 3},
        "geometry": {"type": "Point", "coordinates": [14, 46]}}  # fmt: skip


def pieces(*features: Mapping[str, Any]) -> list[Piece]:
    return [piece(f) for f in features]


def height(features: tuple[Piece, ...]) -> dict[str, float]:
    return {p.id: p.value["properties"]["height_m"] for p in features}


def test_the_first_reading_goes_behind_what_is_there() -> None:
    done = merged(pieces(MINE), lidar(tree("lidar", 1, 0.0, 9.0)), {})
    assert [p.id for p in done.features] == ["oak", "lidar-tree-0001"]
    assert done.said == ()


def test_the_second_replaces_its_own_and_only_its_own() -> None:
    first = merged(pieces(MINE), lidar(*(tree("lidar", k, 0.0, k) for k in (1, 2))), {})
    osm = {**MINE, "id": "osm-tree-0001"}
    old = [*first.features[:1], piece(osm), *first.features[1:]]
    done = merged(old, lidar(tree("lidar", 1, 0.0, 1.0, height_m=4.0)), first.known)
    assert height(done.features) == {"oak": 3, "osm-tree-0001": 3, "lidar-tree-0001": 4.0}
    assert done.said == ()


def test_the_same_again_changes_nothing() -> None:
    found = lidar(*(tree("lidar", k, 0.0, k) for k in range(5)))
    once = merged(pieces(MINE), found, {})
    assert merged(once.features, found, once.known) == once
    forgotten = merged(once.features, found, {})  # the file that remembers was thrown away
    assert forgotten.features == once.features
    assert forgotten.said == ()


def test_what_was_changed_by_hand_stays_and_is_named() -> None:
    found = lidar(tree("lidar", 1, 0.0, 9.0), tree("lidar", 2, 0.0, 12.0))
    first = merged([], found, {})
    changed = json.loads(json.dumps(first.features[0].value))
    changed["properties"]["height_m"] = 11.0
    old = [piece(changed), first.features[1]]
    again = merged(old, found, first.known)  # the same survey: it is one thing
    assert height(again.features) == {"lidar-tree-0001": 11.0, "lidar-tree-0002": 9.0}
    assert again.said == ("kept as you changed it by hand: lidar-tree-0001",)
    newer = lidar(tree("lidar", 1, 40.0, 9.0))  # another: the name is now that of another tree
    other = merged(again.features, newer, again.known)
    assert height(other.features) == {"lidar-tree-0001": 11.0, "lidar-tree-0001-2": 9.0}
    assert other.said[1].endswith("got one of its own: lidar-tree-0001-2")
    assert merged(other.features, newer, other.known).features == other.features


def test_ones_own_feature_is_never_touched_however_it_is_called() -> None:
    mine = {**MINE, "id": "lidar-tree-0001"}
    done = merged(pieces(mine), lidar(tree("lidar", 1, 0.0, 9.0)), {})
    assert height(done.features) == {"lidar-tree-0001": 3, "lidar-tree-0001-2": 9.0}
    assert done.said[0].startswith("kept as your own")
    again = merged(done.features, lidar(tree("lidar", 1, 0.0, 9.0)), done.known)
    assert again.features == done.features


def test_what_was_taken_away_comes_back_and_is_named() -> None:
    found = lidar(tree("lidar", 1, 0.0, 9.0))
    done = merged([], found, merged([], found, {}).known)
    assert height(done.features) == {"lidar-tree-0001": 9.0}
    assert done.said == ("you took it away, and it was found again: lidar-tree-0001",)


def test_a_reading_that_finds_nothing_wipes_nothing() -> None:
    first = merged(pieces(MINE), lidar(tree("lidar", 1, 0.0, 9.0)), {})
    nothing = lidar(features=())
    done = merged(first.features, nothing, first.known)
    assert done.features == first.features
    assert done.said == ("what an earlier lidar found stays",)


def test_a_map_editors_other_spelling_is_no_change() -> None:
    one = tree("lidar", 1, 5.0, 9.0, height_m=9)
    properties = {k: v for k, v in reversed(one["properties"].items()) if k != "id"}
    lon, lat = one["geometry"]["coordinates"]
    other = {"id": "lidar-tree-0001", "type": "Feature",
             "geometry": {"coordinates": [lon + 1e-9, lat - 1e-9], "type": "Point"},
             "properties": {**properties, "height_m": 9.0, "name": None}}  # fmt: skip
    assert digest(one) == digest(other)
    assert digest(one) != digest(tree("lidar", 1, 5.02, 9.0, height_m=9))


NUMBERS = st.sets(st.integers(0, 6), max_size=6)


@settings(max_examples=80, deadline=None)
@given(first=NUMBERS, second=NUMBERS, touched=NUMBERS, gone=NUMBERS, mine=NUMBERS)
def test_nothing_of_the_persons_is_ever_lost(
    first: set[int], second: set[int], touched: set[int], gone: set[int], mine: set[int]
) -> None:
    """Whatever is read, changed, taken away and drawn in between: each feature of the person's
    stands there word for word, each thing of the last reading stands there once, under some id."""
    known: Known = {}
    done = merged([], lidar(*(tree("lidar", k, k, 1.0) for k in first)), known)
    old, theirs = [], []
    for one in done.features:
        number = int(one.id[-4:])
        if number in gone:
            continue
        if number in touched:
            value = json.loads(one.text)
            value["properties"]["height_m"] = 20.0 + number
            one = piece(value)
            theirs.append(one)
        old.append(one)
    taken = {p.id for p in old}
    added = [piece(tree("lidar", k, k, 5.0, height_m=2.0)) for k in mine]
    theirs += [p for p in added if p.id not in taken]
    old += [p for p in added if p.id not in taken]
    last = merged(old, lidar(*(tree("lidar", k, k, 3.0) for k in second)), done.known)
    ids = [p.id for p in last.features]
    assert len(ids) == len(set(ids))
    if not second:
        assert all(one in last.features for one in theirs)
        return
    assert all(one in last.features for one in theirs)
    north = [tree("lidar", k, k, 3.0)["geometry"] for k in second]
    found = [p.value["geometry"] for p in last.features]
    assert all(found.count(g) == 1 for g in north)
    assert len(last.features) == len(theirs) + len(second)
