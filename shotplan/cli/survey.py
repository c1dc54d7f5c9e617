"""`shotplan survey`: what a site folder holds, what is missing, what is wrong."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def survey(
    site: Annotated[Path, typer.Argument(help="the site folder")],
    as_json: Annotated[bool, typer.Option("--json", help="print JSON instead")] = False,
) -> None:
    """Say what a site folder holds and lacks."""
    from shotplan import plan as planning
    from shotplan.cli import show
    from shotplan.output.inventory import inventory

    found = inventory(planning.read(site))
    if as_json:
        show.write_json(found._asdict())
    else:
        show.inventory(found)
