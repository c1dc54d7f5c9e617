"""Dunnaby Flat: level saltbush with a shed, a walkers' track and nesting ground. Invented."""

from __future__ import annotations

from tests.drawn import sheet as drawing
from tests.drawn.sheet import SITES, Point, Sheet

FOLDER = SITES / "dunnaby"
SHEET = Sheet(crs="EPSG:32754", origin_m=(402_100.0, 6_301_400.0))


def ground() -> str:
    """The text of ground.geojson."""
    ride: list[Point] = [
        (60, 120), (150, 128), (240, 138), (300, 145), (330, 150), (352, 157), (372, 169),
        (390, 185), (406, 203), (436, 240), (452, 260),
    ]  # fmt: skip
    walkers: list[Point] = [
        (15, 196), (90, 190), (180, 172), (235, 173), (300, 206), (340, 262), (352, 340),
        (340, 425),
    ]  # fmt: skip
    shed: list[Point] = [(289, 93), (309, 95), (308, 106), (288, 104)]
    yard: list[Point] = [(150, 62), (186, 64), (184, 92), (148, 90)]
    plovers: list[Point] = [(478, 330), (545, 318), (560, 390), (492, 402)]
    around: list[Point] = [(15, 15), (605, 15), (605, 425), (15, 425)]
    feature = SHEET.feature
    return drawing.collection(
        [
            feature("boundary", "boundary", around, "Polygon"),
            feature("track", "ride", ride, "LineString", name="Two-wheel track"),
            feature("shed", "building", shed, "Polygon", height_m=5.6, name="Shearing shed"),
            feature("windpump", "pole", [(226.0, 92.0)], height_m=9.0, radius_m=1.6,
                    name="Wind pump"),
            feature("walkers", "people", walkers, "LineString", state="may-pass",
                    name="Walkers' track"),
            feature("yard", "keep-out", yard, "Polygon", ceiling_m=60.0,
                    reason="sheep are penned here"),
            feature("plovers", "wildlife", plovers, "Polygon", stand_off_m=100.0,
                    name="Plovers' ground", **{"from": "08-15", "to": "01-31"}),
            feature("launch", "place", [(235.0, 40.0)], name="Gatepost"),
            feature("trough", "place", [(398.0, 150.0)], name="Old trough"),
            feature("middle", "place", [(298.5, 99.5)], name="Middle of the shed", height_m=3.0),
        ]
    )  # fmt: skip
