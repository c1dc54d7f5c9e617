"""Whether what lies in a folder of results is of an older plan."""

from __future__ import annotations

import json
from pathlib import Path

from shotplan.outing import Outing
from shotplan.output.words import plain


def older(place: Path, outing: Outing) -> str:
    """What to say where the report in `place` is of another plan than `outing` would make today;
    "" where it is of the same, or where there is none."""
    try:
        said = json.loads((place / "report.json").read_text("utf-8"))
        _, named, was = said["tool"].rpartition(", plan ")
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return ""
    if not named or was == outing.fingerprint:
        return ""
    return (
        f"{place} holds plan {plain(was[:8])}, not that of the folder as it is now "
        f"({outing.fingerprint}): run shotplan plan before you use what lies there"
    )
