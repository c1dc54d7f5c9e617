from __future__ import annotations

import json
import os
import signal
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shotplan.errors import BadInput
from shotplan.output import folder

FILES = {"report.json": b"{}\n", "map.html": b"<!doctype html>"}


def held(place: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted(place.iterdir()) if p.name != folder.MANIFEST}


def put_all(place: Path, files: dict[str, bytes], *patterns: str) -> None:
    with folder.writing(place, (*files, *patterns)) as put:
        put(files)


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
    with pytest.raises(BadInput, match=r"kept.svg: was changed since"):
        put_all(tmp_path, FILES, "*.svg")
    (tmp_path / "kept.svg").rename(tmp_path / "kept by me.txt")
    put_all(tmp_path, FILES, "*.svg")
    assert held(tmp_path) == {**FILES, "kept by me.txt": b"my drawing"}


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
    said = (tmp_path / "not-finished.txt").read_text()
    assert said.splitlines()[1:3] == ["report.json", "map.html"]
    assert held(tmp_path) == {"report.json": b"second", "not-finished.txt": said.encode()}
    folder.write(tmp_path, {"report.json": b"third", "map.html": b"third"})
    assert held(tmp_path) == {"report.json": b"third", "map.html": b"third"}


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


def test_while_more_is_to_come_it_says_so_and_nothing_older_is_beside_it(tmp_path: Path) -> None:
    names = ("report.json", "map.html", "watch-[0-9].png")
    put_all(tmp_path, {**FILES, "watch-1.png": b"old", "watch-2.png": b"old"}, *names)
    with folder.writing(tmp_path, names) as put:
        assert len(held(tmp_path)) == 4
        put({"report.json": b"new"}, ["map.html", "watch-1.png"])
        now = held(tmp_path)
        assert now.pop("not-finished.txt").splitlines()[1:-1] == [b"map.html", b"watch-1.png"]
        assert now == {"report.json": b"new"}
        put({"map.html": b"new"}, ["watch-1.png"])
        put({"watch-1.png": b"new"})
    assert held(tmp_path) == dict.fromkeys(["report.json", "map.html", "watch-1.png"], b"new")


def test_a_run_that_was_stopped_is_overwritten_by_the_next(tmp_path: Path) -> None:
    def stopped() -> None:
        with folder.writing(tmp_path, tuple(FILES)) as put:
            put({"report.json": b"half"}, ["map.html"])
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert (tmp_path / "not-finished.txt").exists()
    folder.write(tmp_path, FILES)
    assert held(tmp_path) == FILES


def test_one_process_writes_at_a_time(tmp_path: Path) -> None:
    with folder.writing(tmp_path, tuple(FILES)) as put:
        put(FILES)
        with pytest.raises(BadInput, match="another shotplan is writing there; run this again"):
            folder.write(tmp_path, FILES)
    folder.write(tmp_path, FILES)


def killed_before(step: int, place: Path) -> int:
    """How a process ended that writes a new file twice and another once, and is killed before so
    many a rename or unlink of its own: 0 where it came to its end."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # what else runs here is not used there
        child = os.fork()
    if child:
        return os.waitpid(child, 0)[1]
    left = [step]

    def counted(do: Callable[..., Any]) -> Callable[..., Any]:
        def it(*args: Any, **more: Any) -> Any:
            left[0] -= 1
            if left[0] < 0:
                os.kill(os.getpid(), signal.SIGKILL)
            return do(*args, **more)

        return it

    Path.replace = counted(Path.replace)  # type: ignore[method-assign]
    Path.unlink = counted(Path.unlink)  # type: ignore[method-assign]
    try:
        with folder.writing(place, ("report.json", "map.html", "*.svg")) as put:
            put({"report.json": b"first"}, ["map.html"])
            put({"report.json": b"new"}, ["map.html"])
            put({"map.html": b"new"})
    except BaseException:
        os._exit(1)
    os._exit(0)


def test_a_killed_writer_locks_nobody_out_and_what_it_left_is_ours(tmp_path: Path) -> None:
    """Killed before each rename and unlink in turn, as a power cut would: the folder says that it
    is unfinished, holds nothing older, and the next run cleans up and writes."""
    older = {**FILES, "old.svg": b"old"}
    for step in range(30):
        put_all(tmp_path, older)
        ended = killed_before(step, tmp_path)
        now = held(tmp_path)
        unfinished = now.pop("not-finished.txt", b"")
        left = [n for n in now if "unfinished-by" in n]
        whole = {n: d for n, d in now.items() if n not in left}
        new = dict.fromkeys(FILES, b"new")
        assert unfinished or whole in (older, new)
        assert not (unfinished and b"old" in whole.values() and b"new" in whole.values())
        put_all(tmp_path, FILES, "*.svg")
        assert held(tmp_path) == FILES
        assert ended in (0, signal.SIGKILL)
        if not ended:
            assert step > 6
            return
    pytest.fail("it never came to its end")


def test_a_link_in_the_way_is_not_followed(tmp_path: Path) -> None:
    place, outside = tmp_path / "out", tmp_path / "precious.txt"
    place.mkdir()
    outside.write_bytes(b"abc")
    (place / "map.html").symlink_to(outside)
    with pytest.raises(BadInput, match=r"map\.html: is in the way"):
        folder.write(place, FILES, force=True)
    (place / "map.html").unlink()
    (place / "map.html.unfinished-by-shotplan").symlink_to(outside)
    (place / folder.MANIFEST).symlink_to(outside)
    folder.write(place, FILES)
    assert held(place) == FILES
    assert outside.read_bytes() == b"abc"


def test_a_forged_list_takes_nothing_away(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_bytes(b"abc")
    listed = {"site.toml": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"}
    (tmp_path / folder.MANIFEST).write_text(json.dumps(listed))
    put_all(tmp_path, FILES, "card*.png")
    assert held(tmp_path) == {**FILES, "site.toml": b"abc"}
