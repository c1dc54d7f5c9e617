"""`shotplan brief`: what the people who stand there are told, on paper and on the phone."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from shotplan.cli.options import Force, SiteFolder, goes

FILES = ("brief.pdf", "brief.html", "landowner.pdf")


class Paper(StrEnum):
    """What it is printed on."""

    A4 = "a4"
    LETTER = "letter"


def brief(
    site: SiteFolder,
    out: Annotated[Path | None, goes("results go")] = None,
    paper: Annotated[Paper, typer.Option(help="what it is printed on")] = Paper.A4,
    force: Force = False,
) -> None:
    """Plan a site and write the brief for everybody who stands there.

    brief.pdf to print, brief.html for the phone, and landowner.pdf, one page for whoever owns the
    ground; the exit code carries the verdict.
    """
    from shotplan import plan as planning
    from shotplan.cli.progress import progress
    from shotplan.model.verdict import EXIT_CODES
    from shotplan.outing import read
    from shotplan.output import folder
    from shotplan.output.brief import brief as words
    from shotplan.output.brief import landowner, page, pdf

    outing = read(site)
    place = site / "out" if out is None else out
    if not force:
        folder.refuse_foreign(place, FILES, by=folder.BRIEF_MANIFEST)
    with progress(len(outing.shots)) as tell:
        made = planning.make(outing, tell)
        tell("setting the brief")
        said, pictures = words.brief(made), words.pictures(made)
        owner = {"map.png": landowner.picture(made)}
        files = {
            "brief.pdf": pdf.brief(said, pictures, paper.value),
            "brief.html": page.html(said, pictures).encode("utf-8"),
            "landowner.pdf": pdf.landowner(landowner.page(made), owner, paper.value),
        }
    folder.write(place, files, force=force, by=folder.BRIEF_MANIFEST)
    typer.echo(f"{said.site}: {said.verdict}")
    typer.echo(said.words)
    typer.echo(f"wrote {', '.join(sorted(files))} to {place}", err=True)
    raise typer.Exit(EXIT_CODES[made.verdict])
