"""What several commands are given in the same words."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand

if TYPE_CHECKING:
    from shotplan.intake.surveys import Surveys
    from shotplan.outing import Outing

SiteFolder = Annotated[Path, typer.Argument(help="the site folder")]
Force = Annotated[bool, typer.Option("--force", help="overwrite files shotplan did not write")]
Outside = Annotated[
    bool, typer.Option("--allow-outside", help="read files outside the folder that it names")
]
AsJson = Annotated[bool, typer.Option("--json", help="print JSON instead")]


def outing_of(site: Path, *, allow_outside: bool = False) -> Outing:
    """The folder, read; where results of another plan lie in it, that is said."""
    from shotplan.cli import show
    from shotplan.outing import read
    from shotplan.output.older import older

    outing = read(site, allow_outside=allow_outside)
    if said := older(site / "out", outing):
        show.aside(said)
    return outing


def one_of(where: str, name: str, names: Iterable[str]) -> None:
    """`BadInput` with all names where it is none of them."""
    from shotplan.errors import Problems

    problems = Problems()
    if name not in (known := list(names)):
        problems.add(where, f"got {name!r}, wanted one of: {', '.join(known)}")
    problems.raise_if_any()


def unless(help_: str, metavar: str | None = None, **more: Any) -> Any:
    """An option that may be left out; what then holds stands in its help, or nothing does."""
    return typer.Option(help=help_, metavar=metavar, show_default=False, **more)


Lidar = Annotated[
    list[Path] | None,
    unless("laser scans of the place (LAS, LAZ): one or several tiles, or a folder", "FILES"),
]
LidarCrs = Annotated[
    str, unless("what the scans do not say of themselves: EPSG:2994, heights in feet", "TEXT")
]
Surface = Annotated[
    Path | None,
    unless("elevations of treetops and roofs (raster); the terrain is taken off", "RASTER"),
]
Canopy = Annotated[Path | None, unless("height above the ground (raster)", "RASTER")]
Osm = Annotated[Path | None, unless("an OpenStreetMap extract (.osm.pbf, .osm, .osm.bz2)", "FILE")]
Zones = Annotated[Path | None, unless("flight zones (ED-269 or ED-318 JSON)", "FILE")]
Surroundings = Annotated[
    Path | None, unless("wider, coarser terrain: for sight, wind and sun", "RASTER")
]


def surveys_of(
    lidar: list[Path] | None,
    lidar_crs: str,
    canopy: Path | None,
    surface: Path | None,
    osm: Path | None,
    zones: Path | None,
    surroundings: Path | None,
) -> Surveys:
    """What these options give."""
    from shotplan.intake.surveys import Surveys

    return Surveys(
        lidar=tuple(lidar or ()), lidar_crs=lidar_crs, canopy=canopy, surface=surface, osm=osm,
        zones=zones, surroundings=surroundings,
    )  # fmt: skip


class Spread(TyperCommand):
    """A command that takes `--lidar a.laz b.laz`, as a shell spreads `*.laz`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Names of tiles that follow one of `--lidar` get an option each."""
        spread: list[str] = []
        for arg in args:
            tile = arg.lower().endswith((".las", ".laz"))
            if tile and spread[-2:-1] == ["--lidar"]:
                spread.append("--lidar")
            spread.append(arg)
        return super().parse_args(ctx, spread)


def goes(what: str) -> Any:
    """The option that says where a command's results go."""
    return unless(f"where {what} (default: SITE/out)")
