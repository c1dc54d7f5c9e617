"""`[ride] path` as a list: several recordings of one ride in a site folder."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from shotplan.errors import BadInput
from shotplan.model.arrays import Array
from shotplan.outing import Outing, read
from tests.files.made_fit import fit
from tests.worlds import FRAME, gpx_text, straight, write_site

DAY_S = 86_400.0
NOON_S = 1_780_401_600.0  # 2026-06-02T12:00Z by `date -u -d ... +%s`


def ridden(east_m: float, speed_m_s: float = 5.0) -> tuple[Array, Array]:
    """200 m north, so far east of the drawn line, a fix a second."""
    t = np.arange(0.0, 200.0 / speed_m_s + 0.1)
    return np.column_stack([np.full(len(t), east_m), speed_m_s * t]) + straight(0.0)[0], t


def three(folder: Path, *names: str) -> Path:
    """GPX, FIT and CSV on three days, 3 m left, in the middle, 3 m right; 5, 6 and 4 m/s."""
    paths = list(names) or ["a.gpx", "b.fit", "c.csv"]
    write_site(folder, ride=gpx_text(*ridden(0.0)), site={"ride": {"path": paths}},
               without=("line",))  # fmt: skip
    (folder / "a.gpx").write_text(gpx_text(*ridden(-3.0)), encoding="utf-8")
    xy, t = ridden(0.0, 6.0)
    fixes = [(*FRAME.lonlat_deg(p[None])[0], 30.0, NOON_S + DAY_S + s)
             for p, s in zip(xy, t, strict=True)]  # fmt: skip
    (folder / "b.fit").write_bytes(fit(fixes))
    xy, t = ridden(3.0, 4.0)
    rows = [f"{NOON_S + 2 * DAY_S + s:.0f},{x:.8f},{y:.8f}"
            for (x, y), s in zip(FRAME.lonlat_deg(xy), t, strict=True)]  # fmt: skip
    (folder / "c.csv").write_text("\n".join(["time,lng,lat", *rows]), encoding="utf-8")
    return folder


def problems(folder: Path) -> str:
    with pytest.raises(BadInput) as refused:
        read(folder)
    return str(refused.value)


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Outing:
    return read(three(tmp_path_factory.mktemp("three")))


def test_the_line_is_their_mean_with_the_middle_ones_speed(outing: Outing) -> None:
    own = outing.ride.xyz_m[0, :, :2]
    lonlat = FRAME.lonlat_deg(straight(0.0))
    wanted = outing.site.frame.xy_m(lonlat)  # in the middle of the three
    assert np.abs(own[:, 0] - wanted[0, 0]).max() < 0.1
    assert outing.ride.speed_m_s[0, 20:-20].mean() == pytest.approx(5.0, abs=0.1)
    assert outing.ride_source == "a.gpx and 2 more"
    assert {"a.gpx", "b.fit", "c.csv"} <= set(outing.inputs)


def test_what_it_is_is_said(outing: Outing) -> None:
    said = "\n".join(outing.repairs)
    assert "the mean of 3 recordings (all counted), which lie 3.0 m apart" in said
    # hypot(0.4 σ, own / √3); own 3 m by the spread in the open, √(6² − 2.4²) under leaves
    open_m = np.hypot(1.0, 3.0 / np.sqrt(3.0))
    leaves_m = np.hypot(2.4, np.sqrt(36.0 - 2.4**2) / np.sqrt(3.0))
    assert f"right to {open_m:.1f} m in the open and {leaves_m:.1f} m under leaves" in said
    assert "of a.gpx, whose speeds it has" in said


def test_a_copy_counts_once(tmp_path: Path) -> None:
    three(tmp_path, "a.gpx", "copy.gpx")
    (tmp_path / "copy.gpx").write_bytes((tmp_path / "a.gpx").read_bytes())
    said = "\n".join(read(tmp_path).repairs)
    assert "the mean of 2 recordings (of which 1 count for themselves)" in said
    assert "right to 2.5 m in the open and 6.0 m under leaves" in said


def test_one_that_jumps_or_never_ends_is_refused_before_it_is_laid_along(tmp_path: Path) -> None:
    three(tmp_path)
    rows = [f"{NOON_S + k:.0f},{14.0 + (1.0 if k > 20 else 0.0) + k * 5e-5},46.0"
            for k in range(40)]  # fmt: skip
    (tmp_path / "c.csv").write_text("\n".join(["time,lng,lat", *rows]))
    assert "not a ride" in problems(tmp_path)
    rows = [f"{NOON_S + 200 * k:.0f},{14.0 + k * 0.05},46.0" for k in range(60)]
    (tmp_path / "c.csv").write_text("\n".join(["time,lng,lat", *rows]))
    said = problems(tmp_path)
    assert "wanted at most 200 km" in said or "check that both belong" in said


def test_what_is_wrong_with_a_list_is_said(tmp_path: Path) -> None:
    three(tmp_path, "a.gpx", "b.fti", "c.csv")
    said = problems(tmp_path)
    assert 'path is "b.fti": no such file' in said
    assert 'did you mean "b.fit"?' in said
    assert 'names "a.gpx" twice' in problems(three(tmp_path, "a.gpx", "a.gpx"))
    three(tmp_path)
    (tmp_path / "c.csv").write_text("time,lng,lat\n" + "\n".join(
        f"{NOON_S + k:.0f},{14.02 + k * 1e-5},{46.0}" for k in range(50)))  # fmt: skip
    assert "c.csv does not run along the others" in problems(tmp_path)
    text = (tmp_path / "site.toml").read_text("utf-8")
    (tmp_path / "site.toml").write_text(text.replace('["a.gpx", "b.fit", "c.csv"]', "[]"), "utf-8")
    assert "several recordings of one ride in a list" in problems(tmp_path)
