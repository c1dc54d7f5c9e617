"""Recordings in every format: the same ride in each, and what is refused."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np
import pytest

from shotplan.errors import Problems
from shotplan.files.fixes import Fixes
from shotplan.files.recording import READERS, read_recording
from tests.files.made_fit import fit

AT_S = 1_781_986_200.0  # 2026-06-20T20:10:00Z by `date -u -d ... +%s`
MADE = ((11.0, 47.0, 600.0, AT_S), (11.0001, 47.0001, 601.0, AT_S + 1.0))
ISO = ("2026-06-20T20:10:00Z", "2026-06-20T22:10:01+02:00")


def read(path: Path) -> tuple[Fixes | None, list[str]]:
    problems = Problems()
    fixes = read_recording(path, path.name, problems)
    return fixes, [str(p) for p in problems.found]


def said_of(folder: Path, name: str, data: str | bytes) -> list[str]:
    """The problems of a file that is refused."""
    (folder / name).write_bytes(data.encode() if isinstance(data, str) else data)
    fixes, said = read(folder / name)
    assert fixes is None
    assert said
    return said


def fixes_in(folder: Path, name: str, data: str | bytes) -> Fixes:
    (folder / name).write_bytes(data.encode() if isinstance(data, str) else data)
    fixes, said = read(folder / name)
    assert said == []
    assert fixes is not None
    return fixes


def tcx(*points: str) -> str:
    return (
        '<?xml version="1.0"?><TrainingCenterDatabase xmlns="http://www.garmin.com/xmlschemas/'
        'TrainingCenterDatabase/v2"><Activities><Activity Sport="Biking"><Lap><Track>'
        f"{''.join(points)}</Track></Lap></Activity></Activities></TrainingCenterDatabase>"
    )


def trackpoint(lon: float, lat: float, elevation: float, when: str) -> str:
    return (
        f"<Trackpoint><Time>{when}</Time><Position><LatitudeDegrees>{lat}</LatitudeDegrees>"
        f"<LongitudeDegrees>{lon}</LongitudeDegrees></Position>"
        f"<AltitudeMeters>{elevation}</AltitudeMeters></Trackpoint>"
    )


def kml(inside: str) -> str:
    return (
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2" '
        f'xmlns:gx="http://www.google.com/kml/ext/2.2"><Document>{inside}</Document></kml>'
    )


GX_TRACK = kml(
    "<Placemark><name>rim</name><gx:Track><altitudeMode>absolute</altitudeMode>"
    + "".join(f"<when>{t}</when>" for t in ISO)
    + "".join(f"<gx:coord>{x} {y} {z}</gx:coord>" for x, y, z, _ in MADE)
    + "</gx:Track></Placemark>"
)
CSV = "Date;Time;Position Long;Latitude [deg];Alt (m)\n" + "\n".join(
    f"2026-06-20;20:10:0{k};{str(x).replace('.', ',')};{str(y).replace('.', ',')};{z}"
    for k, (x, y, z, _) in enumerate(MADE)
)
IGC = (
    "AXXX\r\nHFDTEDATE:200626,01\r\nB2010004700000N01100000EA0000000600\r\n"
    "B2010014700006N01100006EA0000000601\r\n"
)


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("r.fit", fit(MADE)),
        ("big.fit", fit(MADE, order=">")),
        ("R.TCX", tcx(*(trackpoint(*f[:3], t) for f, t in zip(MADE, ISO, strict=True)))),
        ("r.kml", GX_TRACK),
        ("r.csv", CSV),
        ("r.igc", IGC),
    ],
)
def test_the_same_two_fixes_in_every_format(tmp_path: Path, name: str, data: str | bytes) -> None:
    fixes = fixes_in(tmp_path, name, data)
    np.testing.assert_allclose(fixes.lonlat_deg, [f[:2] for f in MADE], atol=1e-7)
    np.testing.assert_allclose(fixes.elevation_m, [600.0, 601.0], atol=1e-9)
    assert fixes.time_s.tolist() == [AT_S, AT_S + 1.0]


@pytest.mark.real
def test_one_ride_in_three_formats(real: Path) -> None:
    gpx, tcx_, fit_ = (
        fixes
        for kind in ("gpx", "tcx", "fit")
        if (fixes := read(real / "track" / f"ardennes_ride.{kind}")[0])
    )
    for other in (tcx_, fit_):
        # a semicircle is 8.4e-8 degrees
        np.testing.assert_allclose(other.lonlat_deg, gpx.lonlat_deg, atol=5e-8)
        np.testing.assert_allclose(other.elevation_m, gpx.elevation_m, atol=0.01)
        assert other.time_s.tolist() == gpx.time_s.tolist()
    text = (real / "track" / "ardennes_ride.tcx").read_text("utf-8")
    assert len(tcx_.lon_deg) == text.count("<Trackpoint>") == 8357
    written = re.findall(r'<trkpt lat="([^"]+)"', gpx_text(real))
    assert [float(lat) for lat in written] == gpx.lat_deg.tolist()


def gpx_text(real: Path) -> str:
    return (real / "track" / "ardennes_ride.gpx").read_text("utf-8")


@pytest.mark.real
def test_munich_by_both(real: Path) -> None:
    (by_fit, _), (by_gpx, _) = (read(real / "track" / f"munich_ride.{k}") for k in ("fit", "gpx"))
    assert by_fit is not None
    assert by_gpx is not None
    np.testing.assert_allclose(by_fit.lonlat_deg, by_gpx.lonlat_deg, atol=1e-8)
    assert by_fit.time_s.tolist() == by_gpx.time_s.tolist()


@pytest.mark.real
def test_a_paraglider(real: Path) -> None:
    path = real / "flown" / "paraglider_1hz.igc"
    fixes, _ = read(path)
    assert fixes is not None
    lines = [x for x in path.read_text("ascii").splitlines() if x.startswith("B")]
    assert len(fixes.lon_deg) == len(lines)
    assert np.ptp(fixes.time_s) == pytest.approx(22 * 60, abs=30)
    # the last line by eye of a regular expression of its own: degrees and minutes
    got = re.fullmatch(r"B\d{6}(\d\d)(\d\d)(\d{3})N(\d{3})(\d\d)(\d{3})EA\d{5}(\d{5})", lines[-1])
    assert got is not None
    d, m, t, e, n, u, up = (int(v) for v in got.groups())
    assert fixes.lat_deg[-1] == pytest.approx(d + (m + t / 1000) / 60)
    assert fixes.lon_deg[-1] == pytest.approx(e + (n + u / 1000) / 60)
    assert fixes.elevation_m[-1] == up


@pytest.mark.real
def test_a_race_loop_without_times(real: Path) -> None:
    path = real / "track" / "obiszow_mtb_xcm.csv"
    fixes, _ = read(path)
    assert fixes is not None
    with path.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert fixes.lonlat_deg.tolist() == [[float(r["lon"]), float(r["lat"])] for r in rows]
    assert np.isnan(fixes.time_s).all()


def test_an_igc_past_midnight(tmp_path: Path) -> None:
    text = IGC.replace("B201000", "B235959").replace("B201001", "B000000")
    assert np.diff(fixes_in(tmp_path, "r.igc", text).time_s) == [1.0]
    undated = fixes_in(tmp_path, "r.igc", IGC.replace("HFDTE", "HXXXX"))
    assert np.isnan(undated.time_s).all()
    assert undated.remarks == ("it says no date (HFDTE): its times count as missing",)


@pytest.mark.parametrize(
    "when", [f"{AT_S:.0f}", f"{AT_S * 1e3:.0f}", f"{AT_S * 1e6:.0f}", "2026-06-20 20:10:00"]
)
def test_times_of_a_csv(tmp_path: Path, when: str) -> None:
    fixes = fixes_in(tmp_path, "r.csv", f"t,x,y,alt_ft\n{when},11,47,100\nsoon,11,48,\n")
    assert fixes.time_s[0] == AT_S
    assert fixes.elevation_m[0] == pytest.approx(30.48)
    assert np.isnan(fixes.elevation_m[1])
    assert '1 of its times cannot be read, for example "soon"' in fixes.remarks[-1]


def test_a_line_and_dated_points_in_kml(tmp_path: Path) -> None:
    line = "<LineString><coordinates>11,47,600 11.1,47.1,601</coordinates></LineString>"
    fixes = fixes_in(tmp_path, "r.kml", kml(f"<Placemark>{line}</Placemark>"))
    assert np.isnan(fixes.time_s).all()
    assert np.isnan(fixes.elevation_m).all()  # clamped to the ground: its heights are not meant
    span = f"<TimeSpan><begin>{ISO[0]}</begin><end>{ISO[1]}</end></TimeSpan>"
    fixes = fixes_in(tmp_path, "r.kml", kml(f"<Placemark>{span}{line}</Placemark>"))
    assert fixes.time_s.tolist() == [AT_S, AT_S + 1.0]
    points = "".join(
        f"<Placemark><TimeStamp><when>{t}</when></TimeStamp><Point><coordinates>{x},{y}"
        "</coordinates></Point></Placemark>"
        for (x, y, *_), t in zip(MADE, ISO, strict=True)
    )
    fixes = fixes_in(tmp_path, "r.kml", kml(points + f"<Placemark>{line}</Placemark>"))
    assert fixes.lon_deg.tolist() == [11.0, 11.0001]
    assert fixes.time_s.tolist() == [AT_S, AT_S + 1.0]


def test_a_fix_without_a_place_is_left_out(tmp_path: Path) -> None:
    fixes = fixes_in(tmp_path, "r.fit", fit([MADE[0], (None, None, 600.0, AT_S), MADE[1]]))
    assert fixes.time_s.tolist() == [AT_S, AT_S + 1.0]


BAD = fit(MADE)
REFUSED = [
    ("r.fit", fit(MADE, says=">"), "latitude is 149"),
    ("r.fit", fit(MADE, order=">", says="<"), "latitude is"),
    ("r.fit", BAD[:-7], "broken or cut short"),
    ("r.fit", BAD[:-9] + b"\x00" + BAD[-8:], "broken or cut short"),
    ("r.fit", b"\x0e\x20hello", "is not FIT"),
    ("r.fit", GX_TRACK, "is named .fit and holds KML"),
    ("r.gpx", BAD, "is named .gpx and holds FIT"),
    ("r.kml", "<!DOCTYPE html><html><body>sign in</body></html>", "web page, not a KML"),
    ("r.kml", "<!DOCTYPE kml [<!ENTITY a 'b'>]>" + GX_TRACK, "DOCTYPE"),
    ("r.tcx", '<?xml version="1.0"?><!DOCTYPE x><TrainingCenterDatabase/>', "DOCTYPE"),
    ("r.tcx", tcx("<Trackpoint>"), "is not TCX"),
    ("r.tcx", tcx(), "got 0 point"),
    ("r.tcx", tcx(trackpoint(11, 91, 0, ISO[0]) * 2), "latitude is 91"),
    ("r.kml", GX_TRACK.replace(f"<when>{ISO[0]}</when>", ""), "another number of times"),
    ("r.kml", kml("<Placemark/>"), "got 0 point"),
    ("r.kml", kml("<Placemark><LineString><coordinates>x,y 1,2</coordinates></LineString>"
                  "</Placemark>"), "latitude is nan"),
    ("r.kmz", b"PK\x03\x04", "unpack it"),
    ("r.kml", b"PK\x03\x04", "holds ZIP"),
    ("r.txt", CSV, "ends in .txt; wanted a recording: .gpx, .fit"),
    ("r", CSV, "ends in nothing"),
    ("r.igc", "hello", "is not IGC"),
    ("r.igc", "AXXX\nB1", "got 0 point"),
    ("r.csv", "speed,power\n1,2\n", "has the columns speed, power; wanted one called lon"),
    ("r.csv", "11.0,47.0\n11.1,47.1\n", "has no names over its columns"),
    ("r.csv", "lon,lat\n11,47\n11\n", "got 1 cells; wanted 2"),
    ("r.csv", "lon,lat\n11,47\n11,north\n", "is not a number"),
    ("r.csv", "x,y\n3456789.0,5412345.0\n3456790.0,5412346.0\n", "latitude is 5.41234e"),
    ("r.csv", "<html></html>", "begins with <"),
    ("r.csv", "hello\nworld\n", "wanted a first line with the columns' names"),
    ("r.csv", "lon,lat\n1,nan\ninf,2\n", "is not a number"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "data", "match"), REFUSED, ids=range(len(REFUSED)))
def test_what_is_refused(tmp_path: Path, name: str, data: str | bytes, match: str) -> None:
    said = said_of(tmp_path, name, data)
    assert len(said) == 1
    assert re.search(match, said[0]), said


@pytest.mark.parametrize("suffix", READERS)
def test_the_size_is_looked_at_before_the_file(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"r{suffix}"
    with path.open("wb") as file:
        file.truncate(300_000_000)  # sparse: it takes no room
    _, said = read(path)
    assert re.search(r"got a file of 300\.0 MB; wanted at most \d\d MB", said[0])
    path.write_bytes(b"")
    assert "the file is empty" in read(path)[1][0]
    path.unlink()
    assert "there is no such file" in read(path)[1][0]


@pytest.mark.parametrize("name", ["r.fit", "r.tcx", "r.kml", "r.csv", "r.igc"])
def test_whatever_is_in_it_there_is_a_message_or_fixes(tmp_path: Path, name: str) -> None:
    """Bytes changed, cut and doubled at random: never another error, never fixes off the earth."""
    whole = {
        "r.fit": fit(MADE),
        "r.tcx": tcx(*(trackpoint(*f[:3], t) for f, t in zip(MADE, ISO, strict=True))).encode(),
        "r.kml": GX_TRACK.encode(),
        "r.csv": CSV.encode(),
        "r.igc": IGC.encode(),
    }[name]
    rng = np.random.default_rng(13)
    refused = 0
    for _ in range(120):
        data = bytearray(whole)
        for at in rng.integers(0, len(data), int(rng.integers(1, 4))):
            data[at] = int(rng.integers(0, 256))
        first, last = sorted(rng.integers(0, len(data), 2))
        data = {0: data, 1: data[:last], 2: data + data[first:last]}[int(rng.integers(0, 3))]
        (tmp_path / name).write_bytes(bytes(data))
        fixes, said = read(tmp_path / name)
        assert (fixes is None) == bool(said)
        refused += fixes is None
        if fixes is not None:
            assert (np.abs(fixes.lat_deg) <= 90.0).all()
            assert np.isfinite(fixes.lonlat_deg).all()
    assert refused > 20
