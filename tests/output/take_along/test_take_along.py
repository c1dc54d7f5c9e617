from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import io
import json
import zipfile
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import icalendar
import numpy as np
import pyogrio
import pytest
import shapely

from shotplan.judging.judged import Plan
from shotplan.output import words
from shotplan.output.take_along import hours, pieces, surroundings, take_along, track
from shotplan.scene.timeline import Slot
from tests.files import schemas
from tests.output.hostile import EVERY
from tests.output.made_plan import GROUND_M, made_plan

KML = {"k": "http://www.opengis.net/kml/2.2"}
GPX = {"g": "http://www.topografix.com/GPX/1/1"}
EVIL = f"=1+1 {EVERY}\r\nEND:VEVENT\r\nBEGIN:VEVENT\nSUMMARY:other;, $[name] ]]> \x00"


@cache
def plan() -> Plan:
    """The made plan with a day: two takes of the first shot, one of the second."""
    made = made_plan()
    start = made.outing.day.start

    def slot(what: Any, shot: int, take: int, from_min: int, to_min: int) -> Slot:
        begin, end = (start + dt.timedelta(minutes=m) for m in (from_min, to_min))
        return Slot(what, shot, take, begin, end, 1 if what == "take" else 0)

    slots = (
        slot("take", 0, 1, -1, 2), slot("reset", 0, 2, 2, 6), slot("take", 0, 2, 6, 9),
        slot("take", 1, 1, 15, 16), slot("last take-off", 0, 0, 70, 70),
        slot("last take-off", 1, 0, 72, 72), slot("light ends", -1, 0, 80, 80),
    )  # fmt: skip
    return dataclasses.replace(made, timeline=slots)


@cache
def files() -> dict[str, bytes]:
    return take_along.output(plan())


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, data in files().items():
        (tmp_path / name).write_bytes(data)
    return tmp_path


def features() -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(files()["plan.geojson"])["features"]
    return found


def of_kind(kind: str) -> list[dict[str, Any]]:
    return [f for f in features() if f["properties"]["kind"].startswith(kind)]


def table(path: Path, layer: str | None = None) -> tuple[dict[str, Any], Any]:
    """Columns by name, and shapes, as GDAL reads them."""
    meta, _, wkb, fields = pyogrio.raw.read(path, layer=layer)
    return dict(zip(meta["fields"], fields, strict=True)), shapely.from_wkb(wkb)


def test_the_files() -> None:
    assert list(files()) == [
        "plan.kml", "plan.kmz", "plan.geojson", "plan.gpx", "tracks.csv", "plan.ics"
    ]  # fmt: skip
    assert sum(map(len, files().values())) < 600_000


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert take_along.output(made_plan(hilly=True)) == take_along.output(made_plan(hilly=True))


@pytest.mark.parametrize("made", [plan, lambda: made_plan(hilly=True)])
def test_they_are_valid_against_their_schemas(made: Any) -> None:
    found = take_along.output(made())
    assert schemas.faults(schemas.kml(), ET.fromstring(found["plan.kml"])) == []
    assert schemas.faults(schemas.gpx(), ET.fromstring(found["plan.gpx"])) == []


def test_stretches_cover_each_flight_by_verdict() -> None:
    frame = plan().outing.site.frame
    assert len(of_kind("track-")) > len(plan().shots)
    for shot in plan().shots:
        name = shot.scene.shot.name
        parts = [f for f in of_kind("track-") if f["properties"]["shot"] == name]
        seen: set[int] = set()
        for part in parts:
            values = part["properties"]
            at = [round(10.0 * t) for t in values["time_s"]]  # a sample each 0.1 s
            # its last sample is the first of the next part
            assert {int(v) for v in shot.sample_verdict[at[:-1]]} == {
                ["go", "caution", "unknown", "no-go"].index(values["verdict"])
            }
            seen |= set(range(at[0], at[-1] + 1))
            xyz = shot.scene.track.xyz_m[0, at]
            back = frame.xy_m(np.array(part["geometry"]["coordinates"]))
            np.testing.assert_allclose(back, xyz[:, :2], atol=0.02)
            np.testing.assert_allclose(values["elevation_m"], xyz[:, 2], atol=5e-4)
            np.testing.assert_allclose(values["height_m"], shot.scene.height_m[0, at], atol=5e-4)
            above = shot.scene.height_above_launch_m[0, at]
            np.testing.assert_allclose(values["height_above_launch_m"], above, atol=5e-4)
        assert seen == set(range(len(shot.scene.track.ride.t_s)))


def test_kml_read_by_another_has_the_elevations(folder: Path) -> None:
    layers = pyogrio.list_layers(folder / "plan.kml")[:, 0].tolist()
    assert layers == [f.name for f in pieces.folders(plan())]
    column, shapes = table(folder / "plan.kml", layers[0])
    lines = [s for s in shapes if s.geom_type == "LineString" and s.has_z]
    assert column["altitudeMode"].tolist()[: len(lines)] == ["absolute"] * len(lines)
    told = [f for f in of_kind("track-") if f["properties"]["shot"] == "rim, from the sea side"]
    for line, feature in zip(lines, told, strict=True):
        read = shapely.get_coordinates(line, include_z=True)
        np.testing.assert_allclose(read[:, :2], feature["geometry"]["coordinates"], atol=1e-7)
        # 6 m over level ground at 84 m
        np.testing.assert_allclose(read[:, 2], GROUND_M + 6.0, atol=5e-4)


def test_gpx_read_by_another_has_elevations_and_moments(folder: Path) -> None:
    column, shapes = table(folder / "plan.gpx", "tracks")
    verdicts = {s.scene.shot.name: s.verdict.word for s in plan().shots}
    flown = [i for i, name in enumerate(column["name"]) if name.partition(": ")[2] in verdicts]
    assert len(flown) == len(plan().shots)  # a track a shot
    length = {shot.scene.shot.name: 0.0 for shot in plan().shots}
    frame = plan().outing.site.frame
    for i in flown:
        word, _, rest = column["name"][i].partition(": ")
        assert word[2:] == verdicts[rest]
        for line in shapes[i].geoms:
            xy = frame.xy_m(shapely.get_coordinates(line))
            length[rest] += float(np.linalg.norm(np.diff(xy, axis=0), axis=1).sum())
    for shot in plan().shots:  # straight rides: 300 m and 90 m
        whole = shot.ride_to_m - shot.ride_from_m
        assert length[shot.scene.shot.name] == pytest.approx(whole, abs=0.3)
    column, _ = table(folder / "plan.gpx", "track_points")
    points = column["track_fid"] == flown[0]
    assert set(column["ele"][points]) == {GROUND_M + 6.0}
    first = plan().shots[0].scene.moments[0].astimezone(dt.UTC).replace(tzinfo=None)
    assert min(column["time"][points]).astype(dt.datetime) >= first


def test_tightest_places_say_everything() -> None:
    frame = plan().outing.site.frame
    pins = {(f["properties"]["shot"], f["properties"]["check"]): f for f in of_kind("pin-")}
    for i, shot in enumerate(plan().shots):
        shown = words.pins(shot, words.letter(i))
        for found in shot.findings:
            pin = pins.get((shot.scene.shot.name, found.check))
            assert (pin is not None) == (found.check in shown or found.check == "clearance")
            if pin is None:
                continue
            assert found.at is not None
            values = pin["properties"]
            back = frame.xy_m(np.array(pin["geometry"]["coordinates"]))
            np.testing.assert_allclose(back, found.at.xyz_m[:2], atol=0.02)
            if found.told.short:  # a caution that is a remark has no number of the limit's
                assert values["margin"] is None
            else:
                assert values["margin"] == pytest.approx(found.margin, abs=5e-4)
            assert values["height_above_launch_m"] == pytest.approx(
                found.at.height_above_launch_m, abs=5e-4
            )
            assert f"{found.verdict.word} (computed, not a permission)" in values["words"]
            assert "your display reads" in values["words"]
            assert found.reason in values["words"]


def test_every_word_of_verdict_is_said_to_be_computed() -> None:
    for folder in pieces.folders(plan())[:2]:
        assert pieces.COMPUTED in folder.words
        flown = [t for t in folder.things if t.kind.startswith(("track-", "pin-"))]
        assert flown
        assert all(pieces.COMPUTED in t.words for t in flown)
    told = take_along.about(plan())
    assert pieces.COMPUTED in told
    for event in hours.events(plan()):
        assert pieces.COMPUTED in event.words


def test_places_and_what_stands_around() -> None:
    site = plan().outing.site
    (launch,) = of_kind("launch")
    assert "Sem" in launch["properties"]["words"]
    back = site.frame.xy_m(np.array(launch["geometry"]["coordinates"]))
    np.testing.assert_allclose(back, site.places["launch"].xyz_m[:2], atol=0.02)
    assert len(of_kind("boundary")) == len(of_kind("keep-out")) == len(of_kind("wire")) == 1
    assert len(of_kind("tree")) == 9
    (wire,) = of_kind("wire")
    assert wire["properties"]["above_ground_m"] is None
    assert "height not known" in wire["properties"]["words"]
    (zone,) = of_kind("keep-out")
    assert zone["properties"]["words"] == "from the ground, up to 60.0 m above ground\nbirds"


def test_many_obstacles_are_cut_to_the_nearest_and_it_says_so() -> None:
    many = made_plan(trees=400)
    folder = surroundings.folders(many)[-1]
    assert len(folder.things) == surroundings.MOST_THINGS
    assert "Left out are 204 more" in folder.words
    held = {thing.values["id"] for thing in folder.things}
    assert "tree-200" in held  # the nearest of all


def test_the_maps_say_which_heights_they_have() -> None:
    note = json.loads(files()["plan.geojson"])["note"]
    assert note == take_along.about(plan())
    assert pieces.HEIGHTS in note
    root = ET.fromstring(files()["plan.gpx"])
    assert pieces.HEIGHTS in root.findtext("g:metadata/g:desc", "", GPX)
    document = ET.fromstring(files()["plan.kml"]).findtext("k:Document/k:description", "", KML)
    assert "metres above the terrain" in document


def test_the_tracks_are_those_of_the_track_option() -> None:
    ours = list(csv.DictReader(io.StringIO(files()["tracks.csv"].decode("utf-8"))))
    assert ours == list(csv.DictReader(io.StringIO(track.text(plan()))))


def events(data: bytes) -> dict[str, Any]:
    calendar = icalendar.Calendar.from_ical(data)
    return {str(e["SUMMARY"]): e for e in calendar.walk("VEVENT")}


def test_the_calendar_has_the_windows_and_the_last_take_offs() -> None:
    start = plan().outing.day.start
    found = events(files()["plan.ics"])
    verdict = plan().shots[0].verdict.word
    window = found[f"A {verdict}: rim, from the sea side"]
    assert window.decoded("DTSTART") == start - dt.timedelta(minutes=1)  # first take-off
    assert window.decoded("DTEND") == start + dt.timedelta(minutes=9)  # last landing
    assert "2 takes" in window["DESCRIPTION"]
    (last,) = [e for title, e in found.items() if title.startswith("last take-off")]
    assert last.decoded("DTSTART") == start + dt.timedelta(minutes=70)  # the earliest of all
    local = (start + dt.timedelta(minutes=72)).astimezone(plan().outing.day.timezone)
    assert f"B (from the land side) alone: until {local:%H:%M}" in last["DESCRIPTION"]
    light = found["light to fly in"]
    assert light.decoded("DTSTART") < start < light.decoded("DTEND")
    assert len(found) == 4
    assert len({e["UID"] for e in found.values()}) == 4
    assert {e.decoded("DTSTAMP") for e in found.values()} == {start}


def test_shots_that_share_the_minute_are_not_told_apart() -> None:
    at = plan().outing.day.start + dt.timedelta(minutes=70)
    slots = (*plan().timeline[:1], *(Slot("last take-off", i, 0, at, at, 0) for i in (0, 1)))
    found = events(take_along.output(dataclasses.replace(plan(), timeline=slots))["plan.ics"])
    (last,) = [e for title, e in found.items() if title.startswith("last take-off")]
    assert "alone" not in last["DESCRIPTION"]


def test_no_part_of_a_flight_has_no_length() -> None:
    """Not where the last sample has a word of its own, and not where it hangs in the air."""
    (shot, other) = plan().shots
    codes = np.zeros(len(shot.sample_verdict), dtype=shot.sample_verdict.dtype)
    codes[-1] = 3
    alone = dataclasses.replace(shot, sample_verdict=codes)
    scene = other.scene
    still = np.array(scene.track.xyz_m)
    still[:] = still[:, :1]
    track_ = dataclasses.replace(scene.track, xyz_m=still)
    hangs = dataclasses.replace(other, scene=dataclasses.replace(scene, track=track_))
    made = dataclasses.replace(plan(), shots=(alone, hangs))
    first, second = pieces.folders(made)[:2]
    lines = [t for t in first.things if t.kind.startswith("track-")]
    assert [t.kind for t in lines] == ["track-go", "track-no-go"]
    frame = plan().outing.site.frame
    for thing in lines:
        way = np.diff(frame.xy_m(thing.parts[0]), axis=0)
        assert np.hypot(way[:, 0], way[:, 1]).sum() > 0.1
        assert len(thing.moments) == len(thing.parts[0])
    hung = [t for t in second.things if t.kind.startswith("track-")]
    assert {t.shape for t in hung} == {"point"}
    assert all("hangs here" in t.name for t in hung)
    found = take_along.output(made)
    assert schemas.faults(schemas.kml(), ET.fromstring(found["plan.kml"])) == []
    assert schemas.faults(schemas.gpx(), ET.fromstring(found["plan.gpx"])) == []


def test_points_have_symbols_and_icons(folder: Path) -> None:
    root = ET.fromstring(files()["plan.gpx"])
    told = {w.findtext("g:type", "", GPX): w.findtext("g:sym", "", GPX)
            for w in root.iterfind("g:wpt", GPX)}  # fmt: skip
    assert told["launch"] == "Heliport"
    assert all(told.values())
    with zipfile.ZipFile(folder / "plan.kmz") as packed:
        names = packed.namelist()
        document = ET.fromstring(packed.read("doc.kml"))
        assert all(packed.read(n).startswith(b"\x89PNG") for n in names if n != "doc.kml")
    assert schemas.faults(schemas.kml(), document) == []
    hrefs = [e.text for e in document.iterfind(".//k:href", KML)]
    assert hrefs
    assert set(hrefs) <= set(names)  # nothing is fetched
    points = {f["properties"]["kind"] for f in features() if f["geometry"]["type"] == "Point"}
    assert points <= {Path(n).stem for n in names} | {"people", "wildlife"}
    layers = pyogrio.list_layers(folder / "plan.kmz")[:, 0].tolist()
    assert layers == [f.name for f in pieces.folders(plan())]


def test_names_on_a_map_are_words() -> None:
    for feature in of_kind("pin-"):
        name, check = feature["properties"]["name"], feature["properties"]["check"]
        assert check not in name.partition(": ")[0]
        if feature["properties"]["verdict"] not in ("go", "unknown"):
            assert ": " in name


def test_a_plan_without_a_timeline_has_its_windows_all_the_same() -> None:
    made = made_plan()
    found = events(take_along.output(made)["plan.ics"])
    (window,) = [e for title, e in found.items() if title.startswith("B ")]
    assert window.decoded("DTEND") - window.decoded("DTSTART") == dt.timedelta(seconds=15)


def test_hostile_names_stay_text(tmp_path: Path) -> None:
    made = made_plan(site_name=EVIL, shot_name=EVIL, tree_name=EVIL)
    made = dataclasses.replace(made, timeline=plan().timeline)
    found = take_along.output(made)
    assert schemas.faults(schemas.kml(), ET.fromstring(found["plan.kml"])) == []
    assert schemas.faults(schemas.gpx(), ET.fromstring(found["plan.gpx"])) == []
    for name in ("plan.kml", "plan.gpx"):
        assert b"<img" not in found[name]
        assert b"<script" not in found[name]
    told = words.plain(EVIL)
    for folder in ET.fromstring(found["plan.kml"]).iterfind(".//k:Folder", KML):
        assert "<script" not in folder.findtext("k:description", "", KML)
    names = [f["properties"]["name"] for f in json.loads(found["plan.geojson"])["features"]]
    assert told in names
    assert len(events(found["plan.ics"])) == len(events(files()["plan.ics"]))
    assert all(e["LOCATION"] == told for e in events(found["plan.ics"]).values())
    rows = list(csv.DictReader(io.StringIO(found["tracks.csv"].decode("utf-8"), newline="")))
    assert len(rows) == sum(len(s.scene.track.ride.t_s) for s in made.shots)
    assert rows[0]["shot"] == "'" + told
