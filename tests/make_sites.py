"""Draws the bundled sites: `python -m tests.make_sites` after a change.

Each has a module in `tests/drawn/` that says where everything is; their places and names are
invented. site.toml and ABOUT.md are written by hand. `tests/test_sites.py` holds the committed
files to what this draws.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from numpy import float32
from numpy.typing import NDArray

from tests.drawn import dunnaby, hvinhylde, larrigan
from tests.drawn.sheet import Sheet, write_terrain


class Drawn(NamedTuple):
    """A site as drawn; no `terrain_m` where the ground is flat, no `ride` where it is a line of
    the ground."""

    folder: Path
    sheet: Sheet
    ground: Callable[[], str]
    ride: Callable[[], str] | None = None
    terrain_m: Callable[[], NDArray[float32]] | None = None
    cell_m: float = 0.0


SITES = (
    Drawn(
        hvinhylde.FOLDER, hvinhylde.SHEET, hvinhylde.ground, hvinhylde.ride,
        hvinhylde.terrain_m, hvinhylde.CELL_M,
    ),
    Drawn(
        larrigan.FOLDER, larrigan.SHEET, larrigan.ground, larrigan.ride,
        larrigan.terrain_m, larrigan.CELL_M,
    ),
    Drawn(dunnaby.FOLDER, dunnaby.SHEET, dunnaby.ground),
)  # fmt: skip


def main() -> None:
    """Write every drawn file."""
    for site in SITES:
        site.folder.mkdir(parents=True, exist_ok=True)
        (site.folder / "ground.geojson").write_text(site.ground(), encoding="utf-8")
        if site.ride is not None:
            (site.folder / "ride.gpx").write_text(site.ride(), encoding="utf-8")
        if site.terrain_m is not None:
            write_terrain(site.folder / "terrain.tif", site.sheet, site.terrain_m(), site.cell_m)


if __name__ == "__main__":
    main()
