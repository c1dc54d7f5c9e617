"""`shotplan new`: a commented site folder to start from."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shotplan.cli.options import (
    Canopy,
    Lidar,
    LidarCrs,
    Osm,
    Surface,
    Surroundings,
    Zones,
    surveys_of,
    unless,
)

if TYPE_CHECKING:
    from shotplan.intake.new import Given
    from shotplan.intake.started import Started

Rides = Annotated[
    list[Path] | None,
    unless("a recorded ride (GPX, FIT, TCX, IGC, KML, CSV); several of one ride: once each"),
]


def new(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="the folder to start; empty or not there yet")
    ],
    ride: Rides = None,
    terrain: Annotated[Path | None, unless("the shape of the ground (GeoTIFF, .asc, .hgt)")] = None,
    ground: Annotated[Path | None, unless("what you drew on a map (GeoJSON)")] = None,
    rules: Annotated[str, unless("the rule pack; `shotplan rules` lists them", "ID")] = "",
    aircraft: Annotated[str, unless("the class; `shotplan aircraft` lists them", "ID")] = "",
    name: Annotated[str, unless("what to call the place (default: the folder's)")] = "",
    start: Annotated[
        str, unless("when the first shot begins (default: when it was recorded)", "MOMENT")
    ] = "",
    forecast: Annotated[Path | None, unless("a table of hours (CSV, TSV, JSON)")] = None,
    boundary_around: Annotated[
        float | None, unless("draw a boundary so far around the ride", "M")
    ] = None,
    lidar: Lidar = None,
    lidar_crs: LidarCrs = "",
    canopy: Canopy = None,
    surface: Surface = None,
    osm: Osm = None,
    zones: Zones = None,
    surroundings: Surroundings = None,
) -> None:
    """Start a site folder from what is at hand.

    Files are copied in; nothing is ever overwritten. What nobody gave stands in site.toml as a
    comment, and is unknown until you say it.
    """
    from shotplan.cli.progress import progress
    from shotplan.intake.new import Given

    surveys = surveys_of(lidar, lidar_crs, canopy, surface, osm, zones, surroundings)
    given = Given(
        name=name, rules=rules, aircraft=aircraft, start=start, terrain=terrain,
        ground=ground, around_m=boundary_around, forecast=forecast, surveys=surveys,
        ride=ride[0] if ride else None, more_rides=tuple(ride[1:]) if ride else (),
    )  # fmt: skip
    with progress(surveys.steps) as tell:
        started = _started(folder, given, tell)
        tell("reading the site")
        missing = _missing(started)
    started.write(folder)
    _tell(folder, started, missing)


def _tell(folder: Path, started: Started, missing: tuple[str, ...]) -> None:
    """What was found, guessed, and left out."""
    from shotplan.cli import show

    show.surveys(started.said)
    show.lists({
        "Guessed: look at each in site.toml and on the map": started.guesses,
        "Missing: unknown until you say it": missing,
    })  # fmt: skip
    names = ", ".join(sorted(started.names))
    show.aside(f"started {folder} with {names}; then run: shotplan survey {folder}")


def _missing(started: Started) -> tuple[str, ...]:
    """What the folder will not say; `BadInput` where it would not read."""
    from tempfile import TemporaryDirectory

    from shotplan.outing import read
    from shotplan.output.answers.inventory import inventory

    with TemporaryDirectory() as trial:
        started.write(Path(trial))
        return inventory(read(Path(trial))).missing


def _started(folder: Path, given: Given, tell: Callable[[str], None]) -> Started:
    """The folder as it would be written; `BadInput` with all that is in the way or wrong."""
    from shotplan.errors import Problems
    from shotplan.intake import new as intake

    problems = Problems()
    started = intake.start(folder, given, problems, tell=tell)
    problems.raise_if_any()
    if started is None:
        raise AssertionError("the folder was refused and nobody said why")
    return started
