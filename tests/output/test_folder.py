from __future__ import annotations

import json
from pathlib import Path

import pytest

from shotplan.errors import BadInput
from shotplan.output import folder

FILES = {"report.json": b"{}\n", "map.html": b"<!doctype html>"}


def held(place: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted(place.iterdir()) if p.name != folder.MANIFEST}


def test_it_writes_and_writes_again(tmp_path: Path) -> None:
    place = tmp_path / "deep" / "out"
    folder.write(place, FILES)
    assert held(place) == FILES
    folder.write(place, {**FILES, "map.html": b"newer"})
    assert held(place)["map.html"] == b"newer"


def test_the_manifest_holds_the_hashes(tmp_path: Path) -> None:
    folder.write(tmp_path, {"a.txt": b"abc"})
    # FIPS 180-2, appendix B.1: SHA-256 of "abc"
    assert json.loads((tmp_path / folder.MANIFEST).read_text()) == {
        "a.txt": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    }


def test_a_file_of_somebody_else_is_left_alone_and_nothing_is_written(tmp_path: Path) -> None:
    (tmp_path / "map.html").write_bytes(b"mine")
    with pytest.raises(BadInput, match="was not written by shotplan"):
        folder.write(tmp_path, FILES)
    assert held(tmp_path) == {"map.html": b"mine"}


def test_a_file_changed_by_hand_is_left_alone(tmp_path: Path) -> None:
    folder.write(tmp_path, FILES)
    (tmp_path / "map.html").write_bytes(b"with my notes")
    with pytest.raises(BadInput, match="was changed since"):
        folder.write(tmp_path, {**FILES, "report.json": b"new"})
    assert held(tmp_path) == {**FILES, "map.html": b"with my notes"}


def test_all_that_is_in_the_way_is_said_in_one_go(tmp_path: Path) -> None:
    (tmp_path / "map.html").mkdir()
    (tmp_path / "report.json").write_bytes(b"mine")
    with pytest.raises(BadInput) as bad:
        folder.write(tmp_path, FILES)
    assert len(bad.value.problems) == 2


def test_force_overwrites(tmp_path: Path) -> None:
    (tmp_path / "map.html").write_bytes(b"mine")
    folder.write(tmp_path, FILES, force=True)
    assert held(tmp_path) == FILES


def test_what_is_no_longer_wanted_goes_unless_it_was_changed(tmp_path: Path) -> None:
    folder.write(tmp_path, {**FILES, "old.svg": b"old", "kept.svg": b"old", })  # fmt: skip
    (tmp_path / "kept.svg").write_bytes(b"my drawing")
    folder.write(tmp_path, FILES)
    assert held(tmp_path) == {**FILES, "kept.svg": b"my drawing"}


def test_other_files_in_the_folder_are_not_touched(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_bytes(b"bring tape")
    folder.write(tmp_path, FILES)
    assert held(tmp_path)["notes.txt"] == b"bring tape"


@pytest.mark.parametrize("text", ["", "not json", "[1]", '{"map.html": 3}'])
def test_a_manifest_that_cannot_be_read_makes_nothing_ours(tmp_path: Path, text: str) -> None:
    folder.write(tmp_path, FILES)
    (tmp_path / folder.MANIFEST).write_text(text)
    with pytest.raises(BadInput, match="was not written by shotplan"):
        folder.write(tmp_path, FILES)


def test_a_manifest_cannot_reach_outside_the_folder(tmp_path: Path) -> None:
    place = tmp_path / "out"
    folder.write(place, FILES)
    outside = tmp_path / "precious.txt"
    outside.write_bytes(b"abc")
    listed = json.loads((place / folder.MANIFEST).read_text())
    listed["../precious.txt"] = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    (place / folder.MANIFEST).write_text(json.dumps(listed))
    folder.write(place, FILES)
    assert outside.read_bytes() == b"abc"


def test_a_stop_in_the_middle_leaves_whole_files_that_are_still_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder.write(tmp_path, FILES)
    replace = Path.replace
    done: list[str] = []

    def stopped(self: Path, target: Path) -> Path:
        if Path(target).name == "map.html":
            raise KeyboardInterrupt
        done.append(Path(target).name)
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        folder.write(tmp_path, {"report.json": b"second", "map.html": b"second"})
    monkeypatch.setattr(Path, "replace", replace)
    assert "report.json" in done
    assert held(tmp_path) == {"report.json": b"second", "map.html": FILES["map.html"]}
    folder.write(tmp_path, {"report.json": b"third", "map.html": b"third"})
    assert set(held(tmp_path).values()) == {b"third"}


def test_results_do_not_go_into_a_file(tmp_path: Path) -> None:
    (tmp_path / "out").write_bytes(b"x")
    with pytest.raises(BadInput, match="is a file"):
        folder.write(tmp_path / "out", FILES)


def test_one_file_where_the_user_said(tmp_path: Path) -> None:
    path = tmp_path / "track.csv"
    folder.write_file(path, b"shot,a\n1\n", ours=b"shot,")
    folder.write_file(path, b"shot,a\n2\n", ours=b"shot,")
    assert path.read_bytes() == b"shot,a\n2\n"
    path.write_bytes(b"my own table")
    with pytest.raises(BadInput, match="was not written by shotplan"):
        folder.write_file(path, b"shot,a\n3\n", ours=b"shot,")
    folder.write_file(path, b"shot,a\n3\n", ours=b"shot,", force=True)
    assert path.read_bytes() == b"shot,a\n3\n"
    assert list(tmp_path.iterdir()) == [path]
