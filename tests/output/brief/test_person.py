"""Page one, a page a person: at most 250 words, the same three reasons, the way on foot."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from shotplan import plan as planning
from shotplan.aids.last_call import last_calls
from shotplan.judging.judged import Plan
from shotplan.model.frame import Frame
from shotplan.outing import read
from shotplan.output import stop as stops
from shotplan.output.brief import brief, person, signs, stand
from shotplan.output.brief import page as brief_page
from shotplan.output.brief import pdf as brief_typst
from shotplan.output.brief import words as brief_words
from shotplan.output.words import letter
from tests.output.brief.test_brief import text_of, told_by
from tests.worlds import SIDE_TRACK, feature, line, place, tree, write_site

FREE = {**SIDE_TRACK, "height_m": 30.0}
MOST = 250


def planned(shots: int = 1, **says: Any) -> Plan:
    """Level ground, a ride due north from (0, -100) to (0, 100), an oak beside it, a held path."""
    crew = [
        {"name": "Ada", "role": "rider"},
        {"name": "Bo", "role": "pilot", "stands": "launch"},
        {"name": "Cy", "role": "spotter", "stands": "knoll"},
    ]
    features = [
        tree("oak", east_m=-19.0, north_m=20.0, height_m=40.0),
        place("knoll", east_m=-20.0, north_m=85.0, name="Knoll"),
        place("stone", east_m=30.0, north_m=-30.0, name="Flat stone"),
        feature("path", "people", line([(-60.0, 95.0), (-30.0, 120.0)]), name="Mill path",
                **({} if "crew" in says else {"state": "held", "held_by": "Cy"})),
    ]  # fmt: skip
    site = {
        "crew": crew,
        "shot": [{**FREE, "name": f"along the hedge {i}"} for i in range(shots)],
        **says,
    }
    with TemporaryDirectory() as made:
        return planning.make(read(write_site(Path(made) / "s", site=site, features=features)))


@cache
def usual() -> Plan:
    return planned()


def by_name(plan: Plan) -> dict[str, person.Page]:
    return {page.name: page for page in person.pages(plan)}


@pytest.mark.parametrize("shots", [1, 2, 4, 9])
def test_a_page_has_at_most_250_words_outside_pictures(tmp_path: Path, shots: int) -> None:
    plan = planned(shots)
    said, pictures = brief.brief(plan), brief.pictures(plan)
    assert [p.page.name for p in said.people] == ["Cy", "Bo", "Ada"]  # who watches first
    text = text_of(brief_typst.brief(said, pictures, "a4"), tmp_path)
    for page, told in zip(said.people, text.split("\f"), strict=False):
        assert page.page.name in told
        assert page.page.words <= MOST
        assert len(told.split()) <= MOST + 6  # the folio is no part of what is read


def test_page_and_paper_say_the_same(tmp_path: Path) -> None:
    said, pictures = brief.brief(usual()), brief.pictures(usual())
    paper = re.sub(r"\s+", "", text_of(brief_typst.brief(said, pictures, "letter"), tmp_path))
    phone = re.sub(r"\s+", "", told_by(brief_page.html(said, pictures)))
    for one in said.people:
        page = one.page
        texts = [page.never, page.alone, page.walker, *page.stop, *page.notes]
        texts += [t for s in page.stands for t in s] + [t for w in page.watch for t in w]
        texts += [t for call in page.calls for t in call] + [t for _, *s in page.signs for t in s]
        for text in texts:
            assert re.sub(r"\s+", "", text) in paper
            assert re.sub(r"\s+", "", text) in phone


def test_the_same_three_reasons_in_the_same_order_for_everybody() -> None:
    told = stops.stop(usual())
    assert told.people == "anybody within 40 paces (30 m)"  # 30 m at 0.75 m a pace
    assert told.sight == "nobody sees it"
    for page in person.pages(usual()):
        assert page.stop[:2] == (told.people, told.sight)
        # Metres per second only for who holds the meter.
        assert page.stop[2] == (told.wind if page.role == "pilot" else told.seen)
        assert ("m/s" in page.stop[2]) == (page.role == "pilot")


def test_the_way_is_one_on_foot_from_the_launch() -> None:
    # The launch is 30 m east of the ride's middle, the knoll 85 m on and 20 m to the left (west).
    (one,) = by_name(usual())["Cy"].stands
    assert "40 paces to the track, then 113 paces along the track, then 27 left" in one.way
    # Straight: atan2(-50, 85) is 329.5° true, in June 2026 about 4.5° east at 14° E: 325°.
    bearing = re.search(r"Straight: compass (\d+)°", one.way)
    assert bearing
    assert abs(int(bearing[1]) - 325) <= 1
    assert one.degrees == "46.00076 N 13.99974 E"
    # Near and level: by the compass alone, from what one can point at.
    (launch,) = by_name(usual())["Bo"].stands
    assert re.fullmatch(r"From Flat stone: compass 35[5-6]°, 40 paces\.", launch.way)


def test_where_it_is_steep_nobody_is_sent_straight() -> None:
    def walks(rise: float) -> bool:
        ground = SimpleNamespace(ground_m=lambda xy: rise * np.asarray(xy)[..., 0])
        site: Any = SimpleNamespace(terrain=ground)
        return stand._walkable(site, np.zeros(2), np.array([30.0, 0.0]))

    assert walks(0.59)
    assert not walks(0.61)
    assert not walks(np.nan)  # ground that nobody knows


def test_the_grid_reference_is_the_published_one() -> None:
    # Wikipedia, Universal Transverse Mercator: the CN Tower, 43°38'33.24"N 79°23'13.7"W, is in
    # zone 17, 630084 m east, 4833438 m north (from memory); the band at 43.6° N is T.
    frame = Frame(lon_deg=-79.3871389, lat_deg=43.6425667)

    site: Any = SimpleNamespace(frame=frame)
    zone, east, north = stand.grid(site, np.zeros(2)).split()
    assert zone == "17T"
    assert abs(int(east) - 630084) <= 1
    assert abs(int(north) - 4833438) <= 1


def test_calls_are_on_the_page_of_who_calls_with_the_number_of_the_map() -> None:
    plan = usual()
    found = {
        call.code(letter(0)): call
        for call in last_calls(plan.shots[0], plan.marks)
        if not call.first
    }
    assert found
    pages = by_name(plan)
    for code, call in found.items():
        assert call.caller.person is not None
        for name, page in pages.items():
            mine = [c for c in page.calls if c.code == code]
            assert bool(mine) == (name == call.caller.person.name)
            assert all(c.says == "“Stop!”" and c.text.startswith("rider ") for c in mine)
    # 30 m of room and 10.25 s at 1.2 m/s are 42.3 m, 56 paces; a bicycle's 92.6 m are 124.
    (walker,) = [c for c in pages["Cy"].calls if c.code == "any"]
    assert walker.text == "walker 56 paces off the track (bike 124)"


def test_somebody_alone_looks_before_the_take() -> None:
    plan = planned(crew=[{"name": "Ada", "role": ["rider", "pilot"]}])
    (page,) = person.pages(plan)
    assert page.role == "rider"
    assert {c.says for c in page.calls} == {"before"}
    assert 1 <= len(page.calls) <= 3
    assert all(c.text.startswith("look at ") for c in page.calls)
    assert not page.signs  # nobody is there to give one
    assert "go on" not in str(page.watch)


def test_what_is_not_flown_is_one_grey_line() -> None:
    low = {**SIDE_TRACK, "name": "into the oak", "distance_m": 19.0, "height_m": 6.0}
    plan = planned(shot=[{**FREE, "name": "free"}, low])
    assert [s.verdict.word for s in plan.shots][1] == "no-go"
    for page in person.pages(plan):
        assert page.off == "B is not flown"
        assert not any(chip.text.startswith("B") for chip in page.chips)
        assert not any(c.code.startswith("B!") for c in page.calls)
        assert not any(lead == "B" for lead, _ in page.watch)


def test_where_nothing_is_flown_it_says_so_and_names_no_shot() -> None:
    low = {**SIDE_TRACK, "name": "into the oak", "distance_m": 19.0, "height_m": 6.0}
    for page in person.pages(planned(shot=[low])):
        assert page.off == "nothing is flown as planned"
        assert page.chips == ()


def test_nobody_is_told_where_to_stand_who_has_no_place() -> None:
    plan = planned(crew=[{"name": "Bo", "role": "pilot"}])
    said = brief.brief(plan)
    (one,) = said.people
    assert "____" in one.page.stands[0].title
    assert not one.picture
    assert "sees-0.png" not in brief.pictures(plan)


def test_every_sign_has_a_figure_and_none_starts_anything() -> None:
    assert len(signs.FIGURES) == len(brief_words.SIGNS) == 7
    assert len({signs.svg(i) for i in range(7)}) == 7
    assert "go on" not in {sign.word for sign in brief_words.SIGNS}
    (page,) = [p for p in person.pages(usual()) if p.role == "rider"]
    assert [word for _, word, _ in page.signs] == ["stop", "people", "hold", "home", "down"]
