"""Several files, all or none, whatever happens in between."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from shotplan.errors import BadInput
from shotplan.files import together
from shotplan.files.lock import alone_in
from shotplan.files.together import NOTE, put, seen, unfinished

OLD = {"ground.geojson": b"old ground", "site.toml": b"old site"}
NEW = {"t.tif": b"raster", "ground.geojson": b"new ground", "site.toml": b"new site"}


def folder_of(place: Path, files: dict[str, bytes]) -> Path:
    place.mkdir(exist_ok=True)
    for name, data in files.items():
        (place / name).write_bytes(data)
    return place


def held(place: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in place.iterdir()}


def was(place: Path) -> dict[str, str | None]:
    return {name: seen(place / name) for name in NEW}


def test_all_are_there_and_the_last_versions_beside_them(tmp_path: Path) -> None:
    folder_of(tmp_path, OLD)
    (tmp_path / "site.toml").chmod(0o600)
    put(tmp_path, NEW, was=was(tmp_path), keep=OLD)
    before = {f"{n}.before": d for n, d in OLD.items()}
    assert held(tmp_path) == {**NEW, **before}
    assert (tmp_path / "site.toml").stat().st_mode & 0o777 == 0o600
    put(tmp_path, NEW, was=was(tmp_path), keep=OLD)  # nothing new: the last version stays the last
    assert held(tmp_path) == {**NEW, **before}


def test_what_somebody_changed_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    folder_of(tmp_path, OLD)
    before = was(tmp_path)
    (tmp_path / "site.toml").write_bytes(b"mine")
    (tmp_path / "t.tif").write_bytes(b"mine too")
    with pytest.raises(BadInput) as bad:
        put(tmp_path, NEW, was=before)
    assert [p.where for p in bad.value.problems] == [
        str(tmp_path / "t.tif"), str(tmp_path / "site.toml"),
    ]  # fmt: skip
    assert held(tmp_path) == {**OLD, "site.toml": b"mine", "t.tif": b"mine too"}


def test_one_process_at_a_time(tmp_path: Path) -> None:
    folder_of(tmp_path, OLD)
    with alone_in(tmp_path, "wait"), pytest.raises(BadInput, match="another shotplan"):
        put(tmp_path, NEW, was=was(tmp_path))
    assert held(tmp_path) == OLD


def test_a_link_is_not_replaced(tmp_path: Path) -> None:
    folder_of(tmp_path, OLD)
    (tmp_path / "far").write_bytes(b"far")
    (tmp_path / "t.tif").symlink_to(tmp_path / "far")
    with pytest.raises(BadInput, match="is a link"):
        put(tmp_path, NEW, was=was(tmp_path))
    assert (tmp_path / "far").read_bytes() == b"far"
    assert (tmp_path / "site.toml").read_bytes() == b"old site"


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError(28, "No space left on device")])
@pytest.mark.parametrize("at", range(6))
def test_stopped_anywhere_the_folder_is_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int, stop: BaseException
) -> None:
    folder_of(tmp_path, {**OLD, "site.toml.before": b"older"})
    left = [at]
    replace = Path.replace

    def counted(self: Path, target: Path) -> Path:
        left[0] -= 1
        if left[0] == -1:
            raise stop
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", counted)
    with pytest.raises((KeyboardInterrupt, OSError)):
        put(tmp_path, NEW, was=was(tmp_path), keep=OLD)
    assert held(tmp_path) == {**OLD, "site.toml.before": b"older"}


def test_a_disk_that_takes_nothing_leaves_the_folder_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder_of(tmp_path, OLD)

    def full(_: int) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="Read-only"):
        put(tmp_path, NEW, was=was(tmp_path), keep=OLD)
    assert held(tmp_path) == OLD


KILLED = """
import os, pathlib, sys
from shotplan.files import together
left = [int(sys.argv[2])]
def counted(do):
    def it(*a, **k):
        left[0] -= 1
        if left[0] < 0: os._exit(9)
        return do(*a, **k)
    return it
pathlib.Path.replace = counted(pathlib.Path.replace)
pathlib.Path.unlink = counted(pathlib.Path.unlink)
place = pathlib.Path(sys.argv[1])
files = {"t.tif": b"raster", "ground.geojson": b"new ground", "site.toml": b"new site"}
together.put(place, files, was={n: together.seen(place / n) for n in files},
             keep=("ground.geojson", "site.toml"))
"""


def test_a_killed_one_leaves_whole_files_and_says_so_and_the_next_finishes(tmp_path: Path) -> None:
    """Killed before each rename and each unlink in turn, as a power cut would."""
    for step in range(30):
        place = folder_of(tmp_path / str(step), OLD)
        ran = subprocess.run([sys.executable, "-c", KILLED, str(place), str(step)], check=False)
        now = {n: d for n, d in held(place).items() if ".unfinished-" not in n}
        note = bool(unfinished(place))
        assert now["ground.geojson"] in (OLD["ground.geojson"], NEW["ground.geojson"])
        assert now["site.toml"] in (OLD["site.toml"], NEW["site.toml"])
        mixed = (now["ground.geojson"] == b"new ground") != (now["site.toml"] == b"new site")
        assert note or not mixed
        for name, data in OLD.items():  # nothing is lost
            assert data in (now[name], now.get(f"{name}.before"))
        put(place, NEW, was=was(place), keep=OLD)
        assert held(place) == {**NEW, **{f"{n}.before": d for n, d in OLD.items()}}
        if not ran.returncode:
            assert step > 5
            return
    pytest.fail("it never came to its end")


def test_the_note_is_not_left_behind(tmp_path: Path) -> None:
    folder_of(tmp_path, {**OLD, NOTE: b"from a killed one"})
    assert "run the same `shotplan add` again" in unfinished(tmp_path)[0]
    put(tmp_path, OLD, was=was(tmp_path))
    assert held(tmp_path) == OLD
    assert together.unfinished(tmp_path) == ()
