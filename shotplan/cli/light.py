"""`shotplan light`: when to go, by the sun."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from shotplan.cli.options import AsJson, Force, SiteFolder, goes, outing_of, unless

MOST_DAYS = 366


def light(
    site: SiteFolder,
    date: Annotated[
        datetime | None,
        unless("the first day (default: the day of start)", "YYYY-MM-DD", formats=["%Y-%m-%d"]),
    ] = None,
    days: Annotated[int, typer.Option(min=1, max=MOST_DAYS, help="how many days")] = 1,
    out: Annotated[Path | None, goes("light.png goes")] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Say when the light is good, for a day or a span of days.

    Sun, twilight, golden hour, shade and glare; writes light.png.
    """
    from shotplan.advice import when
    from shotplan.cli import show
    from shotplan.cli.progress import progress
    from shotplan.errors import Problems
    from shotplan.output import folder
    from shotplan.output.answers import light as words
    from shotplan.output.answers import light_picture

    problems = Problems()
    if date is not None and not 2000 <= date.year <= 2100:
        problems.add("--date", f"got the year {date.year}; wanted 2000 to 2100")
    problems.raise_if_any()
    outing = outing_of(site)
    with progress(len(outing.shots) + days) as tell:
        found = when.light_of(outing, date and date.date(), days, tell)
        tell("drawing")
        picture = light_picture.png(found, outing.day.start.astimezone(outing.day.timezone))
    place = site / "out" if out is None else out
    folder.write(place, {"light.png": picture}, force=force, by=folder.LIGHT_MANIFEST)
    if as_json:
        show.write_json(words.data(found))
    else:
        show.rows(words.rows(found))
        show.aside(*words.NOTES)
    show.aside(f"wrote light.png to {place}")
