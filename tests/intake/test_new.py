"""A folder to start from: it is read, it invents nothing, it overwrites nothing."""

from __future__ import annotations

import json
import math
import shutil
import tomllib
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
import rasterio.warp

from shotplan.errors import Problems
from shotplan.files.bundled import bundled_sites
from shotplan.intake.drawing import PLACEHOLDER
from shotplan.intake.new import Given, start
from shotplan.intake.started import Started
from shotplan.outing import read
from shotplan.site.tables import BesideTable, RideTable, SiteTable, SurveyTable, WeatherTable
from tests.output.hostile import EVERY
from tests.worlds import FRAME, feature, line, place, point, write_site

HVINHYLDE = bundled_sites()["hvinhylde"]
RULES = "eu-open-a1"


def recording(path: Path, metres: float = 60.0, *, timed: bool = True, year: int = 2026) -> Path:
    """A ride of a fix a second, north at 5 m/s."""
    fixes = []
    for second in range(int(metres / 5.0) + 1):
        lon, lat = FRAME.lonlat_deg(np.array([0.0, 5.0 * second]))
        when = f"<time>{year}-05-03T09:30:{second:02d}Z</time>" if timed else ""
        fixes.append(f'<trkpt lat="{lat:.9f}" lon="{lon:.9f}"><ele>84</ele>{when}</trkpt>')
    path.write_text(
        '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        f"{''.join(fixes)}</trkseg></trk></gpx>",
        "utf-8",
    )
    return path


def started(folder: Path, **given: Any) -> Started:
    problems = Problems()
    made = start(folder, Given(**{"rules": RULES, **given}), problems)
    assert problems.found == []
    assert made is not None
    made.write(folder)
    return made


def refused(folder: Path, **given: Any) -> dict[str, str]:
    """Option or place -> what is wrong; nothing may have been made."""
    problems = Problems()
    before = sorted(folder.iterdir()) if folder.is_dir() else None
    assert start(folder, Given(**{"rules": RULES, **given}), problems) is None
    assert (sorted(folder.iterdir()) if folder.is_dir() else None) == before
    assert problems.found
    return {p.where: p.what for p in problems.found}


def says(folder: Path) -> dict[str, Any]:
    return tomllib.loads((folder / "site.toml").read_text("utf-8"))


def drawn(folder: Path) -> dict[str, Any]:
    features = json.loads((folder / "ground.geojson").read_text("utf-8"))["features"]
    return {f["properties"]["id"]: f for f in features}


def test_a_recording_and_a_pack_are_enough(tmp_path: Path) -> None:
    started(tmp_path / "home-hill", ride=recording(tmp_path / "My ride.GPX"))
    outing = read(tmp_path / "home-hill")
    assert outing.site.name == "home-hill"
    assert outing.day.start == datetime(2026, 5, 3, 9, 30, tzinfo=UTC)
    assert [s.style.name for s in outing.shots] == ["side-track", "follow-behind"]
    assert all((s.from_m, round(s.to_m)) == (0.0, 60) for s in outing.shots)
    # What nobody gave is not there, not guessed.
    assert outing.site.boundary is None
    assert all(not area.looked_for for area in outing.site.surveyed)
    assert outing.day.weather.wind_m_s is None
    assert np.isnan(outing.site.terrain.ground_m(np.zeros(2)))
    copied = (tmp_path / "home-hill" / "ride.gpx").read_bytes()
    assert copied == (tmp_path / "My ride.GPX").read_bytes()


def test_the_launch_is_where_the_ride_begins_and_says_that_it_is_a_guess(tmp_path: Path) -> None:
    made = started(tmp_path / "s", ride=recording(tmp_path / "r.gpx"))
    launch = drawn(tmp_path / "s")["launch"]
    away = FRAME.xy_m(np.array(launch["geometry"]["coordinates"]))
    assert math.hypot(*away) < 0.02  # written to 1e-7 of a degree: a centimetre
    assert launch["properties"]["name"].startswith("guess: ")
    assert any("launch" in g for g in made.guesses)


def test_a_long_ride_is_filmed_in_part(tmp_path: Path) -> None:
    started(tmp_path / "s", ride=HVINHYLDE / "ride.gpx", terrain=HVINHYLDE / "terrain.tif")
    assert [s["to_m"] for s in says(tmp_path / "s")["shot"]] == [300, 300]
    outing = read(tmp_path / "s")
    assert any(r.startswith("site.toml names no country") for r in outing.repairs)
    assert (tmp_path / "s" / "terrain.tif").is_file()


def test_every_key_that_is_read_has_a_comment(tmp_path: Path) -> None:
    for name, ride in (("a", None), ("b", recording(tmp_path / "r.gpx"))):
        started(tmp_path / name, ride=ride, start="2026-06-20T20:10:00+01:00")
        lines = (tmp_path / name / "site.toml").read_text("utf-8").splitlines()
        seen, table = set(), ""
        for one in lines:
            if one.startswith("["):
                table = one.split("#")[0].strip(" []")
            elif " = " in one and not one.startswith("#"):
                key = one.partition(" = ")[0]
                repeated = table == "shot" and key in {"name", "height_m", "from_m"}
                assert "#" in one or (key, table) in seen or repeated, one
                seen.add((key, table))


def test_what_stands_there_as_a_comment_is_read_once_it_is_taken_in(tmp_path: Path) -> None:
    """Every commented key is one of its table's."""
    started(tmp_path / "s", ride=recording(tmp_path / "r.gpx"))
    text = (tmp_path / "s" / "site.toml").read_text("utf-8")
    tables: dict[str, Any] = {
        "": SiteTable, "survey": SurveyTable, "weather": WeatherTable, "ride": RideTable,
        "beside": BesideTable,
    }  # fmt: skip
    table, found = "", 0
    for one in text.splitlines():
        bare = one.removeprefix("# ")
        if bare.startswith("["):
            table = bare.split("#")[0].strip(" []")
        elif one.startswith("# ") and " = " in bare.split(" # ")[0] and table in tables:
            key = bare.partition(" = ")[0]
            if " " not in key:
                assert key in tables[table].__dataclass_fields__, (table, key)
                tomllib.loads(bare)
                found += 1
    assert found >= 18


def test_a_recording_without_times_needs_a_start_and_gets_a_speed_that_says_it_is_a_guess(
    tmp_path: Path,
) -> None:
    ride = recording(tmp_path / "r.gpx", timed=False)
    assert set(refused(tmp_path / "s", ride=ride)) == {"--start"}
    made = started(tmp_path / "s", ride=ride, start="2026-06-20T20:10:00+01:00")
    assert says(tmp_path / "s")["ride"] == {"path": "ride.gpx", "speed_m_s": 5}
    assert "CHANGE: a guess" in (tmp_path / "s" / "site.toml").read_text("utf-8")
    assert any("5 m/s is a guess" in g for g in made.guesses)
    assert read(tmp_path / "s").ride.speed_m_s.max() == pytest.approx(5.0)


def test_a_clock_that_was_never_set_says_nothing(tmp_path: Path) -> None:
    old = recording(tmp_path / "r.gpx", year=1980)
    assert set(refused(tmp_path / "s", ride=old)) == {"--start"}


def test_without_a_ride_there_is_a_placeholder_that_says_so_everywhere(tmp_path: Path) -> None:
    made = started(tmp_path / "s", start="2026-06-20T20:10:00+01:00")
    (line_,) = (f for f in drawn(tmp_path / "s").values() if f["properties"]["role"] == "ride")
    assert line_["properties"]["name"] == "placeholder: draw your own ride instead"
    assert "CHANGE: a placeholder" in (tmp_path / "s" / "site.toml").read_text("utf-8")
    assert made.guesses[0].startswith("the ride is a placeholder")
    assert read(tmp_path / "s").ride_source == f"drawn line {PLACEHOLDER}"


def test_everything_that_is_missing_or_wrong_is_said_at_once(tmp_path: Path) -> None:
    (tmp_path / "s").mkdir()
    (tmp_path / "s" / "notes.txt").write_text("mine")
    problems = refused(
        tmp_path / "s", rules="", aircraft="airliner", start="tomorrow", around_m=-3.0,
        ride=tmp_path / "no.gpx", terrain=tmp_path / "no.tif",
    )  # fmt: skip
    assert set(problems) == {
        str(tmp_path / "s"), "--rules", "--aircraft", "--start", "--boundary-around", "--ride",
        "--terrain",
    }  # fmt: skip
    assert RULES in problems["--rules"]
    assert "notes.txt" in problems[str(tmp_path / "s")]


@pytest.mark.parametrize("said", ["2026-06-20T20:10:00", "2026-06-20", "20:10", "soon"])
def test_a_start_needs_its_offset(tmp_path: Path, said: str) -> None:
    problems = refused(tmp_path / "s", start=said)
    assert "with its offset" in problems["--start"]


def test_terrain_without_a_ride_has_one_in_its_middle(tmp_path: Path) -> None:
    """To be drawn anew on its own ground; where the raster lies rasterio says."""
    terrain = HVINHYLDE / "terrain.tif"
    started(tmp_path / "s", terrain=terrain, start="2026-06-20T20:10:00+01:00")
    outing = read(tmp_path / "s")
    with rasterio.open(terrain) as raster:
        west, south, east, north = rasterio.warp.transform_bounds(
            raster.crs, "EPSG:4326", *raster.bounds
        )
    ride = outing.site.frame.lonlat_deg(outing.ride.xyz_m[0, :, :2]).mean(axis=0)
    assert ride[0] == pytest.approx(0.5 * (west + east), abs=2e-4)
    assert ride[1] == pytest.approx(0.5 * (south + north), abs=2e-4)
    assert outing.ride.along_m[0, -1] == pytest.approx(200.0, abs=0.6)
    assert np.isfinite(outing.ride.xyz_m).all()


def test_files_that_lie_there_already_are_taken_as_they_are(tmp_path: Path) -> None:
    folder = tmp_path / "s"
    folder.mkdir()
    ride = recording(folder / "sunday.gpx")
    shutil.copy(HVINHYLDE / "terrain.tif", tmp_path / "t.tif")
    before = ride.read_bytes()
    started(folder, ride=ride)
    assert {p.name for p in folder.iterdir()} == {"sunday.gpx", "site.toml", "ground.geojson"}
    assert ride.read_bytes() == before
    assert says(folder)["ride"]["path"] == "sunday.gpx"
    assert read(folder).ride_source == "sunday.gpx"


def test_a_second_time_nothing_is_touched(tmp_path: Path) -> None:
    ride = recording(tmp_path / "r.gpx")
    made = started(tmp_path / "s", ride=ride)
    (tmp_path / "s" / "site.toml").write_text("mine")
    assert str(tmp_path / "s") in refused(tmp_path / "s", ride=ride)
    with pytest.raises(FileExistsError):
        made.write(tmp_path / "s")
    assert (tmp_path / "s" / "site.toml").read_text() == "mine"


def test_the_prj_of_a_grid_comes_along(tmp_path: Path) -> None:
    grid = tmp_path / "dem.asc"
    grid.write_text(
        "ncols 3\nnrows 3\nxllcorner 13.99\nyllcorner 45.99\ncellsize 0.01\n" + "84 84 84\n" * 3
    )
    ride = recording(tmp_path / "r.gpx")
    assert "prj" in refused(tmp_path / "s", ride=ride, terrain=grid)["--terrain"]
    wkt = 'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],' \
          'PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]'  # fmt: skip
    grid.with_suffix(".prj").write_text(wkt)
    started(tmp_path / "s", ride=ride, terrain=grid)
    names = {p.name for p in (tmp_path / "s").iterdir()}
    assert {"terrain.asc", "terrain.prj"} <= names
    assert read(tmp_path / "s").site.terrain.ground_m(np.zeros(2)) == pytest.approx(84.0)


def test_a_drawing_is_taken_as_it_is_with_its_ride_and_its_people(tmp_path: Path) -> None:
    features = [
        feature("gravel", "ride", line([(0.0, 0.0), (0.0, 80.0)])),
        feature("gate", "people", point(5.0, 50.0), state="held", held_by='Pia "the gate"'),
        place("launch", east_m=10.0, north_m=0.0),
    ]
    ground = tmp_path / "drawn.geojson"
    ground.write_text(json.dumps({"type": "FeatureCollection", "features": features}), "utf-8")
    made = started(tmp_path / "s", ground=ground, start="2026-06-20T20:10:00+01:00")
    assert (tmp_path / "s" / "ground.geojson").read_bytes() == ground.read_bytes()
    outing = read(tmp_path / "s")
    assert outing.ride_source == "drawn line gravel"
    assert 'Pia "the gate"' in {p.name for p in outing.day.crew}
    assert not any("launch" in g for g in made.guesses)


def test_a_boundary_around_goes_behind_what_is_drawn_unless_one_is(tmp_path: Path) -> None:
    gravel = feature("gravel", "ride", line([(0.0, 0.0), (0.0, 80.0)]))
    pole = feature("boundary", "pole", point(5.0, 50.0), height_m=4.0)
    ground = tmp_path / "drawn.geojson"
    text = f'{{"type": "FeatureCollection", "features": [{json.dumps(gravel, indent=1)},\n' \
           f'{json.dumps(pole)}]}}'  # fmt: skip
    ground.write_text(text, "utf-8")
    day = "2026-06-20T20:10:00+01:00"
    started(tmp_path / "s", ground=ground, around_m=50.0, start=day)
    new = (tmp_path / "s" / "ground.geojson").read_text("utf-8")
    assert json.dumps(gravel, indent=1) in new
    assert [f.get("id", f["properties"].get("id")) for f in json.loads(new)["features"]] == [
        "gravel", "boundary", "boundary-1",
    ]  # fmt: skip
    outline = read(tmp_path / "s").site.boundary
    assert outline is not None
    # A line of 80 m and 50 m around it, by its corners alone.
    assert np.ptp(outline[0], axis=0) == pytest.approx([100.0, 180.0], abs=0.1)
    problems = refused(tmp_path / "t", ground=tmp_path / "s" / "ground.geojson", around_m=50.0)
    assert set(problems) == {"--boundary-around", "--start"}
    assert ground.read_text("utf-8") == text


def test_a_drawing_that_lies_in_the_folder_stays_beside_the_new_one(tmp_path: Path) -> None:
    (tmp_path / "s").mkdir()
    ground = tmp_path / "s" / "mine.geojson"
    features = [feature("gravel", "ride", line([(0.0, 0.0), (0.0, 80.0)]))]
    ground.write_text(json.dumps({"type": "FeatureCollection", "features": features}), "utf-8")
    old = ground.read_bytes()
    started(tmp_path / "s", ground=ground, around_m=50.0, start="2026-06-20T20:10:00+01:00")
    assert (tmp_path / "s" / "mine.geojson.before").read_bytes() == old
    assert "boundary" in {
        f["properties"]["role"] for f in json.loads(ground.read_text())["features"]
    }


def test_a_boundary_is_drawn_only_when_it_is_asked_for(tmp_path: Path) -> None:
    made = started(tmp_path / "s", ride=recording(tmp_path / "r.gpx"), around_m=60.0)
    ring = np.array(drawn(tmp_path / "s")["boundary"]["geometry"]["coordinates"][0])
    xy = FRAME.xy_m(ring)
    np.testing.assert_allclose([xy.min(axis=0), xy.max(axis=0)], [[-60, -60], [60, 120]], atol=0.05)
    assert any("whether you may fly there, nobody asked" in g for g in made.guesses)
    boundary = read(tmp_path / "s").site.boundary
    assert boundary is not None


def test_hostile_names_stay_text(tmp_path: Path) -> None:
    folder = tmp_path / 'a"b\\[[shot]]\u202e'
    started(folder, ride=recording(tmp_path / "r.gpx"))
    assert read(folder).site.name == folder.name
    started(tmp_path / "s", ride=recording(tmp_path / "r.gpx"), name=EVERY)
    assert read(tmp_path / "s").site.name == EVERY
    text = (tmp_path / "s" / "site.toml").read_text("utf-8")
    assert not set("\x1b\u202e\u2028") & set(text)


def test_the_same_input_gives_the_same_files(tmp_path: Path) -> None:
    ride = recording(tmp_path / "r.gpx")
    texts = [started(tmp_path / n / "s", ride=ride, around_m=30.0).texts for n in "ab"]
    assert texts[0] == texts[1]


def test_it_never_says_safe_or_legal(tmp_path: Path) -> None:
    made = started(tmp_path / "s", start="2026-06-20T20:10:00+01:00")
    told = " ".join([*made.texts.values(), *made.guesses]).lower()
    assert not [w for w in ("safe", "legal", "permitted", "allowed") if w in told]


def test_a_site_that_is_there_is_refused(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "site")
    assert str(folder) in refused(folder, start="2026-06-20T20:10:00+01:00")
