"""`shotplan add`: what public surveys know, laid into a site folder that is there."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from shotplan.cli.options import (
    Canopy,
    Lidar,
    LidarCrs,
    Osm,
    SiteFolder,
    Surface,
    Surroundings,
    Zones,
    surveys_of,
)


def add(
    site: SiteFolder,
    lidar: Lidar = None,
    lidar_crs: LidarCrs = "",
    canopy: Canopy = None,
    surface: Surface = None,
    osm: Osm = None,
    zones: Zones = None,
    surroundings: Surroundings = None,
) -> None:
    """Lay what public surveys know into a site folder.

    What you wrote and drew stays. A second reading of a source replaces only what the first one
    brought and you have not changed; the last ground.geojson stays beside the new one.
    """
    from shotplan.cli import show
    from shotplan.cli.progress import progress
    from shotplan.errors import Problems
    from shotplan.intake import add as intake
    from shotplan.outing import read

    surveys = surveys_of(lidar, lidar_crs, canopy, surface, osm, zones, surroundings)
    problems = Problems()
    if not surveys.options:
        problems.add("shotplan add", "nothing is given; wanted --lidar, --canopy, --surface, "
                     "--osm, --zones or --surroundings")  # fmt: skip
        problems.raise_if_any()
    outing = read(site)
    ride = outing.site.frame.lonlat_deg(outing.ride.xyz_m[0, :, :2])
    with progress(surveys.steps) as tell:
        added = intake.add(
            site, surveys, ride, problems, start=outing.day.start, country=outing.site.country,
            today=date.today(), ground_m=outing.site.terrain.low_and_high_m, tell=tell,
        )  # fmt: skip
        problems.raise_if_any()
        if added is None:
            raise AssertionError("a survey was refused and nobody said why")
        tell("reading the site with it")
        with TemporaryDirectory() as trial:
            read(added.try_in(Path(trial)), allow_outside=True)  # links to the folder itself
    added.write()
    show.surveys(added.said)
    show.aside(f"added to {site}; look at it: shotplan survey {site}")
