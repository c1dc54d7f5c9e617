"""`shotplan new`: a commented site folder to start from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def new(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="the folder to start; empty or not there yet")
    ],
    ride: Annotated[
        Path | None, typer.Option(help="a recorded ride (GPX)", show_default=False)
    ] = None,
    terrain: Annotated[
        Path | None,
        typer.Option(help="the shape of the ground (GeoTIFF, .asc, .hgt)", show_default=False),
    ] = None,
    ground: Annotated[
        Path | None, typer.Option(help="what you drew on a map (GeoJSON)", show_default=False)
    ] = None,
    rules: Annotated[
        str, typer.Option(metavar="ID", help="the rule pack; `shotplan rules` lists them")
    ] = "",
    aircraft: Annotated[
        str, typer.Option(metavar="ID", help="the class; `shotplan aircraft` lists them")
    ] = "",
    name: Annotated[str, typer.Option(help="what to call the place (default: the folder's)")] = "",
    start: Annotated[
        str,
        typer.Option(
            metavar="MOMENT", help="when the first shot begins (default: when it was recorded)"
        ),
    ] = "",
    boundary_around: Annotated[
        float | None,
        typer.Option(
            metavar="M", help="draw a boundary so far around the ride", show_default=False
        ),
    ] = None,
) -> None:
    """Start a site folder from what is at hand.

    Files are copied in; nothing is ever overwritten. What nobody gave stands in site.toml as a
    comment, and is unknown until you say it.
    """
    from tempfile import TemporaryDirectory

    from shotplan.cli import show
    from shotplan.errors import Problems
    from shotplan.intake import new as intake
    from shotplan.outing import read
    from shotplan.output.answers.inventory import inventory

    given = intake.Given(
        name=name, rules=rules, aircraft=aircraft, start=start, ride=ride, terrain=terrain,
        ground=ground, around_m=boundary_around,
    )  # fmt: skip
    problems = Problems()
    started = intake.start(folder, given, problems)
    problems.raise_if_any()
    if started is None:
        raise AssertionError("the folder was refused and nobody said why")
    with TemporaryDirectory() as trial:
        started.write(Path(trial))
        outing = read(Path(trial))
    started.write(folder)
    show.lists(
        {
            "Guessed: look at each in site.toml and on the map": started.guesses,
            "Missing: unknown until you say it": inventory(outing).missing,
        }
    )
    names = ", ".join(sorted({*started.texts, *started.copies}))
    typer.echo(f"started {folder} with {names}; then run: shotplan survey {folder}", err=True)
