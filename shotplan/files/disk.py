"""Bytes from disk, with a limit, and what a file is known by."""

from __future__ import annotations

import gc
import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from shotplan.errors import Problems
from shotplan.files.words import one_line

MEGABYTE = 1_000_000


def read_bytes(path: Path, most: int, where: str, problems: Problems) -> bytes | None:
    """The file's bytes; None where there is no such file, or it is empty or larger than `most`."""
    if not is_file(path, where, problems):
        return None
    try:
        size = path.stat().st_size
        if size > most:
            problems.add(
                where,
                f"got a file of {size / MEGABYTE:.1f} MB; wanted at most "
                f"{most / MEGABYTE:.0f} MB: cut it to the place and day in question",
            )
            return None
        data = path.read_bytes()
    except OSError as error:
        problems.add(where, f"cannot be read: {error.strerror}")
        return None
    if not data.strip():
        problems.add(where, "the file is empty")
        return None
    return data


def read_text(path: Path, most: int, where: str, problems: Problems) -> str | None:
    """The file as UTF-8 text (a byte order mark is dropped); None where it is not."""
    data = read_bytes(path, most, where, problems)
    if data is None:
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        problems.add(where, f"is not UTF-8 text (byte {error.start}): save it as UTF-8")
        return None


def is_file(path: Path, where: str, problems: Problems) -> bool:
    """Whether there is a plain file; a problem where there is none."""
    try:
        if path.is_file():
            return True
        if not path.parent.is_dir():
            problems.add(where, f"there is no such folder: {one_line(str(path.parent))}")
            return False
        what = "is not a file" if path.exists() else "there is no such file"
    except (OSError, ValueError):  # ValueError: a NUL in the name
        what = "is not a name a file can have"
    problems.add(where, f"{what}: {one_line(str(path))}")
    return False


def sha256_of(path: Path) -> str:
    """The file's SHA-256 as hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@contextmanager
def nothing_thrown_away() -> Iterator[None]:
    """Without the search for what is no longer wanted: of a thousand things read it is all, and
    with many it took a third of the time."""
    again = gc.enable if gc.isenabled() else gc.disable
    gc.disable()
    try:
        yield
    finally:
        again()
