"""The site, put together from what its folder says."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shotplan.errors import Problems
from shotplan.files.words import shown
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame
from shotplan.model.ride import Ride
from shotplan.model.site import Origin, Site
from shotplan.model.terrain import Terrain
from shotplan.site import areas, beside
from shotplan.site.errors import Errors, Off, ride_error
from shotplan.site.obstacles import standing
from shotplan.site.reading import NO_START
from shotplan.site.roles import Drawn
from shotplan.site.slips import suggestion
from shotplan.site.tables import RideTable, SiteFile, SiteTable, SurveyTable
from shotplan.site.woods import Cut


def cut_of(says: RideTable, path_m: Array) -> Cut | None:
    """How the ride opens woods; `path_m (k, 2)` the whole line, cropped or not: the track does not
    end where filming does."""
    if says.clear_m is None:
        return None
    roof_m = np.inf if says.overhead_m is None else says.overhead_m
    return Cut(path_m, says.clear_m, roof_m)


def site_of(
    *,
    file: SiteFile,
    says: SiteTable,
    drawn: Sequence[Drawn],
    sources: tuple[Origin, ...] = (),
    frame: Frame,
    terrain: Terrain,
    ride: Ride,
    cut: Cut | None,
    off: Off,
    where: str,
    problems: Problems,
) -> Site:
    """Everything drawn, built on the terrain. `drawn` in frame metres; `ride` (one row, there
    only) is what `[[beside]]` is paced from."""
    paced = _paced(file, ride, where, problems)
    _check_ids(drawn, paced, where, problems)
    _check_dates(file, says, drawn, where, problems)
    _check_held_by(drawn, [c.name for c in file.crew], problems)
    stands = standing(drawn, paced, says.map_error_m, cut, terrain.ground_m)
    errors = Errors(says.map_error_m, ride_error(ride, off, stands.as_drawn))
    boundary = next((d for d in drawn if d.role == "boundary"), None)
    return Site(
        name=says.name,
        frame=frame,
        terrain=terrain,
        obstacles=stands.grown(errors),
        places=areas.places_of(drawn, errors, terrain.ground_m),
        boundary=boundary.shape.parts[0] if boundary else None,
        boundary_error_m=areas.error_m(boundary, errors) if boundary else 0.0,
        surveyed=areas.surveyed_of(drawn, _looked(file), errors, sources),
        zones=areas.zones_of(drawn, errors, terrain.ground_m),
        people=areas.people_of(drawn, errors),
        wildlife=areas.wildlife_of(drawn, errors),
        country=says.country.upper(),
        keep_clear_m=says.keep_clear_m,
        map_error_m=says.map_error_m,
        ride_error_m=off.open_m,
        ride_leaves_error_m=off.leaves_m,
        return_height_m=says.return_height_m,
        sources=sources,
    )


def _looked(file: SiteFile) -> areas.Looked:
    survey = file.survey or SurveyTable()
    on = survey.on.isoformat() if survey.on else ""
    return areas.Looked(survey.looked_for, survey.least_height_m, on)


def _paced(file: SiteFile, ride: Ride, where: str, problems: Problems) -> list[beside.Placed]:
    """The obstacles of `[[beside]]`, those whose place can be told."""
    placed = (
        beside.place(table, number, ride, f"{where}: [[beside]] {number}", problems)
        for number, table in file.beside
    )
    return [p for p in placed if p is not None]


def _check_ids(
    drawn: Sequence[Drawn], paced: Sequence[beside.Placed], where: str, problems: Problems
) -> None:
    """The id of a paced obstacle must be its own (those of drawn ones are checked where read)."""
    taken = [d.id for d in drawn] + [p.thing.id for p in paced]
    for name in sorted({p.thing.id for p in paced if taken.count(p.thing.id) > 1}):
        problems.add(
            f"{where}: [[beside]]", f"the id {shown(name)} is taken; wanted one of its own"
        )


def _check_dates(
    file: SiteFile, says: SiteTable, drawn: Sequence[Drawn], where: str, problems: Problems
) -> None:
    """Nobody has looked at anything later than the day of the flight."""
    if says.start == NO_START:
        return
    dated = [(d.where, d.says.on) for d in drawn]
    dated += [(f"{where}: [survey]", file.survey.on)] if file.survey else []
    dated += [(f"{where}: [[beside]] {number}", table.on) for number, table in file.beside]
    flown = says.start.date()
    for at, on in dated:
        if on and on > flown:
            problems.add(
                at, f"on is {on}, after the day of the flight, {flown}; wanted when somebody looked"
            )


def _check_held_by(drawn: Sequence[Drawn], crew: list[str], problems: Problems) -> None:
    """Whoever holds people back is of the crew."""
    for feature in drawn:
        held_by = getattr(feature.says, "held_by", "")
        if held_by and held_by not in crew:
            problems.add(
                feature.where,
                f"held_by is {shown(held_by)}, who is not in the crew" + suggestion(held_by, crew),
            )
