"""`shotplan light`: when to go, by the sun."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shotplan.cli.options import AsJson, Force, Outside, SiteFolder, goes, outing_of, unless

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shotplan.errors import Problems
    from shotplan.files.forecast import Forecast
    from shotplan.scene.lightday import LightDay

MOST_DAYS = 366
FORECASTS = ("forecast.csv", "forecast.tsv", "forecast.json", "forecast.txt")  # as `new` keeps one


def light(
    site: SiteFolder,
    date: Annotated[
        datetime | None,
        unless("the first day (default: the day of start)", "YYYY-MM-DD", formats=["%Y-%m-%d"]),
    ] = None,
    days: Annotated[int, typer.Option(min=1, max=MOST_DAYS, help="how many days")] = 1,
    forecast: Annotated[
        Path | None,
        unless("a table of hours (default: the forecast.csv, .tsv or .json in SITE, if any)"),
    ] = None,
    out: Annotated[Path | None, goes("light.png goes")] = None,
    force: Force = False,
    as_json: AsJson = False,
    allow_outside: Outside = False,
) -> None:
    """Say when the light is good, for a day or a span of days, and when it is calm too.

    Sun, twilight, golden hour, shade and glare; wind where there is a forecast; writes light.png.
    """
    from shotplan.advice import when
    from shotplan.cli import show
    from shotplan.cli.progress import progress
    from shotplan.errors import Problems
    from shotplan.output import folder
    from shotplan.output.answers import light_picture

    problems = Problems()
    if date is not None and not 2000 <= date.year <= 2100:
        problems.add("--date", f"got the year {date.year}; wanted 2000 to 2100")
    hours = _hours(site, forecast, problems)
    problems.raise_if_any()
    outing = outing_of(site, allow_outside=allow_outside)
    with progress(len(outing.shots) + days) as tell:
        found = when.light_of(outing, date and date.date(), days, tell)
        tell("drawing")
        picture = light_picture.png(found, outing.day.start.astimezone(outing.day.timezone))
    place = site / "out" if out is None else out
    folder.write(place, {"light.png": picture}, force=force, by=folder.LIGHT_MANIFEST)
    _tell(found, hours, outing.aircraft.max_wind_m_s, as_json=as_json)
    show.aside(f"wrote light.png to {place}")


def _hours(site: Path, given: Path | None, problems: Problems) -> Forecast | None:
    """The forecast that is given, else the one in the folder; None where there is none."""
    from shotplan.files.forecast import read_forecast

    if given is not None:
        return read_forecast(given, "--forecast", problems)
    kept = next((site / name for name in FORECASTS if (site / name).is_file()), None)
    return None if kept is None else read_forecast(kept, kept.name, problems)


def _tell(
    days: Sequence[LightDay], hours: Forecast | None, most_m_s: float, *, as_json: bool
) -> None:
    """The light, and the wind where a forecast says it."""
    from shotplan.cli import show
    from shotplan.output.answers import light as words
    from shotplan.output.answers import wind_hours

    if as_json:
        told = wind_hours.data(days, hours, most_m_s) if hours else [None] * len(days)
        both = zip(words.data(days), told, strict=True)
        show.write_json([{**day, "forecast": wind} for day, wind in both])
        return
    windy = wind_hours.rows(days, hours, most_m_s) if hours else ()
    show.rows((*words.rows(days), *windy))
    show.aside(*words.NOTES, *([wind_hours.NOTE] if hours else ()))
