"""`shotplan brief`: what the people who stand there are told, on paper and on the phone."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from shotplan.cli.options import Force, Outside, SiteFolder, goes


class Paper(StrEnum):
    """What it is printed on."""

    A4 = "a4"
    LETTER = "letter"


def brief(
    site: SiteFolder,
    out: Annotated[Path | None, goes("results go")] = None,
    paper: Annotated[Paper, typer.Option(help="what it is printed on")] = Paper.A4,
    force: Force = False,
    allow_outside: Outside = False,
) -> None:
    """Plan a site and write the brief for everybody who stands there.

    brief.pdf to print, brief.html for the phone, and landowner.pdf, one page for whoever owns the
    ground; and everything else of the same plan. The exit code carries the verdict.
    """
    from functools import partial

    from shotplan import output
    from shotplan.cli import drawing
    from shotplan.model.verdict import EXIT_CODES
    from shotplan.outing import read
    from shotplan.output import folder
    from shotplan.output.brief import brief as words

    outing = read(site, allow_outside=allow_outside)
    place = site / "out" if out is None else out
    mine = output.BRIEF._replace(make=partial(output.BRIEF.make, paper=paper.value))
    others = [o for o in output.OUTPUTS if o is not output.REPORT]
    with folder.writing(place, output.names_of(output.ALL), force=force) as put:
        made = drawing.mended(drawing.flown(outing))
        put(output.REPORT.make(made), output.names_of((mine, *others)))
        said = words.brief(made)
        typer.echo(f"{said.site}: {said.verdict}")
        typer.echo(said.words)
        drawing.draw(made, (mine, *others), put, place)
    raise typer.Exit(EXIT_CODES[made.verdict])
