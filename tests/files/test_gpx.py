from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from shotplan.errors import Problems
from shotplan.files.fixes import Fixes
from shotplan.files.gpx import read_gpx

HEAD = '<?xml version="1.0"?>\n<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'


def point(lat: object = 47.0, lon: object = 11.0, inside: str = "", tag: str = "trkpt") -> str:
    return f'<{tag} lat="{lat}" lon="{lon}">{inside}</{tag}>'


def track(*points: str, name: str = "") -> str:
    title = f"<name>{name}</name>" if name else ""
    return f"{HEAD}<trk>{title}<trkseg>{''.join(points)}</trkseg></trk></gpx>"


def read(folder: Path, text: str | bytes) -> tuple[Fixes | None, list[str]]:
    data = text.encode() if isinstance(text, str) else text
    (folder / "r.gpx").write_bytes(data)
    problems = Problems()
    fixes = read_gpx(folder / "r.gpx", "r.gpx", problems)
    return fixes, [str(p) for p in problems.found]


def test_a_track(tmp_path: Path) -> None:
    first = point(47.1, 11.2, "<ele>1800.5</ele><time>2026-06-20T20:10:00Z</time>")
    second = point(47.2, 11.3, "<time>2026-06-20T22:10:02.5+02:00</time>")
    fixes, said = read(tmp_path, track(first, second, name="rim"))
    assert said == []
    assert fixes is not None
    assert fixes.lat_deg.tolist() == [47.1, 47.2]
    assert fixes.lon_deg.tolist() == [11.2, 11.3]
    assert fixes.elevation_m[0] == 1800.5
    assert np.isnan(fixes.elevation_m[1])
    # 2026-06-20T20:10:00Z by `date -u -d ... +%s`
    assert fixes.time_s.tolist() == [1781986200.0, 1781986202.5]
    assert fixes.segment.tolist() == [0, 0]
    assert (fixes.name, fixes.remarks) == ("rim", ())


def test_segments_and_tracks_are_joined_and_said(tmp_path: Path) -> None:
    seg = f"<trkseg>{point()}{point(47.1)}</trkseg>"
    fixes, _ = read(tmp_path, f"{HEAD}<trk>{seg}<trkseg/>{seg}</trk><trk>{seg}</trk></gpx>")
    assert fixes is not None
    assert fixes.segment.tolist() == [0, 0, 1, 1, 2, 2]
    assert fixes.remarks == ("3 track segments joined in the order of the file",)


def test_a_route_where_there_is_no_track(tmp_path: Path) -> None:
    body = point(tag="rtept") + point(47.1, tag="rtept")
    fixes, said = read(tmp_path, f"{HEAD}<rte>{body}</rte></gpx>")
    assert said == []
    assert fixes is not None
    assert len(fixes.lat_deg) == 2
    assert np.isnan(fixes.time_s).all()
    assert fixes.remarks == ("it holds a route, not a recorded track",)


def test_odd_times_are_said(tmp_path: Path) -> None:
    times = [
        "1901-12-13T20:45:52Z",
        "yesterday",
        "2026-06-20T20:10:00",
        "2026-06-20T20:10:01+99:00",
    ]
    fixes, said = read(tmp_path, track(*(point(inside=f"<time>{t}</time>") for t in times)))
    assert said == []
    assert fixes is not None
    assert np.isnan(fixes.time_s).tolist() == [False, True, False, True]
    assert fixes.time_s[0] < 0.0
    assert fixes.remarks[0] == "its times say no zone and are taken as UTC"
    assert fixes.remarks[1].startswith('1 of its times cannot be read, for example "yesterday"')
    assert fixes.remarks[2].startswith("1 of its 2 times have dates before 1990")


def test_elevations_no_ground_has_are_missing(tmp_path: Path) -> None:
    rows = [point(inside=f"<ele>{e}</ele>") for e in ("-32768", "1e999", "nan", "12")]
    fixes, _ = read(tmp_path, track(*rows))
    assert fixes is not None
    assert np.isnan(fixes.elevation_m).tolist() == [True, True, True, False]
    assert "2 of its elevations cannot be right and count as missing" in fixes.remarks


def test_names_are_made_printable(tmp_path: Path) -> None:
    fixes, _ = read(tmp_path, track(point(), point(47.1), name="a&#x202e;b"))
    assert fixes is not None
    assert fixes.name == r"a\u202eb"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "r.gpx: the file is empty"),
        ("<!DOCTYPE html><html></html>", "r.gpx: is a web page, not a GPX file"),
        ("<html><body>log in</body></html>", "r.gpx: is a web page, not a GPX file"),
        (
            '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaa">]><gpx/>',
            "r.gpx: has a DOCTYPE or ENTITY",
        ),
        (f"{HEAD}<trk><!ENTITY a 'b'></trk></gpx>", "r.gpx: has a DOCTYPE or ENTITY"),
        ("<kml></kml>", "r.gpx: is not GPX: it does not begin with <gpx"),
        ("lat,lon\n1,2\n", "r.gpx: is not GPX: it does not begin with <gpx"),
        (HEAD, "r.gpx: is not GPX: Error parsing XML"),
        (f"{HEAD}</gpx>", "r.gpx: got 0 point(s) in tracks and routes; wanted at least 2"),
        (track(point()), "r.gpx: got 1 point(s) in tracks and routes; wanted at least 2"),
        (track(point(), point(146)), "r.gpx: point 2: latitude is 146; wanted -90 to 90"),
        (track(point(lon=-181), point()), "r.gpx: point 1: longitude is -181; wanted -180 to 180"),
        (track(point("nan"), point()), "r.gpx: point 1: latitude is nan; wanted -90 to 90"),
        (track(point("x"), point()), "r.gpx: is not GPX"),
        (track('<trkpt lat="1"/>', point()), "r.gpx: is not GPX"),
        (f"{HEAD}<trk>".encode() + b"\xff", "r.gpx: is not UTF-8 text"),
        (track(point(), point()).encode("utf-16"), "r.gpx: is not UTF-8 text"),
    ],
)
def test_what_is_wrong_is_said(tmp_path: Path, text: str | bytes, message: str) -> None:
    fixes, said = read(tmp_path, text)
    assert fixes is None
    assert len(said) == 1
    assert said[0].startswith(message)


def test_missing_and_oversized(tmp_path: Path) -> None:
    problems = Problems()
    assert read_gpx(tmp_path / "no.gpx", "no.gpx", problems) is None
    with (tmp_path / "big.gpx").open("wb") as file:
        file.truncate(50_000_001)
    assert read_gpx(tmp_path / "big.gpx", "big.gpx", problems) is None
    assert [str(p)[:40] for p in problems.found] == [
        f"no.gpx: there is no such file: {tmp_path}"[:40],
        "big.gpx: got a file of 50.0 MB; wanted at most"[:40],
    ]


@pytest.mark.real
@pytest.mark.parametrize(
    ("name", "points", "segments", "remark"),
    [  # counts from shared/real/SOURCES.md
        ("lyon_offroad_ride.gpx", 5120, 1, ""),
        ("no_times.gpx", 274, 1, ""),
        ("ardennes_ride.gpx", 8357, 1, ""),
        ("munich_ride.gpx", 1286, 8, "8 track segments joined"),
        ("Mojstrovka.gpx", 184, 1, "184 of its 184 times have dates before 1990"),
    ],
)
def test_real_rides(real: Path, name: str, points: int, segments: int, remark: str) -> None:
    problems = Problems()
    fixes = read_gpx(real / "track" / name, name, problems)
    assert fixes is not None
    assert len(problems) == 0
    assert len(fixes.lon_deg) == points
    assert int(fixes.segment.max()) + 1 == segments
    assert " ".join(fixes.remarks).startswith(remark)
    assert np.isnan(fixes.time_s).all() == (name == "no_times.gpx")
