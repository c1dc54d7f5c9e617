"""Writes a folder of results without ever spoiling a file it did not write itself.

Beside the results lies `.written-by-shotplan.json`: name -> sha256 of what was written. A file
that is not listed there, or has changed since, belongs to somebody else and is left alone. Two
commands that write into one folder each have their own list, and leave the other's files alone.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path

from shotplan.errors import Problems

MANIFEST = ".written-by-shotplan.json"
LIGHT_MANIFEST = ".written-by-shotplan-light.json"
SPOTS_MANIFEST = ".written-by-shotplan-spots.json"
STYLES_MANIFEST = ".written-by-shotplan-styles.json"
BRIEF_MANIFEST = ".written-by-shotplan-brief.json"
SITE_MANIFEST = ".written-by-shotplan-site.json"
ELSEWHERE = "choose another --out"
_UNFINISHED = ".unfinished-by-shotplan"


def write(
    folder: Path,
    files: Mapping[str, bytes],
    *,
    force: bool = False,
    by: str = MANIFEST,
    instead: str = ELSEWHERE,
) -> None:
    """Write all of `files` (name -> bytes), or raise `BadInput` and write none.

    Each goes to a temporary name first and is renamed when whole. What an earlier run wrote, is
    unchanged and no longer wanted, is removed. `force` overwrites files of others too; `by` is the
    list of what is ours, `instead` what to do where something is in the way.
    """
    ours = _manifest(folder, by)
    if not force:
        refuse_foreign(folder, files, by=by, instead=instead)
    folder.mkdir(parents=True, exist_ok=True)
    waiting: dict[str, Path] = {}
    try:
        for name, data in files.items():
            waiting[name] = folder / f"{name}{_UNFINISHED}"
            waiting[name].write_bytes(data)
        _put_in_place(folder, files, waiting, ours, by)
    finally:
        for path in waiting.values():
            path.unlink(missing_ok=True)


def refuse_foreign(
    folder: Path, names: Iterable[str], *, by: str = MANIFEST, instead: str = ELSEWHERE
) -> None:
    """`BadInput` with every file that is in the way of `names` and not ours, or changed since."""
    ours = _manifest(folder, by)
    problems = Problems()
    if folder.exists() and not folder.is_dir():
        problems.add(str(folder), f"is a file; results go into a folder: {instead}")
        problems.raise_if_any()
    for name in names:
        path = folder / name
        if not os.path.lexists(path):
            continue
        if not path.is_file():
            problems.add(str(path), f"is in the way; move it, or {instead}")
        elif name not in ours:
            problems.add(
                str(path),
                f"was not written by shotplan; {instead}, or say --force to overwrite it",
            )
        elif _sha256(path.read_bytes()) != ours[name]:
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
    unfinished = path.with_name(path.name + _UNFINISHED)
    try:
        unfinished.write_bytes(data)
        unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)


def refuse_foreign_file(path: Path, ours: bytes) -> None:
    """`BadInput` where a file is there that does not start with `ours`, the line that only this
    program writes."""
    if not os.path.lexists(path):
        return
    problems = Problems()
    if not path.is_file():
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


def _put_in_place(
    folder: Path,
    files: Mapping[str, bytes],
    waiting: Mapping[str, Path],
    ours: dict[str, str],
    by: str,
) -> None:
    """Rename all; whatever happens, the manifest says what was really written."""
    try:
        for name, path in waiting.items():
            path.replace(folder / name)
            ours[name] = _sha256(files[name])
        for name in sorted(set(ours) - set(files)):
            old = folder / name
            if old.is_file() and _sha256(old.read_bytes()) == ours[name]:
                old.unlink()
            del ours[name]
    finally:
        text = json.dumps(dict(sorted(ours.items())), indent=1) + "\n"
        unfinished = folder / f"{by}{_UNFINISHED}"
        unfinished.write_text(text, encoding="utf-8")
        unfinished.replace(folder / by)


def _manifest(folder: Path, by: str) -> dict[str, str]:
    """What an earlier run wrote; a manifest that cannot be read makes nothing ours."""
    try:
        found = json.loads((folder / by).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(found, dict):
        return {}
    # A name with a folder in it was never written by us.
    return {
        str(k): v for k, v in found.items() if isinstance(v, str) and Path(str(k)).name == str(k)
    }


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
