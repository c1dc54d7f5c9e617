"""`shotplan rules`: the bundled rule packs, every number with its source."""

from __future__ import annotations

from typing import Annotated

import typer


def rules(
    pack: Annotated[
        str, typer.Argument(metavar="[ID]", help="print this one", show_default=False)
    ] = "",
    as_json: Annotated[bool, typer.Option("--json", help="print JSON instead")] = False,
) -> None:
    """List rule packs, or print one.

    Every number with its source and how it is known.
    """
    from dataclasses import asdict

    from shotplan.cli import show
    from shotplan.errors import Problems
    from shotplan.rules import packs

    found = packs()
    problems = Problems()
    if pack and pack not in found:
        problems.add("rules", f"got {pack!r}, wanted one of: {', '.join(found)}")
    problems.raise_if_any()
    if as_json:
        values = [found[pack]] if pack else list(found.values())
        show.write_json([asdict(v) for v in values])
    elif pack:
        show.pack(found[pack])
    else:
        show.rows([(p.id, f"{p.title} (read {p.read_on})") for p in found.values()])
