"""Geometry as drawn: what is refused, and what one says of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from shotplan.errors import Problems
from shotplan.site.shapes import Shape, apart_m, centroid_deg, moved, shape

SQUARE = [(14.0, 46.0), (14.01, 46.0), (14.01, 46.01), (14.0, 46.01), (14.0, 46.0)]
HOLE = [(14.002, 46.002), (14.004, 46.002), (14.004, 46.004), (14.002, 46.002)]


def made(kind: str, coordinates: Any) -> Shape:
    problems = Problems()
    found = shape(kind, coordinates, "here", problems)
    problems.raise_if_any()
    assert found is not None
    return found


def test_rings_are_not_closed_inside_and_holes_stay() -> None:
    found = made("Polygon", [SQUARE, HOLE])
    assert [len(ring) for ring in found.parts[0]] == [4, 3]
    assert len(found.outer) == 1
    assert found.points.shape == (7, 2)


@pytest.mark.parametrize("ring", [SQUARE, SQUARE[::-1]])
def test_either_orientation_is_the_same_area(ring: list[tuple[float, float]]) -> None:
    np.testing.assert_allclose(centroid_deg(made("Polygon", [ring])), [14.005, 46.005])


def test_many_parts() -> None:
    assert len(made("MultiPoint", [(14.0, 46.0), (14.1, 46.0)]).outer) == 2
    assert len(made("MultiLineString", [SQUARE[:2], SQUARE[1:3]]).outer) == 2
    assert made("MultiPolygon", [[SQUARE], [HOLE]]).geometry == "polygon"


@pytest.mark.parametrize(
    ("kind", "coordinates", "said"),
    [
        ("Polygon", [[SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3], SQUARE[0]]], "crossings"),
        ("Polygon", [SQUARE, [(p[0] + 1.0, p[1]) for p in HOLE]], "not simple"),
        ("Polygon", [[SQUARE[0], SQUARE[1], SQUARE[0], SQUARE[0]]], "not simple"),
        ("LineString", [SQUARE[0], SQUARE[0]], "stays in one point"),
    ],
)
def test_what_is_no_area_or_no_line_is_refused(kind: str, coordinates: Any, said: str) -> None:
    problems = Problems()
    assert shape(kind, coordinates, "here", problems) is None
    assert said in str(problems.found[0])


def test_a_line_is_centred_by_length() -> None:
    line = made("LineString", [(14.0, 46.0), (14.001, 46.0), (14.01, 46.0)])
    np.testing.assert_allclose(centroid_deg(line), [14.005, 46.0])


def test_how_far_apart() -> None:
    # One degree of a great circle is 111.195 km on a sphere of 6371.0088 km (by its definition).
    assert apart_m(np.array([14.0, 46.0]), np.array([14.0, 47.0])) == pytest.approx(111_195, abs=1)
    assert apart_m(np.array([0.0, 0.0]), np.array([1.0, 0.0])) == pytest.approx(111_195, abs=1)


def test_shapes_turned_together_are_those_turned_alone() -> None:
    rings = (
        np.array([(0.0, 0.0), (9.0, 0.0), (9.0, 9.0)]),
        np.array([(5.0, 1.0), (8.0, 1.0), (8.0, 4.0)]),
    )
    shapes = [
        Shape(geometry="point", parts=((np.array([(3.0, 4.0)]),),)),
        Shape(geometry="polygon", parts=(rings, (rings[0] + 20.0,))),
        Shape(geometry="line", parts=((rings[1],),)),
    ]
    for one, turned in zip(shapes, moved(shapes, np.square), strict=True):
        (alone,) = moved([one], np.square)
        assert turned.geometry == alone.geometry == one.geometry
        assert [len(part) for part in turned.parts] == [len(part) for part in one.parts]
        for before, same, after in zip(one.points, alone.points, turned.points, strict=True):
            assert (after == before**2).all()
            assert (after == same).all()
    assert moved([], np.square) == []
    assert (shapes[0].middle == [3.0, 4.0]).all()
    assert (shapes[2].middle == rings[1].mean(axis=0)).all()
