"""`shotplan demo`: the whole job with no input."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from shotplan.cli.options import one_of

DEFAULT = "hvinhylde"


def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="[DIR]", help="where to copy the site", show_default=True)
    ] = Path("shotplan-demo"),
    site: Annotated[str, typer.Option(metavar="NAME", help="which of the bundled sites")] = DEFAULT,
    list_: Annotated[
        bool, typer.Option("--list", help="name the bundled sites and say what each teaches")
    ] = False,
) -> None:
    """Copy an invented site and plan it.

    The whole job with no input, in a minute or two; the exit code carries the verdict. The
    ABOUT.md of each site says what it teaches.
    """
    from shotplan.cli.plan import plan
    from shotplan.files.bundled import about_sites, bundled_sites

    if list_:
        for name, about in about_sites().items():
            typer.echo(f"{name}: {about}")
        return
    sites = bundled_sites()
    one_of("--site", site, sites)
    _copy(sites[site], folder)
    typer.echo(
        f"copied the invented site {site} to {folder}; planning it. Later, change its site.toml "
        f"and run: shotplan plan {folder}",
        err=True,
    )
    plan(folder)


def _copy(source: Path, target: Path) -> None:
    """Copy what is not there yet; a file that is there and differs is somebody's work."""
    from shotplan.errors import Problems

    files = [
        p
        for p in sorted(source.rglob("*"))
        if p.is_file() and p.relative_to(source).parts[0] != "out"
    ]
    problems = Problems()
    for path in files:
        there = target / path.relative_to(source)
        if there.exists() and there.read_bytes() != path.read_bytes():
            problems.add(
                str(there),
                "is there already and differs from the demo's; choose another folder, or run "
                f"shotplan plan {target}",
            )
    problems.raise_if_any()
    for path in files:
        there = target / path.relative_to(source)
        there.parent.mkdir(parents=True, exist_ok=True)
        if not there.exists():
            there.write_bytes(path.read_bytes())
