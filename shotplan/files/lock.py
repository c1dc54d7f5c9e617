"""One process at a time in a folder; a dead process keeps nobody out."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from shotplan.errors import Problems


@contextmanager
def alone_in(folder: Path, instead: str) -> Iterator[None]:
    """Held until the end, or `BadInput` at once where another process holds it. The lock is the
    system's own, on the folder (on Windows on a file in it), and ends with the process."""
    handle = _opened(folder)
    try:
        if not _taken(handle):
            problems = Problems()
            problems.add(
                str(folder),
                "another shotplan is writing there; run this again when it has finished, or "
                f"{instead}",
            )
            problems.raise_if_any()
        yield
    finally:
        os.close(handle)


if sys.platform == "win32":
    import msvcrt

    def _opened(folder: Path) -> int:
        return os.open(folder / ".lock-of-shotplan", os.O_RDWR | os.O_CREAT)

    def _taken(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _opened(folder: Path) -> int:
        return os.open(folder, os.O_RDONLY)

    def _taken(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
