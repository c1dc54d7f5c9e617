"""`shotplan aircraft`: the bundled aircraft classes."""

from __future__ import annotations

from typing import Annotated

import typer

from shotplan.cli.options import AsJson, one_of


def aircraft(
    name: Annotated[
        str, typer.Argument(metavar="[ID]", help="print this one", show_default=False)
    ] = "",
    as_json: AsJson = False,
) -> None:
    """List aircraft classes, or print one.

    Printed with its sources, as a TOML to start your own from.
    """
    import tomllib

    from shotplan.cli import show
    from shotplan.files.bundled import aircraft_files

    files = aircraft_files()
    if name:
        one_of("aircraft", name, files)
    texts = {key: path.read_text(encoding="utf-8") for key, path in files.items()}
    if as_json:
        show.write_json([tomllib.loads(t) for key, t in texts.items() if name in {"", key}])
    elif name:
        show.write_text(texts[name])
    else:
        show.rows([(k, str(tomllib.loads(t).get("describes", ""))) for k, t in texts.items()])
