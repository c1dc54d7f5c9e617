"""Surveys laid into a folder: nothing of the person's is overwritten, all of it or nothing."""

from __future__ import annotations

import json
import tomllib
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.errors import BadInput, Problems
from shotplan.intake.add import REMEMBERED, Added, add
from shotplan.intake.new import Given, start
from shotplan.intake.surveys import Surveys
from shotplan.outing import read
from tests import worlds
from tests.intake.made_found import ON, RASTER, Readers, lidar, osm, raster, strip, tree

TODAY = date(2026, 12, 1)
RIDE = np.array([worlds.lonlat(-100.0, 0.0), worlds.lonlat(100.0, 0.0)])


@pytest.fixture
def readers(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Readers:
    return Readers(monkeypatch, tmp_path)


def made(folder: Path, given: Surveys, **more: Any) -> Added:
    problems = Problems()
    when = {"start": datetime(2026, 6, 20, tzinfo=UTC), "country": "SI", "today": TODAY}
    found = add(folder, given, RIDE, problems, **{**when, **more})
    assert problems.found == []
    assert found is not None
    return found


def refused(folder: Path, given: Surveys, **more: Any) -> dict[str, str]:
    before = held(folder)
    problems = Problems()
    when = {"start": datetime(2026, 6, 20, tzinfo=UTC), "country": "SI", "today": TODAY}
    assert add(folder, given, RIDE, problems, **{**when, **more}) is None
    assert held(folder) == before
    return {p.where: p.what for p in problems.found}


def held(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}


def ground(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "ground.geojson").read_text("utf-8"))
    return found


def site(folder: Path, **more: Any) -> Path:
    oak = worlds.tree("oak", east_m=8.0, north_m=30.0)
    return worlds.write_site(folder, features=[oak], ride=90.0, **more)


def test_what_was_found_is_there_and_all_else_stays_as_it_was(
    tmp_path: Path, readers: Readers
) -> None:
    folder = site(tmp_path / "s", terrain=None)
    old = held(folder)
    readers.found["lidar"] = lidar()
    made(folder, readers.given("lidar")).write()
    now = held(folder)
    assert now["ground.geojson.before"] == old["ground.geojson"]
    assert now["site.toml.before"] == old["site.toml"]
    assert now["lidar-terrain.tif"] == RASTER
    # Of site.toml nothing is gone, and two lines are new.
    lines = now["site.toml"].decode().splitlines()
    new = [one for one in lines if one not in old["site.toml"].decode().splitlines()]
    assert [one.partition(" = ")[0] for one in new] == ["terrain", "terrain_error_m"]
    assert all(one.endswith("# what lidar says") for one in new)
    before = json.loads(old["ground.geojson"])["features"]
    assert ground(folder)["features"][: len(before)] == before
    assert ground(folder)["sources"] == [{
        "source": "lidar", "credit": "a surveyor, licence", "on": "2024-05-01",
        "read": "2026-12-01", "file": "lidar.laz",
    }]  # fmt: skip
    outing = read(folder)
    assert {t.id for t in outing.site.obstacles.things} == {"oak", "lidar-tree-0001"}
    assert outing.site.credits == ("a surveyor, licence",)
    assert outing.site.terrain.error_m == pytest.approx(0.2)
    assert (readers.asked[0][1] == RIDE).all()


def test_a_second_time_changes_no_byte(tmp_path: Path, readers: Readers) -> None:
    folder = site(tmp_path / "s", terrain=None)
    readers.found["lidar"] = lidar()
    made(folder, readers.given("lidar")).write()
    once = held(folder)
    made(folder, readers.given("lidar")).write()
    assert held(folder) == once


def test_a_newer_survey_replaces_features_and_raster_of_its_own(
    tmp_path: Path, readers: Readers
) -> None:
    folder = site(tmp_path / "s", terrain=None)
    readers.found = {"lidar": lidar(), "osm": osm(tree("osm", 7, 60.0, -30.0))}
    made(folder, readers.given("lidar", "osm")).write()
    higher = raster(90.0)
    newer = lidar(tree("lidar", 5, 1.0, 25.0), on=date(2025, 6, 1),
                  files={"lidar-terrain.tif": higher})  # fmt: skip
    readers.found["lidar"] = newer
    made(folder, readers.given("lidar")).write()
    assert held(folder)["lidar-terrain.tif"] == higher
    ids = [f.get("id") or f["properties"]["id"] for f in ground(folder)["features"]]
    assert ids[-3:] == ["oak", "lidar-tree-0005", "osm-tree-0007"]  # where the older one stood
    assert [(s["source"], s["on"]) for s in ground(folder)["sources"]] == [
        ("lidar", "2025-06-01"), ("osm", "2023-01-01"),
    ]  # fmt: skip


def test_a_credit_written_by_hand_stays_where_a_survey_names_nobody(
    tmp_path: Path, readers: Readers
) -> None:
    folder = site(tmp_path / "s")
    readers.found["lidar"] = lidar(credit="")
    made(folder, readers.given("lidar")).write()
    assert "credit" not in ground(folder)["sources"][0]
    text = (folder / "ground.geojson").read_text()
    (folder / "ground.geojson").write_text(
        text.replace('"source": "lidar"', '"source": "lidar", "credit": "the county"')
    )
    made(folder, readers.given("lidar")).write()
    assert read(folder).site.credits == ("the county",)


def test_a_raster_of_ones_own_stays_and_nothing_is_said_of_the_other(
    tmp_path: Path, readers: Readers
) -> None:
    readers.found["lidar"] = lidar()
    for name, more in (("flat", {}), ("own", {"terrain": lambda e, n: 80.0 + 0.0 * e})):
        folder = site(tmp_path / name, **more)
        says = (folder / "site.toml").read_bytes()
        done = made(folder, readers.given("lidar"))
        done.write()
        assert (folder / "site.toml").read_bytes() == says
        assert not (folder / "lidar-terrain.tif").exists()
        (lines,) = done.said.values()
        assert any("kept, lidar's left out" in line for line in lines)
        assert {t.id for t in read(folder).site.obstacles.things} == {"oak", "lidar-tree-0001"}


def test_an_error_of_ones_own_stays_beside_a_new_raster(tmp_path: Path, readers: Readers) -> None:
    folder = site(tmp_path / "s", terrain=None, site={"terrain_error_ft": 3.0})
    readers.found["lidar"] = lidar()
    done = made(folder, readers.given("lidar"))
    done.write()
    says = tomllib.loads((folder / "site.toml").read_text())
    assert "terrain_error_m" not in says
    assert (says["terrain_error_ft"], says["terrain"]) == (3.0, "lidar-terrain.tif")
    (lines,) = done.said.values()
    assert lines[-1] == (
        "site.toml says terrain_error_ft = 3.0: kept; lidar would say terrain_error_m = 0.2"
    )


def test_a_file_of_ones_own_is_not_overwritten(tmp_path: Path, readers: Readers) -> None:
    folder = site(tmp_path / "s", terrain=None)
    (folder / "lidar-terrain.tif").write_bytes(b"mine")
    readers.found["lidar"] = lidar()
    done = made(folder, readers.given("lidar"))
    done.write()
    assert (folder / "lidar-terrain.tif").read_bytes() == b"mine"
    assert "terrain" not in tomllib.loads((folder / "site.toml").read_text())
    assert any("a file of your own" in line for lines in done.said.values() for line in lines)


def test_what_lidar_brought_before_is_left_out_of_map_data(
    tmp_path: Path, readers: Readers
) -> None:
    folder = site(tmp_path / "s")
    readers.found = {"lidar": lidar(), "osm": osm(tree("osm", 1, 6.0, 20.0),
                                                  tree("osm", 2, 40.0, 20.0))}  # fmt: skip
    made(folder, readers.given("lidar")).write()
    made(folder, readers.given("osm")).write()
    ids = {t.id for t in read(folder).site.obstacles.things}
    assert ids == {"oak", "lidar-tree-0001", "osm-tree-0002"}


def test_a_refused_survey_writes_nothing_and_each_is_asked(
    tmp_path: Path, readers: Readers
) -> None:
    folder = site(tmp_path / "s")
    readers.found = {"lidar": lidar(), "osm": "is another continent", "zone": "a bad circle"}
    assert refused(folder, readers.given("lidar", "osm", "zone")) == {
        "--osm": "is another continent", "--zones": "a bad circle",
    }  # fmt: skip


def test_a_file_that_is_not_there_is_said_before_anything_is_read(
    tmp_path: Path, readers: Readers
) -> None:
    folder = site(tmp_path / "s")
    (tmp_path / "tiles").mkdir()
    given = Surveys(lidar=(tmp_path / "tiles",), osm=tmp_path / "no.osm", canopy=tmp_path)
    assert set(refused(folder, given)) == {"--lidar", "--osm", "--canopy"}
    assert readers.asked == []


def test_a_survey_after_the_flight_is_refused_once(tmp_path: Path, readers: Readers) -> None:
    folder = site(tmp_path / "s")
    readers.found["lidar"] = lidar(*(tree("lidar", k, k, 9.0) for k in range(9)))
    early = datetime(2024, 4, 30, tzinfo=UTC)
    (said,) = refused(folder, readers.given("lidar"), start=early).items()
    assert said[0] == "site.toml: start"
    assert str(ON) in said[1]


def test_a_drawing_outside_the_folder_is_not_changed(tmp_path: Path, readers: Readers) -> None:
    folder = site(tmp_path / "s", site={"ground": "../far.geojson"})
    (folder / "ground.geojson").rename(tmp_path / "far.geojson")
    readers.found["lidar"] = lidar()
    assert set(refused(folder, readers.given("lidar"))) == {"site.toml: ground"}


def test_without_a_drawing_there_is_one_afterwards(tmp_path: Path, readers: Readers) -> None:
    folder = site(tmp_path / "s")
    (folder / "ground.geojson").unlink()
    readers.found["osm"] = osm(tree("osm", 1, 6.0, 20.0))
    made(folder, readers.given("osm")).write()
    assert [f["properties"]["id"] for f in ground(folder)["features"]] == ["osm-tree-0001"]
    assert not (folder / "ground.geojson.before").exists()


def test_somebody_saved_meanwhile(tmp_path: Path, readers: Readers) -> None:
    """Two at once, or an editor: the second is told, nothing of the first is lost."""
    folder = site(tmp_path / "s")
    readers.found = {"lidar": lidar(), "osm": osm(tree("osm", 1, 60.0, 20.0))}
    one, other = made(folder, readers.given("lidar")), made(folder, readers.given("osm"))
    one.write()
    first = held(folder)
    with pytest.raises(BadInput, match="was changed while this ran"):
        other.write()
    assert held(folder) == first
    made(folder, readers.given("osm")).write()
    assert {t.id for t in read(folder).site.obstacles.things} == {
        "oak", "lidar-tree-0001", "osm-tree-0001",
    }  # fmt: skip


def test_a_trial_reads_like_the_folder_and_leaves_it_alone(
    tmp_path: Path, readers: Readers
) -> None:
    folder = site(tmp_path / "s", terrain=None, site={"rules": "../own.toml"})
    (tmp_path / "own.toml").write_text('base = "eu-open-a1"\nid = "own"\ntitle = "Ours"\n')
    readers.found["lidar"] = lidar()
    before = held(folder)
    done = made(folder, readers.given("lidar"))
    (tmp_path / "trial").mkdir()
    trial = done.try_in(tmp_path / "trial")
    assert held(folder) == before
    done.write()
    assert {n: d for n, d in held(folder).items() if n in done.files} == {
        n: (trial / n).read_bytes() for n in done.files
    }


@pytest.mark.parametrize("text", ["", "[]", "null", '{"features": 3}', '{"features": {"a": 1}}'])
def test_a_memory_that_cannot_be_read_loses_nothing(
    tmp_path: Path, readers: Readers, text: str
) -> None:
    folder = site(tmp_path / "s")
    readers.found["lidar"] = lidar()
    made(folder, readers.given("lidar")).write()
    changed = (folder / "ground.geojson").read_text().replace('"height_m": 9.0', '"height_m": 8.0')
    (folder / "ground.geojson").write_text(changed)
    (folder / REMEMBERED).write_text(text)
    made(folder, readers.given("lidar")).write()
    heights = {t.id: t.height_m for t in read(folder).site.obstacles.things}
    assert heights == {"oak": 10.0, "lidar-tree-0001": 8.0, "lidar-tree-0001-2": 9.0}


def test_surroundings_are_copied(tmp_path: Path) -> None:
    folder = site(tmp_path / "s", terrain=lambda e, n: 84.0 + 0.01 * e)
    wide = tmp_path / "Coarse one.TIF"
    worlds.write_terrain(wide, lambda e, n: 84.0 + 0.0 * e, cell_m=50.0, half_m=3000.0)
    made(folder, Surveys(surroundings=wide)).write()
    assert (folder / "surroundings.tif").read_bytes() == wide.read_bytes()
    terrain = read(folder).site.terrain
    assert terrain.beyond is not None
    assert terrain.beyond.cell_m == pytest.approx(50.0, rel=0.01)
    (tmp_path / "no.tif").write_text("not a raster")
    assert set(refused(folder, Surveys(surroundings=tmp_path / "no.tif"))) == {"--surroundings"}


def recording(path: Path, day: str) -> Path:
    track = np.stack([np.linspace(-100.0, 100.0, 41), np.zeros(41)], axis=1)
    text = worlds.gpx_text(track, np.arange(41.0))
    path.write_text(text.replace("2026-06-02", day), "utf-8")
    return path


def test_new_takes_them_too(tmp_path: Path, readers: Readers) -> None:
    readers.found = {"lidar": lidar(), "osm": osm(tree("osm", 1, 6.0, 20.0),
                                                  tree("osm", 2, 60.0, 20.0))}  # fmt: skip
    problems = Problems()
    given = Given(
        rules="eu-open-a1", ride=recording(tmp_path / "r.gpx", "2026-06-02"), around_m=80.0,
        surveys=readers.given("lidar", "osm"),
    )  # fmt: skip
    begun = start(tmp_path / "s", given, problems, today=TODAY)
    assert begun is not None, problems.found
    begun.write(tmp_path / "s")
    outing = read(tmp_path / "s")
    assert {t.id for t in outing.site.obstacles.things} == {"lidar-tree-0001", "osm-tree-0002"}
    says = (tmp_path / "s" / "site.toml").read_text()
    assert tomllib.loads(says)["terrain"] == "lidar-terrain.tif"
    assert says.count("terrain = ") == 1  # the comment that it is missing is gone
    assert outing.site.terrain.ground_m(np.zeros(2)) == pytest.approx(84.0)
    assert list(begun.said) == ["lidar: lidar.laz", "osm: osm.osm"]
    # And `add` knows its own.
    made(tmp_path / "s", readers.given("lidar")).write()
    assert not (tmp_path / "s" / "ground.geojson.before").exists()


def test_new_begins_on_the_day_of_a_survey_that_is_younger_than_the_recording(
    tmp_path: Path, readers: Readers
) -> None:
    readers.found["lidar"] = lidar()
    problems = Problems()
    given = Given(rules="eu-open-a1", ride=recording(tmp_path / "r.gpx", "2019-06-02"),
                  surveys=readers.given("lidar"))  # fmt: skip
    begun = start(tmp_path / "s", given, problems, today=TODAY)
    assert begun is not None, problems.found
    begun.write(tmp_path / "s")
    assert read(tmp_path / "s").day.start == datetime(2024, 5, 1, 12, tzinfo=UTC)
    assert any("youngest survey" in g for g in begun.guesses)
    early = Given(rules="eu-open-a1", ride=given.ride, surveys=given.surveys,
                  start="2019-06-02T12:00:00Z")  # fmt: skip
    assert start(tmp_path / "t", early, problems) is None
    assert [p.where for p in problems.found] == ["--start"]
    assert not (tmp_path / "t").exists()


def test_new_refuses_surveys_without_a_ride(tmp_path: Path, readers: Readers) -> None:
    problems = Problems()
    given = Given(rules="eu-open-a1", start="2026-06-02T12:00:00Z",
                  surveys=readers.given("osm"))  # fmt: skip
    assert start(tmp_path / "s", given, problems) is None
    assert [p.where for p in problems.found] == ["--osm"]


def test_new_lays_them_into_a_drawing_that_is_given(tmp_path: Path, readers: Readers) -> None:
    drawn = site(tmp_path / "old") / "ground.geojson"
    readers.found["lidar"] = lidar(tree("lidar", 1, 5.0, 20.0), strip("lidar"))
    problems = Problems()
    given = Given(rules="eu-open-a1", ground=drawn, start="2026-06-02T12:00:00Z",
                  surveys=readers.given("lidar"))  # fmt: skip
    begun = start(tmp_path / "s", given, problems, today=TODAY)
    assert begun is not None, problems.found
    begun.write(tmp_path / "s")
    assert {t.id for t in read(tmp_path / "s").site.obstacles.things} == {"oak", "lidar-tree-0001"}
