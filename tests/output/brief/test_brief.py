"""The brief and the landowner's page: what is said, laid out twice, and harmless names."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest

from shotplan import plan as planning
from shotplan.aids.last_call import last_calls
from shotplan.judging.judged import Plan
from shotplan.model.site import Site
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.output.brief import brief, landowner, little_map
from shotplan.output.brief import page as brief_page
from shotplan.output.brief import pdf as brief_typst
from shotplan.output.brief import rows as brief_rows
from shotplan.output.brief import words as brief_words
from shotplan.output.brief.brief import Brief
from shotplan.output.brief.rows import Row, Section
from shotplan.output.brief.wrong import likeliest
from shotplan.output.calls import CALLS
from shotplan.output.words import letter, plain
from shotplan.scene.landmarks import NO_MARK
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan
from tests.worlds import SIDE_TRACK, feature, line, place, straight, tree, write_site

EVIL = (
    f"{EVERY} "
    '#import "@preview/x:1.0.0": * #eval("1+1") #panic("ran") #read("look.json") $a^2$ `r` ```py'
    " @ref <label> [x] *b* _i_ = h // c /* d */ ~ -- ... https://a.b #let told = 1"
)
# A folder with these is refused; the others must be printed as `plain` has them.
EVIL = EVIL.translate(dict.fromkeys(map(ord, "\u2028\u2029\x1b\x07")))
SHOT = {**SIDE_TRACK, "name": "along the hedge", "takes": 2}
QUESTIONS = (
    "Where do I stand", "What do I watch for?", "What do I call?",
    "Where does it go if it is lost?", "When do we stop?",
)  # fmt: skip
WORDS = re.compile(r"\b(go|caution|unknown|no-go)\b", re.IGNORECASE)


def planned(shots: int = 1, called: str = "", **site: Any) -> Plan:
    """A plan over level ground: a tree and a path beside the ride; `called`: every name."""

    def name(own: str) -> str:
        return f"{own} {called}" if called else own

    crew = [
        {"name": name("Ada"), "role": "rider"},
        {"name": name("Bo"), "role": "pilot", "stands": "launch"},
        {"name": name("Cy"), "role": "spotter", "stands": "knoll"},
    ]
    features = [
        tree("oak", east_m=-14.0, north_m=20.0, name=name("oak")),
        place("knoll", east_m=40.0, north_m=60.0, name=name("Knoll")),
        feature("path", "people", line([(-60.0, 70.0), (60.0, 70.0)]), name=name("Mill path"),
                **({} if "crew" in site else {"state": "held", "held_by": crew[2]["name"]})),
        feature("nests", "keep-out", {"type": "Polygon", "coordinates": [[
            [14.003, 46.003], [14.004, 46.003], [14.004, 46.004], [14.003, 46.003]]]},
            name=name("Nests"), reason=name("birds")),
    ]  # fmt: skip
    given = {"name": name("Heath"), "crew": crew, "shot": [
        {**SHOT, "name": name(f"{SHOT['name']} {i}")} for i in range(shots)
    ], **site}  # fmt: skip
    with TemporaryDirectory() as made:
        folder = write_site(Path(made) / "site", site=given, features=features)
        return planning.make(read(folder))


@cache
def usual(shots: int = 1) -> Plan:
    return planned(shots)


@cache
def evil() -> Plan:
    return planned(2, EVIL)


@cache
def laid(plan_of: Any, *args: int) -> tuple[Brief, dict[str, bytes]]:
    plan = plan_of(*args)
    return brief.brief(plan), brief.pictures(plan)


def rows(said: Brief, title: str) -> dict[str, Row]:
    """The rows of a section, by label."""
    every = (*said.front, *said.back, *(s for shot in said.shots for s in shot.sections))
    section = next(s for s in every if s.title.startswith(title))
    return {r.label: r for r in section.rows}


def every_row(said: Brief) -> list[Row]:
    every = (*said.front, *said.back, *(s for shot in said.shots for s in shot.sections))
    return [r for section in every for r in section.rows]


def text_of(pdf: bytes, tmp_path: Path, *options: str) -> str:
    """What an independent reader finds in a PDF."""
    tool = shutil.which("pdftotext")
    if tool is None:
        pytest.skip("no pdftotext on this machine (apt-get install poppler-utils)")
    (tmp_path / "read.pdf").write_bytes(pdf)
    done = subprocess.run(
        [tool, *options, "-raw", str(tmp_path / "read.pdf"), "-"], capture_output=True, check=True
    )
    return done.stdout.decode("utf-8")


def squeezed(text: str) -> str:
    """Without what a line break may change."""
    return re.sub(r"[\s\u200b]+", "", text)


# -- what is said


def test_page_one_answers_the_five_questions_after_what_goes_wrong_first() -> None:
    said, _ = laid(usual)
    titles = [s.title for s in said.front]
    assert titles[0] == "Most likely to go wrong here"
    assert len(titles) == 1 + len(QUESTIONS)
    for title, question in zip(titles[1:], QUESTIONS, strict=True):
        assert title.startswith(question)
    assert [r.label for r in said.front[0].rows] == ["1", "2", "3"]


def test_where_one_stands_has_something_to_point_at_and_what_one_does() -> None:
    said, _ = laid(usual)
    who = rows(said, "Where do I stand")
    assert "at Knoll (10 m S of Mill path)" in who["Cy, spotter"].text
    assert "holds Mill path" in who["Cy, spotter"].text
    assert brief_words.DUTIES["spotter"] in who["Cy, spotter"].text
    assert "at launch; " in who["Bo, pilot"].text


def test_every_word_says_what_the_pilot_does() -> None:
    said, _ = laid(usual)
    call = rows(said, "What do I call?")
    for one in (*CALLS, *brief_words.MORE):
        assert one.does in call[one.word].text
        assert one.sign in call[one.word].text
        assert brief_words.WHEN[one.word] in call[one.word].text
    assert "Signs you agreed come first" in call[""].text
    assert call[""].blanks


def test_lost_says_the_height_and_the_place_it_comes_home_to() -> None:
    said, _ = laid(usual)
    home = rows(said, "Where does it go")["link lost"]
    assert "climbs to 40 m on the display" in home.text
    assert "launch" in home.text
    assert not home.blanks


@pytest.mark.parametrize(
    ("way", "tells"), [("hover", "stands where it is"), ("land", "comes down")]
)
def test_lost_says_what_the_shot_does_instead(way: str, tells: str) -> None:
    said = brief.brief(planned(link_lost=way))
    assert tells in rows(said, "Where does it go")["link lost"].text


def test_when_to_stop_has_wind_in_the_hand_and_what_one_sees_of_it() -> None:
    said, _ = laid(usual)
    stop = rows(said, "When do we stop?")
    assert list(stop) == ["1 people", "2 sight", "3 wind"]
    # The no-go wind; what one sees of it beside it.
    assert re.match(r"over \d+\.\d m/s in the hand from W.* \([a-z ,]+\)$", stop["3 wind"].text)
    day = rows(said, "The day, in order")
    assert re.search(r"\d\d:\d\d; the light ends \d\d:\d\d", day["last take-off"].text)
    assert "on the ground with 30% left" in day["in all"].text


def test_a_shot_is_three_sentences_with_landmarks_or_a_place_to_tape() -> None:
    said, _ = laid(usual)
    (shot,) = said.shots
    assert len(shot.sentences) == 3
    assert "2 times" in shot.sentences[0]
    assert "beside the rider (side-track, left, 12 m out" in shot.sentences[1]
    assert "oak" in shot.sentences[2]


def test_a_mark_is_taped_only_where_somebody_calls() -> None:
    taped = []
    for plan in (usual(), usual(3), made_plan()):
        said = brief.brief(plan)
        for row in every_row(said):
            if NO_MARK in row.text:
                taped.append(row)
                assert re.fullmatch(r"[A-Z]!\d+", row.label)
        told = [s for shot in said.shots for s in shot.sentences]
        assert not any("tape" in line for line in told)
    assert taped


def test_a_place_is_said_by_what_stands_within_25_m_else_by_nothing() -> None:
    site: Site = usual().outing.site
    # The oak is 14 m west and 20 m north: beside it, then 25 m and a little off.
    assert brief_rows.beside(site, np.array([-14.0, 20.0])) == "at the oak"
    assert brief_rows.beside(site, np.array([-14.0 + 24.9, 20.0])) == "25 m E of the oak"
    assert brief_rows.beside(site, np.array([-14.0 + 25.1, 20.0])) == ""


def test_what_nobody_said_is_a_blank_and_never_left_out() -> None:
    bare = planned(crew=[], weather=None, return_height_m=None)
    said = brief.brief(bare)
    who = rows(said, "Where do I stand")
    for role in brief_words.ROLES:
        assert who[f"{role}: nobody is named"].blanks == ("who", "stands at")
    assert rows(said, "Where does it go")["link lost"].blanks
    help_ = rows(said, "If something happens")
    assert help_["somebody is hurt"].blanks == ("number", "who calls", "first aid is")
    assert help_["nearest road"].blanks
    assert rows(said, "Wind and light")["forecast"].blanks
    assert "not known" in rows(said, "Wind and light")["forecast"].text


def test_a_person_without_a_place_gets_a_blank() -> None:
    said = brief.brief(planned(crew=[{"name": "Bo", "role": "pilot"}]))
    assert rows(said, "Where do I stand")["Bo, pilot"].blanks == ("stands at",)


def test_all_that_an_observer_must_be_told_is_answered_or_open() -> None:
    said, _ = laid(usual)
    told = rows(said, "What an observer must be told")
    # shared reference, rules.md section 9.2: 19 items with their sources
    assert len(brief_words.TOLD) == len(told) == 19
    titles = [s.title.rstrip("?") for s in (*said.front, *said.back)]
    for number, item in enumerate(brief_words.TOLD, start=1):
        row = told[f"{number} {item.title}"]
        answer = row.text.removeprefix(f"[{item.source}]: ")
        assert answer != row.text
        assert answer or row.blanks
        assert ("open:" in answer) == bool(row.blanks)
        if answer.startswith(("see W", "see If")):
            asked = re.split(r"[;:]", answer.removeprefix("see "))[0]
            assert any(asked.lower() in t.lower() for t in titles), asked


def test_the_hazards_are_told_with_their_heights() -> None:
    said, _ = laid(usual)
    row = next(
        r for label, r in rows(said, "What an observer").items() if "wires and masts" in label
    )
    assert "trees up to 10.0 m" in row.text


def test_reminders_come_with_source_date_and_how_they_are_known() -> None:
    plan = made_plan()
    said = brief.brief(plan)
    section = next(s for s in said.back if s.title.startswith("Reminders"))
    assert "2026-11-25" in section.title
    assert section.rows[0].text == "Do not fly over crowds. [made pack, 2]"
    assert section.rows[1].text.endswith("[made pack, 14(5); from memory, to be checked]")


def test_no_verdict_without_computed_not_a_permission() -> None:
    said, _ = laid(usual, 2)
    assert said.verdict.endswith(": computed, not a permission")
    for shot in said.shots:
        assert shot.word.endswith("(computed, not a permission)")


def test_the_worst_is_named_first_and_each_shot_before_any_twice() -> None:
    plan = made_plan()
    chosen = likeliest(plan)
    worst = [int(w.found.verdict) for w in chosen]
    assert worst == sorted(worst, reverse=True)
    assert worst[0] == int(plan.verdict) == int(Verdict.NO_GO)
    assert {w.shot for w in chosen[:2]} == {0, 1}


def test_a_shot_that_is_no_go_is_not_flown() -> None:
    said = brief.brief(made_plan())
    refused = [s for s in said.shots if s.word.startswith("no-go")]
    assert refused
    for shot in refused:
        assert shot.sections[0].title == "Not flown as planned, because"
        assert shot.sections[0].rows
    assert "no-go (not flown as planned)" in said.words


def test_the_map_holds_the_flights_the_launch_and_the_stands() -> None:
    plan = usual()
    seen = brief.view(plan)
    points = [plan.shots[0].scene.track.xyz_m[0, :, :2]]
    points += [plan.outing.site.places[i].xyz_m[None, :2] for i in ("launch", "knoll")]
    for part in points:
        assert part[:, 0].min() > seen.west_m
        assert part[:, 0].max() < seen.east_m
        assert part[:, 1].min() > seen.south_m
        assert part[:, 1].max() < seen.north_m


# -- as laid out


@pytest.mark.parametrize("paper", brief_typst.PAPERS)
@pytest.mark.parametrize("shots", [1, 2, 3])
def test_a_page_a_person_two_for_one_shot_and_one_more_for_each_further(
    tmp_path: Path, shots: int, paper: str
) -> None:
    said, pictures = laid(usual, shots)
    text = text_of(brief_typst.brief(said, pictures, paper), tmp_path)
    assert text.count("\f") == len(said.people) + shots + 1
    first = text.split("\f")[len(said.people)]
    at = [first.index(question) for question in ("Most likely to go wrong here", *QUESTIONS)]
    assert at == sorted(at)


def test_everything_said_is_printed(tmp_path: Path) -> None:
    said, pictures = laid(usual, 2)
    text = squeezed(text_of(brief_typst.brief(said, pictures, "a4"), tmp_path))
    page = told_by(brief_page.html(said, pictures))
    for row in every_row(said):
        for part in (row.label, row.text, *row.blanks):
            assert squeezed(part) in text
            assert part in page


def test_the_type_is_large_enough_to_read_outdoors() -> None:
    assert min(size.body for size in brief_typst.SIZES) >= 11.0
    sizes = [(s.body, s.fine, s.map, s.side) for s in brief_typst.SIZES]
    assert sizes == sorted(sizes, reverse=True)


def test_the_same_plan_gives_the_same_bytes() -> None:
    said, pictures = laid(usual)
    assert brief.pictures(usual()) == pictures
    once = brief_typst.brief(said, pictures, "a4")
    assert brief_typst.brief(brief.brief(usual()), pictures, "a4") == once
    assert b"CreationDate" not in once
    assert brief_page.html(said, pictures) == brief_page.html(brief.brief(usual()), pictures)


class _Told(HTMLParser):
    """The text of a page, and every tag with its attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def parsed(page: str) -> _Told:
    told = _Told()
    told.feed(page)
    return told


def told_by(page: str) -> str:
    return "".join(parsed(page).text)


def test_the_page_has_no_script_and_asks_nobody() -> None:
    said, pictures = laid(usual, 2)
    page = parsed(brief_page.html(said, pictures))
    policy = next(a["content"] for t, a in page.tags if a.get("http-equiv"))
    assert "default-src 'none'" in str(policy)
    assert "script" not in {t for t, _ in page.tags}
    for tag, attributes in page.tags:
        assert not any(key.startswith("on") for key in attributes)
        for link in (attributes.get("src"), attributes.get("href")):
            assert link is None or link.startswith(("data:", "#")), (tag, link)


# -- hostile names


def test_hostile_names_are_printed_as_written_and_nothing_runs(tmp_path: Path) -> None:
    said, pictures = laid(evil)
    text = squeezed(text_of(brief_typst.brief(said, pictures, "a4"), tmp_path))
    printed = squeezed(plain(EVIL))
    for own in ("Heath", "along the hedge 0", "along the hedge 1", "Ada", "Bo", "Cy", "Knoll",
                "Mill path", "oak", "Nests"):  # fmt: skip
        assert f"{squeezed(own)}{printed}" in text, own
    calm, _ = laid(usual, 2)
    assert len(said.front) == len(calm.front)


def test_hostile_names_add_nothing_to_the_page() -> None:
    said, pictures = laid(evil)
    page, calm = parsed(brief_page.html(said, pictures)), laid(usual, 2)
    assert {t for t, _ in page.tags} == {t for t, _ in parsed(brief_page.html(*calm)).tags}
    for own in ("Heath", "Ada", "Knoll", "Mill path", "Nests"):
        assert f"{own} {plain(EVIL)}" in "".join(page.text)


def test_hostile_names_are_harmless_to_the_landowner_too(tmp_path: Path) -> None:
    picture = {"map.png": landowner.picture(evil())}
    pdf = brief_typst.landowner(landowner.page(evil()), picture, "letter")
    text = squeezed(text_of(pdf, tmp_path))
    printed = squeezed(plain(EVIL))
    for own in ("Heath", "Ada", "Mill path", "Nests", "birds"):
        assert f"{own.replace(' ', '')}{printed}" in text, own


@pytest.mark.browser
def test_on_a_phone_it_is_as_wide_as_the_screen_and_silent(chromium: str, tmp_path: Path) -> None:
    from playwright.sync_api import sync_playwright

    said, pictures = laid(evil)
    file = tmp_path / "brief.html"
    file.write_text(brief_page.html(said, pictures), encoding="utf-8")
    heard: list[str] = []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_context(
            offline=True, viewport={"width": 390, "height": 844}, is_mobile=True
        ).new_page()
        page.on("console", lambda message: heard.append(message.text))
        page.on("request", lambda asked: heard.append(asked.url))
        page.goto(file.as_uri())
        wide = page.evaluate("document.documentElement.scrollWidth")
        title = page.title()
        browser.close()
    assert wide == 390
    assert [h for h in heard if not h.startswith(("data:", file.as_uri()))] == []
    assert title == f"Brief: {said.site}"


# -- the landowner's page


def texts(sections: tuple[Section, ...]) -> list[str]:
    return [t for s in sections for r in s.rows for t in (s.title, r.label, r.text, *r.blanks)]


def test_the_landowner_reads_where_when_how_high_who_and_no_verdict() -> None:
    for plan in (usual(), made_plan()):
        page = landowner.page(plan)
        every = [page.asks, page.when, page.caption, page.note, *texts(page.sections)]
        assert not [t for t in every if WORDS.search(t)]
    flown = judged(usual(), *[Verdict.GO] * len(usual().shots))  # it lists nothing else
    said = {r.label: r for s in landowner.page(flown).sections for r in s.rows}
    assert "46." in said["take-off and landing"].text
    assert said["from, to"].text.startswith("Sat 20 June 2026, 1")
    # Flown 6 m over the rider on level ground; a delay in following may add a little.
    assert re.match(r"up to [67] m above the ground below; up to 40 m", said["height"].text)
    assert "Ada (rider), Bo (pilot) and Cy (spotter)" in said["crew"].text
    assert said["on the day"].blanks == ("name", "phone")


def judged(plan: Plan, *verdicts: Verdict) -> Plan:
    shots = tuple(replace(s, verdict=v) for s, v in zip(plan.shots, verdicts, strict=True))
    return replace(plan, shots=shots)


def flights(plan: Plan) -> str:
    (row,) = (r for s in landowner.page(plan).sections for r in s.rows if r.label == "flights")
    return row.text


def test_the_landowner_is_asked_for_the_flown_shots_alone() -> None:
    plan = usual()
    takes = [s.scene.shot.takes for s in plan.shots]
    word = [Verdict.GO] * len(takes)
    assert flights(judged(plan, *word)).startswith(f"{sum(takes)}, in the air")
    assert flights(judged(plan, Verdict.NO_GO, *word[1:])).startswith(
        f"{sum(takes[1:])}, in the air" if len(takes) > 1 else "none of those"
    )
    none = judged(plan, *[Verdict.NO_GO] * len(takes))
    assert flights(none).startswith("none of those planned so far")
    assert landowner.picture(none) != landowner.picture(judged(plan, *word))


def test_watched_by_eye_only_where_it_is(tmp_path: Path) -> None:
    def of(name: str, **site: Any) -> str:
        folder = write_site(tmp_path / name, site=site, ride=straight(0.0, 40.0))
        plan = planning.make(read(folder))
        return flights(judged(plan, Verdict.GO))

    seen = "each watched by eye all the way"
    assert seen in of("beside")
    # alone: he looks at the track, and the pack lets it follow unseen within 50 m
    assert seen not in of("alone", crew=[{"name": "Ada", "role": ["rider", "pilot"]}])
    # nobody stands anywhere that is known
    assert seen not in of("nowhere", crew=[{"name": "Bo", "role": "pilot"}])
    # sight is not known without the visibility
    assert seen not in of("hazy", weather={"visibility_m": None})


@pytest.mark.parametrize("paper", brief_typst.PAPERS)
def test_the_landowner_gets_one_page(tmp_path: Path, paper: str) -> None:
    picture = {"map.png": landowner.picture(usual())}
    pdf = brief_typst.landowner(landowner.page(usual()), picture, paper)
    assert text_of(pdf, tmp_path).count("\f") == 1
    assert brief_typst.landowner(landowner.page(usual()), picture, paper) == pdf


def test_each_shot_has_a_small_map_with_its_calls(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = usual(2)
    written: list[str] = []
    monkeypatch.setattr(little_map, "halo", lambda *a, **k: written.append(a[3]))
    pictures = brief.pictures(plan)
    for i, shot in enumerate(plan.shots):
        written.clear()
        little_map.of_shot(plan, i)
        calls = {c.code(letter(i)) for c in last_calls(shot, plan.marks) if not c.first}
        assert calls <= set(written)
        assert pictures[f"above-{i}.png"][:4] == b"\x89PNG"
    of = [len(last_calls(s, plan.marks)) for s in plan.shots]
    assert any(of)
