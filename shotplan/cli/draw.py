"""`shotplan draw`: a page in the browser to draw and correct a site on."""

from __future__ import annotations

from typing import Annotated

import typer

from shotplan.cli.options import Outside, SiteFolder

Open = Annotated[bool, typer.Option("--open", help="open it in the browser")]


def draw(site: SiteFolder, open_: Open = False, allow_outside: Outside = False) -> None:
    """Draw and correct a site on its own ground, move shots, see the word change.

    Prints the address of a page that this machine alone can reach; stop it with Ctrl-C. What is
    saved there stands in the folder as if you had written it, the last version beside it.
    """
    from shotplan.cli import show
    from shotplan.desk.serve import serve

    def say(address: str) -> None:
        typer.echo(address)
        show.aside("open this address here; Ctrl-C ends it")

    serve(site, say, open_=open_, allow_outside=allow_outside)
