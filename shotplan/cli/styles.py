"""`shotplan styles`: which style is safe on which stretch, and a way through."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shotplan.cli.options import AsJson, Force, Outside, SiteFolder, goes, outing_of

if TYPE_CHECKING:
    from shotplan.advice.style_table import StyleTable
    from shotplan.advice.wanted import Wanted

AFTER_RANKING = 12  # steps of a progress bar: routes sought and flown, ladders
Write = Annotated[
    bool, typer.Option("--write", help="put the recommended shots into SITE/site.recommended.toml")
]
Every = Annotated[
    bool, typer.Option("--all", help="tell every candidate, not only the best of its style")
]
Settings = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        help="a setting of the search, such as side_m=6,12; may be given several times",
        show_default=False,
    ),
]
Explain = Annotated[
    bool, typer.Option("--explain", help="print every setting of the search and its reason")
]


def styles(
    site: SiteFolder,
    out: Annotated[Path | None, goes("styles.png goes")] = None,
    force: Force = False,
    write: Write = False,
    every: Every = False,
    settings: Settings = None,
    as_json: AsJson = False,
    explain: Explain = False,
    allow_outside: Outside = False,
) -> None:
    """Say which style goes where along the ride.

    Tries styles, sides, distances and heights (some minutes), recommends a way through and flies
    it with all rides; writes styles.png; the exit code carries the verdict of that way.
    """
    from shotplan.advice import which_style
    from shotplan.cli import show
    from shotplan.cli.progress import progress
    from shotplan.model.verdict import EXIT_CODES
    from shotplan.output import folder
    from shotplan.output.answers import styles as words
    from shotplan.output.strip import style_strip

    wanted, outing = _wanted(settings or []), outing_of(site, allow_outside=allow_outside)
    place = site / "out" if out is None else out
    if not force:
        folder.refuse_foreign(place, ["styles.png"], by=folder.STYLES_MANIFEST)
    old = _old(site, force=force) if write else ""
    with progress(which_style.blocks_of(outing, wanted) + AFTER_RANKING) as tell:
        table = which_style.which_style(outing, wanted, tell)
        tell("drawing")
        picture = style_strip.png(table)
    folder.write(place, {"styles.png": picture}, force=force, by=folder.STYLES_MANIFEST)
    if as_json:
        show.write_json(words.data(table))
    else:
        show.style_table(words.said(table, every=every))
        if explain:
            _explain(wanted)
        show.aside(*words.NOTES)
    show.aside(f"wrote styles.png to {place}")
    if write:
        show.aside(_written(site, table, old, force=force))
    raise typer.Exit(EXIT_CODES[table.word])


def _wanted(settings: list[str]) -> Wanted:
    """The settings of the search; `BadInput` with all that is wrong with them."""
    from shotplan.advice.wanted import Wanted
    from shotplan.errors import Problems

    problems, given = Problems(), {}
    for setting in settings:
        key, equals, value = setting.partition("=")
        if not equals:
            problems.add("--set", f"got {setting!r}; wanted KEY=VALUE, such as side_m=6,12")
        elif key.strip() in given:
            problems.add("--set", f"{key.strip()} is given twice: give it once")
        given[key.strip()] = value.strip()
    problems.raise_if_any()
    try:
        return Wanted().with_(given)
    except ValueError as error:
        for line in str(error).splitlines():
            problems.add("--set", line)
    problems.raise_if_any()
    raise AssertionError("settings were refused and nobody said why")


def _old(site: Path, *, force: bool) -> str:
    """The site file as text with its line ends; that the new one may be written is asked before
    the search, not after it."""
    from shotplan.outing import SITE_FILE
    from shotplan.output import folder
    from shotplan.output.answers import site_file

    if not force:
        folder.refuse_foreign(site, [site_file.NAME], by=folder.SITE_MANIFEST, instead="rename it")
    return (site / SITE_FILE).read_bytes().decode("utf-8-sig")


def _written(site: Path, table: StyleTable, old: str, *, force: bool) -> str:
    """Writes the recommended shots; what is said of it."""
    from shotplan.model.verdict import Verdict
    from shotplan.output import folder
    from shotplan.output.answers import site_file

    if not table.legs:
        return f"no {site_file.NAME}: nothing passes, so there is no shot to write"
    made = site_file.text(table, old).encode("utf-8")
    folder.write(site, {site_file.NAME: made}, force=force, by=folder.SITE_MANIFEST)
    still = "; as things are it is no-go" if table.word == Verdict.NO_GO else ""
    return f"wrote {site_file.NAME} to {site}{still}"


def _explain(wanted: Wanted) -> None:
    from shotplan.advice.wanted import explained
    from shotplan.checks import CHECKS
    from shotplan.cli import show

    asked = [c.titled for c in CHECKS if c.nature.searched != "never"]
    show.lists(
        {
            "Settings of the search (--set KEY=VALUE)": explained(wanted),
            "Asked of every candidate": asked,
            "Asked only of what is recommended": [
                c.titled for c in CHECKS if c.titled not in asked
            ],
        }
    )
