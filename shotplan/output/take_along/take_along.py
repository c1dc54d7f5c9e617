"""Files to take along, for any map program, spreadsheet or calendar.

`plan.kml` (KML 2.2; `plan.kmz` the same with icons), `plan.geojson` (RFC 7946), `plan.gpx` (GPX
1.1): each shot as flown undisturbed, cut where its verdict changes, the rider meanwhile, the places
worth a look, last calls, launch and stands, areas, obstacles near by as drawn. They are for
looking at: nothing here flies an aircraft. Each says which heights it has, as its format wants
(`files/` says how), and that a verdict is computed, not a permission. `tracks.csv`: the columns of
`--track`, names guarded for spreadsheets. `plan.ics` (RFC 5545): when each shot is flown, the last
take-off, the light; moments in UTC. Its DTSTAMP is the start of the plan, so that the same plan
gives the same bytes.
"""

from __future__ import annotations

from shotplan.files.calendar import write_calendar
from shotplan.files.geojson_out import write_geojson
from shotplan.files.gpx_out import write_gpx
from shotplan.files.kml import Style, write_kml, write_kmz
from shotplan.files.spreadsheet import guarded
from shotplan.judging.judged import Plan
from shotplan.output import credit, first
from shotplan.output.look import INK, LOOKS
from shotplan.output.take_along import hours, icons, pieces, track
from shotplan.output.words import made, plain

TEXT_COLUMNS = frozenset(("shot", "clearance_thing"))
MARK_PX = 2.0


def output(plan: Plan) -> dict[str, bytes]:
    """The files' names and bytes."""
    folders = pieces.folders(plan)
    name, told = f"shotplan: {plain(plan.outing.titled)}", about(plan)
    maker, start = f"shotplan {plan.version}", plan.outing.day.start
    styles = _styles()
    return {
        "plan.kml": write_kml(name, told, folders, styles),
        "plan.kmz": write_kmz(name, told, folders, styles, icons.drawn()),
        "plan.geojson": write_geojson(folders, {"name": name, "note": told}),
        "plan.gpx": write_gpx(name, told, folders, creator=maker, at=start, symbols=icons.SYMBOLS),
        "tracks.csv": guarded(track.text(plan), TEXT_COLUMNS).encode("utf-8"),
        "plan.ics": write_calendar(hours.events(plan), maker=maker, stamp=start),
    }


def about(plan: Plan) -> str:
    """What each map file says of itself."""
    day = plan.outing.day
    zone = plain(str(day.timezone))
    return "\n".join(
        (
            f"{pieces.verdict(plan.verdict)}: {first.tally(s.verdict for s in plan.shots)}",
            f"planned for {first.begins(day)} ({zone}), {first.air(day.weather)}",
            f"rules: {plain(plan.outing.rules.title)}",
            pieces.HEIGHTS,
            made(plan.outing),
            *filter(None, (credit.line(plan.outing.site),)),
        )
    )


def _styles() -> dict[str, Style]:
    """The map's own looks, and its marks in the colour of what they stand for."""
    lines = {k: Style(v.line, v.width, v.fill, v.density) for k, v in LOOKS.items()}
    pins = {
        f"pin-{kind.removeprefix('track-')}": Style(style.line, MARK_PX)
        for kind, style in lines.items()
        if kind.startswith("track-")
    }
    marks = {kind: Style(INK, MARK_PX) for kind in ("launch", "stand", "place", "call")}
    return lines | pins | marks
