"""The light of days in words, as data and as a picture."""

from __future__ import annotations

import io
import json
from datetime import date, datetime, timedelta, timezone
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from shotplan.kernels.light import light as kernel
from shotplan.output import look
from shotplan.output.answers import light, light_picture
from shotplan.output.words import plain
from shotplan.scene.lightday import LightDay, ShotLight, SideSpan
from shotplan.scene.sun import SunDay
from tests.output.hostile import EVERY

ZONE = timezone(timedelta(hours=2))


def at(on: date, clock: str) -> datetime:
    return datetime.combine(on, datetime.strptime(clock, "%H:%M").time(), tzinfo=ZONE)


def made(on: date = date(2026, 6, 20), shot: str = "along", watcher: str = "Bo") -> LightDay:
    """A day of round numbers: the sun up from 06:00 to 20:00, glare from 18:00 on."""
    moments = tuple(at(on, "00:00") + k * timedelta(minutes=10) for k in range(145))
    hours = np.arange(145) / 6.0
    elevation = np.radians(60.0) * np.sin((hours - 6.0) / 14.0 * np.pi)
    elevation = np.where((hours < 6) | (hours > 20), -0.1, np.maximum(elevation, 0.001))
    glare = np.where((hours >= 18) & (hours <= 20), 12.0, 0.0)
    sides = np.zeros((145, len(kernel.SIDES)))
    return LightDay(
        on=on,
        sun=SunDay(dawn=at(on, "05:20"), sunrise=at(on, "06:00"), noon=at(on, "13:00"),
                   sunset=at(on, "20:00"), dusk=at(on, "20:40")),
        golden=((at(on, "06:05"), at(on, "06:45")), (at(on, "19:15"), at(on, "19:55"))),
        flying=(at(on, "05:20"), at(on, "20:40")),
        flying_why="the sun at -6°",
        moments=moments,
        elevation_rad=elevation,
        shots=(
            ShotLight(
                name=shot, lasts_s=40.0, sides=sides, glare_s={watcher: glare},
                sunny=np.ones(145),
                windows=((at(on, "06:00"), at(on, "17:50")),),
                mostly=(SideSpan("back", (at(on, "06:00"), at(on, "12:00"))),
                        SideSpan("front", (at(on, "12:10"), at(on, "20:00")))),
            ),
        ),
        sunny=((at(on, "06:30"), at(on, "19:00")),),
        doubt_m=310.0,
    )  # fmt: skip


def test_a_day_at_length() -> None:
    rows = light.rows([made()])
    assert rows[0] == ("Sat 20 June 2026", "sun up 06:00 to 20:00, at most 60° high")
    text = dict(rows)
    assert text["by the pack"] == "05:20 to 20:40 (the sun at -6°)"
    assert text["golden hour"].startswith("06:05 to 06:45 and 19:15 to 19:55 ")
    assert text["sun on the ride"].startswith("06:30 to 19:00 (hills farther than")
    assert text["A clear hours"] == "06:00 to 17:50: along"
    said = [words for _, words in rows]
    assert "light on the rider: back 06:00 to 12:00, front 12:10 to 20:00" in said
    assert "glare: Bo 18:00 to 20:00, up to 12 s of 40 s" in said


def test_many_days_are_a_line_each() -> None:
    days = [made(date(2026, 6, 20) + timedelta(days=k)) for k in range(5)]
    rows = light.rows(days)
    assert len(rows) == 5
    assert rows[4][0] == "Wed 2026-06-24"
    assert rows[4][1].endswith("clear A 06:00 to 17:50")


def test_hostile_names_are_made_plain() -> None:
    for name in EVERY:
        said = light.rows([made(shot=name, watcher=name)])
        told = plain(name)
        assert ("A clear hours", f"06:00 to 17:50: {told}") in said
        assert ("", f"glare: {told} 18:00 to 20:00, up to 12 s of 40 s") in said


def test_no_name_is_in_the_picture() -> None:
    hostile = made(shot="$\\frac{1}{0}$ \N{BELL}", watcher="<b>")
    assert light_picture.png([hostile]) == light_picture.png([made()])


def test_a_stand_that_is_not_known_is_said() -> None:
    day = made()
    (shot,) = day.shots
    lost = {**shot.__dict__, "glare_s": {"Bo": np.full(145, np.nan)}}
    day = LightDay(**{**day.__dict__, "shots": (ShotLight(**lost),)})
    assert "glare: where Bo stands is not known" in [w for _, w in light.rows([day])]
    assert light.data([day])[0]["shots"][0]["glare"] == {"Bo": None}


def test_the_data_is_json_with_offsets() -> None:
    (day,) = json.loads(json.dumps(light.data([made()])))
    assert day["sunrise"] == "2026-06-20T06:00+02:00"
    assert day["shots"][0]["glare"]["Bo"] == [["2026-06-20T18:00+02:00", "2026-06-20T20:00+02:00"]]
    assert day["ground_known_m"] == 310.0


@pytest.mark.parametrize("count", [1, 3, 12])
def test_the_picture_is_one_and_the_same_png(count: int) -> None:
    days = [made(date(2026, 6, 20) + timedelta(days=k)) for k in range(count)]
    first = light_picture.png(days)
    assert first == light_picture.png(days)
    image = Image.open(io.BytesIO(first))
    assert image.format == "PNG"
    assert image.width == round(light_picture.WIDTH_IN * look.DPI)
    assert len(first) < 200_000


def test_it_reads_in_grey() -> None:
    fills = (light_picture.NIGHT, *light_picture.SIDE_FILLS)
    grey = [
        float(np.dot([int(f[i : i + 2], 16) for i in (1, 3, 5)], [0.299, 0.587, 0.114]))
        for f in fills
    ]
    # Rec. 601 luma: each side of the light is brighter than the one before.
    assert all(b - a >= 15.0 for a, b in pairwise(grey))


def test_a_day_without_a_sunrise_is_drawn_too() -> None:
    day = made()
    never = SunDay(dawn=None, sunrise=None, noon=day.sun.noon, sunset=None, dusk=None)
    dark = LightDay(
        **{
            **day.__dict__, "sun": never, "golden": (), "flying": (day.sun.noon, day.sun.noon),
            "elevation_rad": np.full(145, -0.3), "sunny": (),
            "shots": (ShotLight(**{**day.shots[0].__dict__, "windows": (), "mostly": ()}),),
        }
    )  # fmt: skip
    rows = dict(light.rows([dark]))
    assert rows["Sat 20 June 2026"].startswith("sun up never")
    assert rows["by the pack"].startswith("no light")
    assert rows["A clear hours"] == "none: along"
    assert light_picture.png([dark])
