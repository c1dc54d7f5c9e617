"""Bytes written beside the place they are for: whoever puts them there does it in one step."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def aside(path: Path, data: bytes, ending: str, *, on_disk: bool = False) -> Path:
    """A file of a name that nobody has, `path`'s with `ending` and more, in the same folder; no
    link is followed. `on_disk`: it outlives a power cut. Where it cannot be written nothing of it
    is left."""
    made = path.with_name(f"{path.name}{ending}-{secrets.token_hex(8)}")
    try:
        with made.open("xb") as file:
            file.write(data)
            if on_disk:
                file.flush()
                os.fsync(file.fileno())
    except BaseException:
        made.unlink(missing_ok=True)
        raise
    return made
