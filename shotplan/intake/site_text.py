"""The text of a site file to start from: every key with a comment, what is not known left out."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime

from shotplan.files.toml_out import value

FORM = """\
# Started by `shotplan new`. A line that begins with # is not read: take the # away once you know
# what belongs there. What stays out is unknown, and the answer says so; it is never taken as go.
format = 1 # of this file; there is only this one
name = {name} # what the report calls the place
rules = {rules} # a rule pack: `shotplan rules` lists them; or the path of your own
# country = "IE" # two letters; you are told when the pack is another country's
ground = {ground} # what you drew on a map: boundary, launch, trees, wires, people
{terrain}
start = {start} # {when}
# timezone = "Europe/Dublin" # for the hours that are printed; without it the offset of start
keep_clear_m = 2.0 # your own margin around everything
map_error_m = 1.0 # of what you drew: one standard error, two in three are nearer than that
# return_height_m = 30.0 # above the launch: how high it flies home when the link is lost
link_lost = "home" # what it does then: home, hover or land; look at its settings

[survey] # where somebody looked; without this an empty map says nothing
# on = 2026-06-02 # the day
looked_for = [] # of "trees", "buildings", "wires", "people", "wildlife": what you looked for there
least_height_m = 0.5 # lower things were not looked for: the ground counts as that much higher

[weather] # the forecast for the hour above; without it wind, battery and sight are unknown
# wind_m_s = 4.0 # the mean, 10 m above open ground; also wind_km_h, wind_mph, wind_kn
# wind_from = "SW" # where it comes from; or wind_from_deg
# gust_m_s = 7.0 # the strongest gusts
# temperature_c = 13.0 # the cold takes from a battery
# visibility_m = 20000 # how far one sees in the air
# measured_at = "forecast" # or, for a reading in the hand: "launch", or the id of a place

[aircraft] # every other key of `shotplan aircraft {aircraft}` may be given here, and wins
class = {aircraft_text} # a bundled class, typical of its kind: check it against your manual
# class_mark = "C1" # as printed on it, "" where there is none: some rules go by it
# link_range_m = 3000.0 # how far its manual says the link reaches in the open

[ride]
path = {ride} # {path}
{speed}# error_m = 2.5 # of the line, one standard error; a recording 2.5, under leaves 6; drawn 0.5
# clear_m = 4.0 # the track is open this wide through any wood you draw
# overhead_m = 5.0 # up to this height; left out: open to the sky

# Obstacles as you pace them, more exact than on a map; one [[beside]] for each.
# [[beside]]
# at_m = 118.0 # how far along the ride
# right_m = 6.0 # from the ride to the trunk or the near wall, to the right; or left_m
# role = "tree" # tree, pole, building or wire
# height_m = 3.6 # above the ground it stands on
# radius_m = 1.5 # how far its crown reaches

# Who is there. Somebody who does not ride stands at a place: stands = "launch".
[[crew]]
name = "rider" # a name of yours, each once
role = ["rider", "pilot"] # rider, pilot or spotter; one person may be several
{more}
# The shots, in the order they are flown. README.md lists the styles and the keys of each.
[[shot]]
name = "beside" # each name once
style = "side-track" # flies beside the rider
side = "left" # of the way ridden; or a side of the world, or toward or away from a place
distance_m = 12.0 # level, from the rider
height_m = 6.0 # above the ground under the rider
from_m = 0.0 # where along the ride filming begins
{end}takes = 1 # how often it is flown

[[shot]]
name = "behind"
style = "follow-behind" # flies where the rider has been
distance_m = 8.0 # behind
height_m = 4.5
from_m = 0.0
{end}"""
NO_TERRAIN = """\
# terrain = "terrain.tif" # the shape of the ground: GeoTIFF, .asc with .prj, .hgt
# terrain_m = 40.0 # or, where it is level, its elevation; without either: unknown"""
SPOTTER = """
[[crew]]
name = {name} # holds people back, as drawn
role = "spotter"
# stands = "launch" # the id of a place
"""
ASKED = "when the first shot begins; no quotes, with the offset from UTC"
RECORDED = "CHANGE: when the ride was recorded, in UTC; wanted: when the first shot begins"
SURVEYED = "CHANGE: the day of the youngest survey, the hour of the recording, in UTC"
LINE = "a recording, or a list of several of one ride; or the id of a drawn line with speed_m_s"
PLACEHOLDER = "CHANGE: a placeholder; wanted: a recording, or your drawn line"
GUESSED = "speed_m_s = {:g} # CHANGE: a guess; how fast it is ridden\n"
PART = "to_m = {:g} # and ends; leave it out to film all of it\n"
TERRAIN = "terrain = {} # the shape of the ground; or, where it is level, terrain_m"


def text(
    *,
    name: str,
    rules: str,
    aircraft: str,
    start: datetime,
    when: str,
    terrain: str,
    ground: str,
    ride: str | Sequence[str],
    ride_is_placeholder: bool,
    speed_m_s: float | None,
    spotters: tuple[str, ...],
    to_m: float | None,
    weather: Mapping[str, float] | None = None,
) -> str:
    """site.toml. `when` says what `start` is; `terrain` "" where there is none, `speed_m_s` None
    where the ride has times, `to_m` None where all of it is filmed; `spotters` besides whoever
    rides and steers; `weather` keys of [weather] that are known."""
    said = FORM.format(
        name=value(name),
        rules=value(rules),
        ground=value(ground),
        terrain=TERRAIN.format(value(terrain)) if terrain else NO_TERRAIN,
        start=start.isoformat(timespec="seconds"),
        when=when,
        aircraft=aircraft,
        aircraft_text=value(aircraft),
        ride=value(ride),
        path=PLACEHOLDER if ride_is_placeholder else LINE,
        speed="" if speed_m_s is None else GUESSED.format(speed_m_s),
        more="".join(SPOTTER.format(name=value(one)) for one in spotters),
        end=PART.format(to_m) if to_m else "",
    )
    for key, known in (weather or {}).items():
        line = rf"^# {key.removesuffix('_deg')} = \S+ # "
        said = re.sub(line, f"{key} = {value(known)} # ", said, count=1, flags=re.MULTILINE)
    return said
