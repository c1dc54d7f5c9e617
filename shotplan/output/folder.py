"""Writes a folder of results without ever spoiling a file it did not write itself.

Beside the results lies `.written-by-shotplan.json`: name -> sha256 of what was written. A file
that is not listed there, or has changed since, belongs to somebody else and is left alone. Two
commands that write into one folder each have their own list, and leave the other's files alone.
One process writes at a time. From the first file until the last a note there (`not-finished.txt`)
says what is missing, and nothing of an older run stands beside it.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Protocol

from shotplan.errors import Problems
from shotplan.files.aside import aside
from shotplan.files.lock import alone_in

MANIFEST = ".written-by-shotplan.json"
LIGHT_MANIFEST = ".written-by-shotplan-light.json"
SPOTS_MANIFEST = ".written-by-shotplan-spots.json"
STYLES_MANIFEST = ".written-by-shotplan-styles.json"
SURVEY_MANIFEST = ".written-by-shotplan-survey.json"
MENDED_MANIFEST = ".written-by-shotplan-mended.json"
SITE_MANIFEST = ".written-by-shotplan-site.json"
ELSEWHERE = "choose another --out"
_UNFINISHED = ".unfinished-by-shotplan"

Hashes = dict[str, set[str]]  # name -> what a file of that name holds where it is ours


class Put(Protocol):
    """Puts files (name -> bytes) in place, all or none; `missing` names what is still to come."""

    def __call__(self, files: Mapping[str, bytes], missing: Sequence[str] = ()) -> None:
        """As said above."""


def write(
    folder: Path,
    files: Mapping[str, bytes],
    *,
    force: bool = False,
    by: str = MANIFEST,
    instead: str = ELSEWHERE,
) -> None:
    """Write all of `files` (name -> bytes), or raise `BadInput` and write none; `by` and the rest
    as `writing` has them."""
    with writing(folder, tuple(files), force=force, by=by, instead=instead) as put:
        put(files)


@contextmanager
def writing(
    folder: Path,
    names: Sequence[str],
    *,
    force: bool = False,
    by: str = MANIFEST,
    instead: str = ELSEWHERE,
) -> Iterator[Put]:
    """A folder for results called `names` (patterns), for as long as it is written into.

    `BadInput` where another process writes there, or where a file of somebody else's is in the way
    of any of them. What an earlier run wrote under those names, and nobody changed, goes with the
    first file that is put. `force` overwrites files of others too; `by` is the list of what is
    ours, `instead` what to do where something is in the way.
    """
    refuse_foreign(folder, names, force=force, by=by, instead=instead)
    folder.mkdir(parents=True, exist_ok=True)
    with alone_in(folder, instead):
        refuse_foreign(folder, names, force=force, by=by, instead=instead)
        for left in folder.glob(f"*{_UNFINISHED}*"):
            left.unlink()
        ours = {n: h for n, h in _manifest(folder, by).items() if _matches(n, (*names, _note(by)))}
        fresh: Hashes = {}

        def put(files: Mapping[str, bytes], missing: Sequence[str] = ()) -> None:
            _put(folder, by, ours, fresh, files, missing)

        yield put


def refuse_foreign(
    folder: Path,
    names: Iterable[str],
    *,
    force: bool = False,
    by: str = MANIFEST,
    instead: str = ELSEWHERE,
) -> None:
    """`BadInput` with every file that is in the way of `names` (patterns) and not ours, or changed
    since; with `force` only folders and links."""
    ours, problems = _manifest(folder, by), Problems()
    if folder.exists() and not folder.is_dir():
        problems.add(str(folder), f"is a file; results go into a folder: {instead}")
        problems.raise_if_any()
    held = sorted(folder.iterdir()) if folder.exists() else []
    for path in held:
        if not _matches(path.name, names):
            continue
        if not _is_file(path):
            problems.add(str(path), f"is in the way; move it, or {instead}")
        elif force:
            continue
        elif path.name not in ours:
            problems.add(
                str(path),
                f"was not written by shotplan; {instead}, or say --force to overwrite it",
            )
        elif _sha256(path.read_bytes()) not in ours[path.name]:
            problems.add(
                str(path),
                "was changed since shotplan wrote it; keep it under another name, or say --force "
                "to overwrite it",
            )
    problems.raise_if_any()


def write_file(path: Path, data: bytes, *, ours: bytes, force: bool = False) -> None:
    """Write one file where the user said, unless `refuse_foreign_file` objects."""
    if not force:
        refuse_foreign_file(path, ours)
    aside(path, data, _UNFINISHED).replace(path)


def refuse_foreign_file(path: Path, ours: bytes) -> None:
    """`BadInput` where a file is there that does not start with `ours`, the line that only this
    program writes."""
    if not os.path.lexists(path):
        return
    problems = Problems()
    if not _is_file(path):
        problems.add(str(path), "is in the way; choose another name")
    else:
        with path.open("rb") as old:
            if old.read(len(ours)) != ours:
                problems.add(
                    str(path),
                    "is there already and was not written by shotplan; choose another name, or "
                    "say --force to overwrite it",
                )
    problems.raise_if_any()


def _put(
    folder: Path,
    by: str,
    ours: Hashes,
    fresh: Hashes,
    files: Mapping[str, bytes],
    missing: Sequence[str],
) -> None:
    """Write aside; list what may stand there from now on; say that it is unfinished; take away
    what is older; put in place. Killed anywhere in between, what stands there is still ours."""
    waiting: dict[str, Path] = {}
    before = dict(fresh)  # a file may be put again
    try:
        for name, data in files.items():
            waiting[name] = aside(folder / name, data, _UNFINISHED)
            fresh[name] = {_sha256(data)}
        note, coming = _note(by), [*files, *missing]
        said = _says(coming)
        fresh[note] = {_sha256(said), _sha256(_says(missing))}
        known, none = (ours, before, fresh), set[str]()
        _list(
            folder, by, {n: set().union(*(k.get(n, none) for k in known)) for n in {*ours, *fresh}}
        )
        if len(coming) > 1:
            aside(folder / note, said, _UNFINISHED).replace(folder / note)
            ours.pop(note, None)
        for name in [n for n in ours if n not in fresh or len(coming) > 1]:
            _take_away(folder / name, ours.pop(name))
        for name, path in waiting.items():
            path.replace(folder / name)
        if missing:
            aside(folder / note, _says(missing), _UNFINISHED).replace(folder / note)
        else:
            _take_away(folder / note, fresh.pop(note) | ours.pop(note, set()))
        _list(folder, by, fresh)
    finally:
        for path in waiting.values():
            path.unlink(missing_ok=True)


def _note(by: str) -> str:
    """The note's name: each command's own."""
    return by.replace(".written-by-shotplan", "not-finished").replace(".json", ".txt")


def _says(missing: Sequence[str]) -> bytes:
    lines = ["Not finished: these files are still being made, or the run was stopped.", *missing]
    return ("\n".join([*lines, "Run the command again to have them."]) + "\n").encode("utf-8")


def _take_away(path: Path, ours: set[str]) -> None:
    """Remove what an earlier run wrote, unless somebody changed it."""
    if _is_file(path) and _sha256(path.read_bytes()) in ours:
        path.unlink()


def _is_file(path: Path) -> bool:
    """A file itself, no link to one."""
    try:
        return stat.S_ISREG(path.lstat().st_mode)
    except FileNotFoundError:
        return False


def _matches(name: str, patterns: Iterable[str]) -> bool:
    return any(fnmatchcase(name, pattern) for pattern in patterns)


def _list(folder: Path, by: str, hashes: Hashes) -> None:
    """Write the manifest; a hash, or all that a kill may leave there."""
    listed = {n: min(h) if len(h) == 1 else sorted(h) for n, h in sorted(hashes.items()) if h}
    text = json.dumps(listed, indent=1) + "\n"
    aside(folder / by, text.encode("utf-8"), _UNFINISHED).replace(folder / by)


def _manifest(folder: Path, by: str) -> Hashes:
    """What an earlier run wrote; a manifest that cannot be read makes nothing ours."""
    path = folder / by
    try:
        found = json.loads(path.read_text(encoding="utf-8")) if _is_file(path) else {}
    except (OSError, ValueError, RecursionError):
        return {}
    if not isinstance(found, dict):
        return {}
    ours: Hashes = {}
    for name, said in found.items():
        hashes = said if isinstance(said, list) else [said]
        # A name with a folder in it was never written by us.
        if Path(name).name == name and all(isinstance(h, str) for h in hashes):
            ours[name] = set(hashes)
    return ours


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
