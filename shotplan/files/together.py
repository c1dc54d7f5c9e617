"""Several files of a folder that somebody works in, put there together, or none of them.

Everything is written aside first. Where putting one in its place fails, those that stand already
are put back. Killed in between, each file is whole, the old or the new one, and `NOTE` stands in
the folder until somebody does it again.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Collection, Mapping
from pathlib import Path

from shotplan.errors import Problems
from shotplan.files.aside import aside
from shotplan.files.lock import alone_in

NOTE = "add-not-finished.txt"
BEFORE = ".before"
_UNFINISHED = ".unfinished-add"
_SAYS = b"Stopped before everything was in its place: run `shotplan add` again, as before.\n"


def digest(data: bytes) -> str:
    """SHA-256 as hex."""
    return hashlib.sha256(data).hexdigest()


def seen(path: Path) -> str | None:
    """What a file holds now, as its digest; None where there is none."""
    return digest(path.read_bytes()) if path.is_file() else None


def unfinished(folder: Path) -> tuple[str, ...]:
    """A remark where somebody was stopped between putting one file there and the next."""
    if not (folder / NOTE).exists():
        return ()
    return ("adding a survey was stopped half way: run the same `shotplan add` again",)


def put(
    folder: Path,
    files: Mapping[str, bytes],
    *,
    was: Mapping[str, str | None],
    keep: Collection[str] = (),
) -> None:
    """Put `files` (name -> bytes) into an existing folder in their order, or raise and leave it as
    it was.

    `was`: what each held when it was read (`seen`): `BadInput` where somebody changed one since,
    or where another process writes there. Of those to `keep` the last version stays beside them,
    with the ending `.before`.
    """
    with alone_in(folder, "wait for it"):
        _refuse_changed(folder, files, was)
        for left in folder.glob(f"*{_UNFINISHED}-*"):
            left.unlink()
        new = {n: data for n, data in files.items() if data != _held(folder / n)}
        copies = {f"{n}{BEFORE}": _held(folder / n) for n in new if n in keep}
        every = {**{n: d for n, d in copies.items() if d is not None}, **new}
        _place(folder, every, {n: _held(folder / n) for n in every})


def _place(folder: Path, every: Mapping[str, bytes], old: Mapping[str, bytes | None]) -> None:
    note = {NOTE: _SAYS} if len(every) > 1 else {}
    waiting: dict[str, Path] = {}
    done: list[str] = []
    try:
        for name, data in (note | dict(every)).items():
            waiting[name] = aside(folder / name, data, _UNFINISHED, on_disk=True)
            if (folder / name).is_file():
                shutil.copymode(folder / name, waiting[name])
        for name, path in waiting.items():
            path.replace(folder / name)
            done.append(name)
    except BaseException:
        for name in done:
            if name in old:
                _back(folder / name, old[name])
        (folder / NOTE).unlink(missing_ok=True)
        raise
    finally:
        for path in waiting.values():
            path.unlink(missing_ok=True)
    (folder / NOTE).unlink(missing_ok=True)


def _refuse_changed(
    folder: Path, files: Mapping[str, bytes], was: Mapping[str, str | None]
) -> None:
    problems = Problems()
    for name, data in files.items():
        if (folder / name).is_symlink() and data != _held(folder / name):
            problems.add(str(folder / name), "is a link: put the file itself there")
    for name, what in was.items():
        if seen(folder / name) != what:
            problems.add(
                str(folder / name), "was changed while this ran; nothing is written: run it again"
            )
    problems.raise_if_any()


def _held(path: Path) -> bytes | None:
    return path.read_bytes() if path.is_file() else None


def _back(path: Path, data: bytes | None) -> None:
    if data is None:
        path.unlink(missing_ok=True)
    else:
        aside(path, data, _UNFINISHED, on_disk=True).replace(path)
