"""What a folder is not started with."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from shotplan.errors import Problems
from shotplan.files.geojson import Feature
from shotplan.files.words import listed, shown

LARGEST_AROUND_M = 2000.0


def full(folder: Path, given: Iterable[Path], problems: Problems) -> None:
    """A folder may hold the given files already, and nothing else."""
    if folder.exists() and not folder.is_dir():
        problems.add(str(folder), "is a file; name a folder that is empty or not there yet")
        return
    own = {p.resolve() for p in given}
    held = sorted(folder.iterdir()) if folder.is_dir() else []
    there = [p.name for p in held if p.resolve() not in own]
    if there:
        more = f" and {len(there) - 1} more" if len(there) > 1 else ""
        problems.add(
            str(folder),
            f"holds {shown(there[0])}{more}; nothing is overwritten: name a folder that is empty "
            "or not there yet",
        )


def unknown(option: str, name: str, bundled: Mapping[str, Path], problems: Problems) -> None:
    """An option names one of what is bundled."""
    if name not in bundled:
        got = f"got {shown(name)}" if name else "is missing, and nothing else says which"
        problems.add(option, f"{got}; wanted one of {listed(bundled)}")


def around(by_m: float | None, features: Iterable[Feature], problems: Problems) -> None:
    """A boundary is drawn around the ride where none is drawn yet."""
    if by_m is None:
        return
    if not 0.0 < by_m <= LARGEST_AROUND_M:
        problems.add("--boundary-around", f"got {by_m:g}; wanted more than 0 and at most "
                     f"{LARGEST_AROUND_M:g} m")  # fmt: skip
    if any(f.properties.get("role") == "boundary" for f in features):
        problems.add("--boundary-around", "is given, and --ground draws a boundary: keep one")
