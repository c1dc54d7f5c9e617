from __future__ import annotations

import csv
import io
import math

import numpy as np
import pytest

from shotplan.output.take_along import track
from tests.output.made_plan import made_plan

# FORMATS, "shotplan plan --track"
HEADER = (
    "shot,time_s,ride_m,lon,lat,elevation_m,height_m,surface_m,height_above_launch_m,east_m,"
    "north_m,speed_m_s,heading_deg,camera_azimuth_deg,camera_elevation_deg,blind,clearance_m,"
    "clearance_thing,sight_m,sight_cut,rider_east_m,rider_north_m,rider_elevation_m"
)


def test_columns_and_rows() -> None:
    plan = made_plan()
    text = track.text(plan)
    assert text.splitlines()[0] == HEADER
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == sum(len(s.scene.track.ride.t_s) for s in plan.shots)
    assert {r["shot"] for r in rows} == {"rim, from the sea side", "from the land side"}
    near = plan.shots[0].finding("clearance")
    for index in (0, 130, 246, 500):
        row, scene = rows[index], plan.shots[0].scene
        assert float(row["time_s"]) == pytest.approx(index * 0.1)
        assert float(row["east_m"]) == pytest.approx(scene.track.xyz_m[0, index, 0], abs=5e-4)
        assert float(row["clearance_m"]) == pytest.approx(near.values[index], abs=5e-4)
        assert row["clearance_thing"] == near.things[index]
        assert row["blind"] == str(int(scene.blind[0, index]))
        assert float(row["height_m"]) == pytest.approx(6.0)
    assert {r["blind"] for r in rows} == {"0", "1"}
    assert {r["sight_cut"] for r in rows} == {"0", "1"}
    lonlat = np.array([[float(r["lon"]), float(r["lat"])] for r in rows[:501]])
    back = plan.outing.site.frame.xy_m(lonlat)
    np.testing.assert_allclose(back, plan.shots[0].scene.track.xyz_m[0, :, :2], atol=2e-4)


def test_decimals() -> None:
    row = next(csv.DictReader(io.StringIO(track.text(made_plan()))))
    decimals = {key: len(value.partition(".")[2]) for key, value in row.items()}
    assert decimals["lon"] == decimals["lat"] == 9
    assert decimals["heading_deg"] == decimals["camera_elevation_deg"] == 2
    assert decimals["elevation_m"] == decimals["speed_m_s"] == decimals["sight_m"] == 3


def test_unknown_is_an_empty_field_and_nought_has_no_sign() -> None:
    values = np.array([math.nan, math.inf, -0.0001, 1.0])
    assert track.fixed(values) == ["", "", "0.000", "1.000"]


def test_bearings_turn_clockwise_from_north_to_below_360() -> None:
    north_by_a_hair = math.radians(359.9999)
    assert track.bearing(np.array([-math.pi / 2, 5 * math.pi / 2, north_by_a_hair])) == [
        "270.00",
        "90.00",
        "0.00",
    ]
