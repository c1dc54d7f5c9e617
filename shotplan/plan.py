"""Read a folder, fly its shots, judge them: the only module that knows all stages."""

from __future__ import annotations

from pathlib import Path

from shotplan.model.shot import Outing


def read(folder: Path) -> Outing:
    """Everything a site folder says; raises `BadInput` once with every problem in it."""
    raise NotImplementedError
