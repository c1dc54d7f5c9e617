"""Every way we know to get a site folder wrong, and what must be said of it.

Of each: what spoils the bundled site, then what the remarks on stderr must hold: regular
expressions (case ignored) joined by " & ": where it is, what was got, what was wanted. Other words
are free.
"""

from __future__ import annotations

from dataclasses import dataclass

from tests.files.made_fit import fit
from tests.stories import spoils
from tests.stories.spoils import Spoil, both, gpx, ground, raster, replaced, said, toml, written


@dataclass(frozen=True)
class Bad:
    """One bad input. `target`: the path given to `shotplan plan`, relative to the folder."""

    name: str
    spoil: Spoil
    says: str
    target: str = "."


SHOT_1 = 'name = "along the edge, from the sea side"'
ORBIT = (
    'style = "orbit"\naround = "cairn" # the id of a place, or "rider"\n'
    "radius_m = 25.0 # of the circle\nheight_m = 14.0 # above the ground at its middle\n"
    "speed_m_s = 4.0 # along the circle\n"
    'direction = "clockwise" # seen from above; or "anticlockwise"\n'
    "start_deg = 180 # where on the circle it begins, as a bearing from the middle: 180 is south\n"
    'aim = "centre" # what the camera looks at: the centre or the rider\n'
)
FIXES = ((-8.0, 54.0, 60.0, 1.78e9), (-8.0, 54.001, 60.0, 1.78e9 + 9.0))
LAST = "from_m = 150.0\nto_m = 270.0"

BAD_INPUTS = (
    # -- keys and tables of site.toml
    Bad(
        "unknown key",
        toml(("keep_clear_m", "keep_claer_m")),
        r"site\.toml & keep_claer_m & keep_clear_m",
    ),
    Bad(
        "unknown key of a style",
        toml(("distance_m = 22", "distanse_m = 22")),
        r"site\.toml & along the edge & distanse_m & distance_m",
    ),
    Bad(
        "unknown key of the aircraft",
        toml(('"folding-light"', '"folding-light"\nbatery_wh = 18.0')),
        r"site\.toml & aircraft & batery_wh & battery_wh",
    ),
    Bad("unknown table", toml(("[weather]", "[wether]")), r"site\.toml & wether & weather"),
    Bad(
        "text where a number belongs",
        toml(("keep_clear_m = 2.0", 'keep_clear_m = "2"')),
        r"site\.toml & keep_clear_m & number",
    ),
    Bad(
        "a value twice in two units",
        toml(("wind_m_s = 2.0", "wind_m_s = 4\nwind_kn = 8")),
        r"site\.toml & wind_m_s & wind_kn",
    ),
    Bad(
        "a style's value twice in two units",
        toml(("distance_m = 22.0", "distance_m = 22.0\ndistance_ft = 72.0")),
        r"site\.toml & along the edge & distance_m & distance_ft",
    ),
    Bad(
        "negative distance",
        toml(("distance_m = 22.0", "distance_m = -22.0")),
        r"site\.toml & along the edge & distance_m & -22",
    ),
    Bad(
        "infinite height",
        toml(("height_m = 14.0", "height_m = inf")),
        r"site\.toml & round the cairn & height_m",
    ),
    Bad(
        "a number of 400 digits",
        toml(("height_m = 14.0", f"height_m = 1{'0' * 400}")),
        r"site\.toml & round the cairn & height_m",
    ),
    Bad(
        "no take at all",
        toml(("takes = 2", "takes = 0")),
        r"site\.toml & along the edge & takes & 0",
    ),
    Bad(
        "start without offset", toml(("19:40:00+02:00", "19:40:00")), r"site\.toml & start & offset"
    ),
    Bad(
        "a wind of 1048 mph",
        toml(("wind_m_s = 2.0", "wind_mph = 1048")),
        r"site\.toml & \[weather\] & 1048|468",
    ),
    Bad(
        "a temperature of 300",
        toml(("temperature_c = 13.0", "temperature_c = 300")),
        r"site\.toml & temperature_c & 300",
    ),
    Bad(
        "a negative battery",
        toml(('class = "folding-light"', 'class = "folding-light"\nbattery_wh = -18.0')),
        r"\[aircraft\] & battery_wh & -18",
    ),
    Bad("start in 1901", toml(("start = 2026", "start = 1901")), r"site\.toml & start & 1901"),
    Bad(
        "start as text",
        toml(("start = 2026-06-20T19:40:00+02:00", 'start = "tonight"')),
        r"site\.toml & start & tonight",
    ),
    Bad(
        "start as text, and no such pack",
        toml(("start = 2026-06-20T19:40:00+02:00", 'start = "7 pm"'), ('"eu-open-a1"', '"eu-a9"')),
        r"site\.toml & start & 7 pm & site\.toml: rules & eu-a9 & eu-open-a1",
    ),
    Bad(
        "unknown time zone",
        toml(("Europe/Copenhagen", "Europe/Kopenhagen")),
        r"site\.toml & timezone & Kopenhagen",
    ),
    Bad(
        "wind from two sides",
        toml(('wind_from = "SW"', 'wind_from = "SW"\nwind_from_deg = 225')),
        r"site\.toml & wind_from & wind_from_deg",
    ),
    Bad(
        "no such compass point",
        toml(('wind_from = "SW"', 'wind_from = "SWS"')),
        r"site\.toml & wind_from & SWS",
    ),
    Bad(
        "negative wind",
        toml(("wind_m_s = 2.0", "wind_m_s = -4.0")),
        r"site\.toml & weather & wind_m_s & -4",
    ),
    Bad(
        "no such aircraft",
        toml(('"folding-light"', '"folding-lite"')),
        r"site\.toml & folding-lite & folding-light",
    ),
    Bad(
        "no such pack",
        toml(('"eu-open-a1"', '"eu-open-a9"')),
        r"site\.toml & eu-open-a9 & eu-open-a1",
    ),
    Bad(
        "an own pack that loosens two numbers",
        both(
            toml(('"eu-open-a1"', '"own.toml"')),
            written(
                "own.toml",
                'base = "eu-open-a2"\n[height]\nlimit_m = 150.0\n[people]\nleast_m = 5.0\n',
            ),
        ),
        r"own\.toml: height: limit_m & 150\.0 & 120\.0 & own\.toml: people: least_m & 5\.0 & 30\.0",
    ),
    Bad(
        "looked for what is no kind",
        toml(('"trees"', '"tres"')),
        r"site\.toml & looked_for & tres & trees",
    ),
    Bad(
        "terrain given twice",
        toml(('terrain = "terrain.tif"', 'terrain = "terrain.tif"\nterrain_m = 70')),
        r"site\.toml & terrain & terrain_m",
    ),
    Bad(
        "an elevation for a terrain file",
        toml(('terrain = "terrain.tif"', "terrain = 40")),
        r"site\.toml & terrain & 40 & terrain_m",
    ),
    Bad(
        "an elevation in quotes for a terrain file",
        toml(('terrain = "terrain.tif"', 'terrain = "40"')),
        r"site\.toml & terrain & 40 & terrain_m",
    ),
    Bad(
        "no word for a lost link",
        toml(('link_lost = "home"', 'link_lost = "panic"')),
        r"site\.toml & link_lost & panic & hover",
    ),
    # -- shots, places, people
    Bad("no style", toml(('style = "orbit"\n', "")), r"site\.toml & round the cairn & style"),
    Bad(
        "no such style",
        toml(('"side-track"', '"side-trak"')),
        r"site\.toml & along the edge & side-trak & side-track",
    ),
    Bad(
        "round a place that is not there",
        toml(('around = "cairn"', 'around = "carn"')),
        r'site\.toml & round the cairn & "?carn"? & "?cairn"?',
    ),
    Bad(
        "standing over a place that is not there",
        toml((ORBIT, 'style = "hold"\nat = "carn"\nheight_m = 5.0\n')),
        r'site\.toml & round the cairn & "?carn"? & "?cairn"?',
    ),
    Bad(
        "a rise that does not rise",
        toml(
            (ORBIT, 'style = "rise"\nat = "cairn"\nheight_m = 5\nto_height_m = 5\nspeed_m_s = 2\n')
        ),
        r"site\.toml & round the cairn & height_m and to_height_m are both 5 & hold",
    ),
    Bad(
        "a rise without an end",
        toml((ORBIT, 'style = "rise"\nat = "cairn"\nheight_m = 5\nspeed_m_s = 2\n')),
        r"site\.toml & round the cairn & to_height_m is missing",
    ),
    Bad(
        "a pull-back into the ground, and one to the north",
        toml(
            (
                ORBIT,
                'style = "pull-back"\nside = "ahead"\ndistance_m = 5\nto_distance_m = 30\n'
                "height_m = 0.5\n",
            ),
            (
                'style = "side-track" # flies beside the rider\nside = "left"',
                'style = "pull-back"\nto_distance_m = 9.0\nside = "north"',
            ),
        ),
        r"round the cairn & into the ground at 30 m & to_height_m & along the edge & side & north"
        r" & behind",
    ),
    Bad(
        "a fly-by that goes round",
        toml(
            (
                ORBIT,
                'style = "fly-by"\nside = "left"\ndistance_m = 9\nheight_m = 5\nspeed_m_s = 8\n'
                'direction = "clockwise"\n',
            )
        ),
        r"site\.toml & round the cairn & direction & clockwise & with & against",
    ),
    Bad(
        "top-down at the height of the rider's hips",
        toml((ORBIT, 'style = "top-down"\nheight_m = 0.9\n')),
        r"site\.toml & round the cairn & height_m is 0\.9 & above the rider",
    ),
    Bad(
        "crew at a place that is not there",
        toml(('stands = "launch"', 'stands = "lanch"')),
        r"site\.toml & Ilse & lanch & launch",
    ),
    Bad(
        "standing for a shot where no place is",
        toml(('stands = { Ilse = "lookout" }', 'stands = { Ilse = "lokout" }')),
        r"site\.toml & land side & lokout & lookout",
    ),
    Bad(
        "somebody unknown stands",
        toml(("{ Ilse =", "{ Else =")),
        r"site\.toml & land side & Else & Ilse",
    ),
    Bad(
        "no such duty",
        toml(('role = "spotter"', 'role = "spoter"')),
        r"site\.toml & crew & spoter & spotter",
    ),
    Bad(
        "rider and pilot in one word",
        toml(('role = "pilot"', 'role = "rider-pilot"')),
        r'site\.toml & crew & Ilse & rider-pilot & role = \["rider", "pilot"\]',
    ),
    Bad(
        "one person twice",
        toml(('name = "Tove"', 'name = "Ilse"')),
        r'site\.toml & crew & Ilse & 2 times & role = \["rider", "pilot"\]',
    ),
    Bad(
        "a part beyond the ride",
        toml((LAST, "from_m = 900.0\nto_m = 950.0")),
        r"site\.toml & round the cairn & 900 & \b4[12]\d",
    ),
    Bad(
        "a part that ends before it begins",
        toml((LAST, "from_m = 270.0\nto_m = 150.0")),
        r"site\.toml & round the cairn & 270 & 150",
    ),
    Bad(
        "two shots of one name",
        toml(('name = "round the cairn"', SHOT_1)),
        r"site\.toml & along the edge",
    ),
    Bad(
        "beside the ride on both sides",
        toml(("right_m = 6.0", "right_m = 6.0\nleft_m = 5.0")),
        r"site\.toml & beside & left_m & right_m",
    ),
    Bad(
        "beside, beyond the ride",
        toml(("at_m = 118.0", "at_m = 918.0")),
        r"site\.toml & beside & 918 & \b4[12]\d",
    ),
    # -- site.toml as a file
    Bad(
        "TOML that is none",
        toml(('name = "Hvinhylde"', 'name = "Hvinhylde')),
        r"site\.toml & line \d+",
    ),
    Bad(
        "shots with one bracket",
        toml(("[[shot]]", "[shot]"), ("[[shot]]", "[shot]")),
        r"site\.toml & shot & \[\[shot\]\] & two brackets",
    ),
    Bad("site.toml is not UTF-8", spoils.not_text, r"site\.toml & UTF-8"),
    Bad("an empty folder", spoils.nothing_left, r"site\.toml"),
    Bad("a file for a folder", spoils.unchanged, r"ride\.gpx & folder", target="ride.gpx"),
    Bad("no such folder", spoils.unchanged, "elsewhere & folder", target="elsewhere"),
    # -- ground.geojson
    Bad("no ground", toml(('"ground.geojson"', '"gruond.geojson"')), r"gruond\.geojson"),
    Bad(
        "unknown role",
        said("thorn-01", role="treee"),
        r"ground\.geojson & thorn-01 & treee & \btree\b",
    ),
    Bad(
        "a cliff drawn",
        said("thorn-01", role="cliff"),
        r"ground\.geojson & thorn-01 & cliff & terrain",
    ),
    Bad(
        "a post",
        said("post-1", role="post"),
        r"ground\.geojson & post-1 & \bpost\b & \bpole\b",
    ),
    Bad(
        "a fence",
        said("hut", role="fence"),
        r"ground\.geojson & hut & fence & building & \[\[beside\]\]",
    ),
    Bad(
        "a wire called a tree",
        said("telephone", role="tree"),
        r"ground\.geojson & telephone & LineString & Point & \bwire\b",
    ),
    Bad(
        "unknown property",
        said("thorn-01", radios_m=2.0),
        r"ground\.geojson & thorn-01 & radios_m & radius_m",
    ),
    Bad(
        "negative height",
        said("thorn-01", height_m=-2.0),
        r"ground\.geojson & thorn-01 & height_m & -2",
    ),
    Bad("NaN in GeoJSON", said("thorn-01", height_m=float("nan")), r"ground\.geojson & NaN"),
    Bad(
        "infinity in GeoJSON",
        said("thorn-01", height_m=float("inf")),
        r"ground\.geojson & infinit|finite",
    ),
    Bad(
        "a boundary that crosses itself",
        ground(spoils.cross),
        r"ground\.geojson & boundary & cross",
    ),
    Bad(
        "where features come from is no list",
        replaced("ground.geojson", ('"FeatureCollection",', '"FeatureCollection", "sources": 3,')),
        r"ground\.geojson & sources & 3 & list",
    ),
    Bad("two boundaries", ground(spoils.second_boundary), r"ground\.geojson & boundary-2"),
    Bad("one id twice", ground(spoils.id_twice), r"ground\.geojson & thorn-01"),
    Bad(
        "a tree drawn as a line",
        ground(spoils.tree_as_line),
        r"ground\.geojson & thorn-01 & LineString & Point",
    ),
    Bad("a longitude of 214", ground(spoils.out_of_the_world), r"ground\.geojson & cairn & 214\.7"),
    Bad(
        "latitude first in the ground",
        ground(spoils.swap_all),
        r"GeoJSON & swap|wrong way round|changed places|longitude first",
    ),
    Bad("not JSON", written("ground.geojson", '{"type": "FeatureCollection",'), r"ground\.geojson"),
    Bad("JSON nested beyond reason", written("ground.geojson", "[" * 200_000), r"ground\.geojson"),
    # -- the ride
    Bad("no ride", toml(('"ride.gpx"', '"rite.gpx"')), r"rite\.gpx"),
    Bad("a ride in another country", gpx(spoils.abroad), r"ride\.gpx|\[ride\] & \b19\d(\.\d)? km"),
    Bad(
        "latitude and longitude swapped in the ride",
        gpx(spoils.swapped),
        r"ride\.gpx|\[ride\] & swap|wrong way round|changed places|longitude first",
    ),
    Bad(
        "GPX with DOCTYPE",
        replaced("ride.gpx", ("<gpx ", '<!DOCTYPE gpx [<!ENTITY a "aaaa">]>\n<gpx ')),
        r"ride\.gpx & DOCTYPE",
    ),
    Bad(
        "an HTML page called .gpx",
        written("ride.gpx", "<!doctype html><html><body>Please log in</body></html>"),
        r"ride\.gpx & HTML|web page",
    ),
    Bad(
        "a web page called .kml",
        both(
            toml(('"ride.gpx"', '"ride.kml"')),
            written("ride.kml", "<!doctype html><html><body>Please log in</body></html>"),
        ),
        r"ride\.kml & web page",
    ),
    Bad(
        "a FIT file cut short",
        both(toml(('"ride.gpx"', '"ride.fit"')), written("ride.fit", fit(FIXES)[:-9])),
        r"ride\.fit & cut short",
    ),
    Bad(
        "a FIT file of the wrong byte order",
        both(toml(('"ride.gpx"', '"ride.fit"')), written("ride.fit", fit(FIXES, says=">"))),
        r"ride\.fit & latitude",
    ),
    Bad(
        "a recording of another format than its name",
        both(toml(('"ride.gpx"', '"ride.tcx"')), written("ride.tcx", fit(FIXES))),
        r"ride\.tcx & holds FIT",
    ),
    Bad(
        "the same recording twice",
        toml(('"ride.gpx"', '["ride.gpx", "ride.gpx"]')),
        r"\[ride\] & ride\.gpx & twice",
    ),
    Bad("a recording cut short", spoils.cut_short, r"ride\.gpx"),
    Bad("a ride of one point", spoils.one_fix, r"ride\.gpx|\[ride\] & \bone\b|\b1\b|two"),
    Bad(
        "no times and no speed", gpx(spoils.without_time), r"ride\.gpx|\[ride\] & time & speed_m_s"
    ),
    Bad("a ride at 300 km/h", spoils.far_too_fast, r"ride\.gpx|\[ride\] & km/h"),
    Bad(
        "a speed of 300 km/h",
        toml(('path = "ride.gpx"', 'path = "ride.gpx"\nspeed_km_h = 300')),
        r"site\.toml & speed & 300 km/h|83",
    ),
    # -- the terrain
    Bad("no terrain", toml(('"terrain.tif"', '"terrian.tif"')), r"terrian\.tif"),
    Bad("a raster without CRS", raster(300, None), r"terrain\.tif & CRS|coordinate reference"),
    Bad("a raster of 60,000 x 60,000", raster(60_000, "EPSG:32633"), r"terrain\.tif & 60,?000"),
    Bad("a VRT named .tif", spoils.virtual_raster, r"terrain\.tif"),
    Bad("junk named .tif", written("terrain.tif", b"II*\0" + b"\xff" * 100), r"terrain\.tif"),
    # -- everything at once
    Bad(
        "several problems, all said",
        both(
            toml(
                ("keep_clear_m", "keep_claer_m"),
                ('"folding-light"', '"folding-lite"'),
                ("distance_m = 22.0", "distance_m = -22.0"),
            ),
            said("thorn-01", height_m=-2.0),
            said("thorn-03", role="treee"),
            written("ride.gpx", "<!doctype html><html></html>"),
        ),
        r"keep_claer_m & folding-lite & -22 & thorn-01 & -2 & thorn-03 & treee & ride\.gpx",
    ),
)
