"""`shotplan plan`: fly and judge every shot of a site folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from shotplan.cli.options import Force, SiteFolder, goes, unless

MORE = "--explain prints the remarks and sources behind each number"
Explain = Annotated[
    bool,
    typer.Option(
        "--explain", help="print the remarks on every number, assumption, default and source"
    ),
]
Preview = Annotated[
    bool, typer.Option("--preview", help="also write every shot as a small GIF (a minute each)")
]


def plan(
    site: SiteFolder,
    out: Annotated[Path | None, goes("results go")] = None,
    force: Force = False,
    track: Annotated[Path | None, unless("also write the undisturbed tracks as CSV")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="print report.json instead")] = False,
    explain: Explain = False,
    preview: Preview = False,
) -> None:
    """Fly and judge every shot of a site.

    Writes report and map; the exit code carries the verdict.
    """
    from shotplan import plan as planning
    from shotplan.cli import show
    from shotplan.cli.progress import progress
    from shotplan.model.verdict import EXIT_CODES
    from shotplan.outing import read
    from shotplan.output import everything, folder, report
    from shotplan.output.frames.preview import previews
    from shotplan.output.take_along import track as tracks

    ours = tracks.HEADER.encode("ascii")
    outing = read(site)
    if track is not None and not force:
        folder.refuse_foreign_file(track, ours)
    with progress(len(outing.shots)) as tell:
        made = planning.make(outing, tell)
        tell("drawing the map")
        files = everything(made)
        if preview:
            tell("drawing the previews")
            files |= previews(made)
    place = site / "out" if out is None else out
    folder.write(place, files, force=force)
    if track is not None:
        folder.write_file(track, tracks.text(made).encode("utf-8"), ours=ours, force=force)
    if as_json:
        show.write_text(report.text(made))
    else:
        show.answer(made)
        show.explain(made) if explain else show.aside(MORE)
    show.aside(f"wrote {', '.join(sorted(files))} to {place}; open map.html first")
    raise typer.Exit(EXIT_CODES[made.verdict])
