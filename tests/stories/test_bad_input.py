"""What the real command says when the input is bad, hostile, or simply not enough."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import re
import shutil
import string
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest
import rasterio
from rasterio.windows import Window

from tests.stories.bad_inputs import BAD_INPUTS, LAST, Bad
from tests.stories.spoils import ground, said, toml

pytestmark = pytest.mark.usefixtures("few_pictures")

DEMO = Path(__file__).resolve().parents[2] / "sites" / "hvinhylde"


@dataclass(frozen=True)
class Ended:
    """How a command ended; white space is folded, so that no line break hides a word."""

    code: int
    out: str
    err: str


def run(*arguments: str) -> Ended:
    """The real command in this process. What it raises beyond `SystemExit` fails the test."""
    from shotplan import cli

    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True) for _ in range(2))
    code: object = 0
    before = sys.argv, sys.excepthook
    sys.argv = ["shotplan", *arguments]
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                code = cli.main()  # type: ignore[func-returns-value, unused-ignore]
            except SystemExit as ended:
                code = ended.code
    finally:
        sys.argv, sys.excepthook = before
    texts = []
    for stream in (out, err):
        stream.seek(0)
        texts.append(stream.read())
    assert code is None or isinstance(code, int), code
    return Ended(code or 0, *texts)


def folded(text: str) -> str:
    """One line, single spaces."""
    return " ".join(text.split())


def contents(folder: Path) -> dict[str, str]:
    """Every file below a folder with its SHA-256."""
    return {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


def few_rides(folder: Path) -> None:
    """The undisturbed ride alone: what is bad in a folder shows without the others."""
    text = (folder / "site.toml").read_text("utf-8")
    assert "[disturbance]" not in text
    few = text.replace("[[shot]]", "[disturbance]\nrides = 1\n\n[[shot]]", 1)
    (folder / "site.toml").write_text(few, "utf-8")


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A copy of the bundled site."""
    folder = tmp_path / "site"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("out"))
    few_rides(folder)
    return folder


def only_the_orbit(folder: Path) -> None:
    """Drops all shots but the last, so that a whole run is quick."""
    head, *shots = (folder / "site.toml").read_text("utf-8").split("[[shot]]")
    (folder / "site.toml").write_text(head + "[[shot]]" + shots[-1], "utf-8")


@pytest.mark.parametrize("bad", BAD_INPUTS, ids=lambda bad: bad.name)
def test_bad_input_is_told_and_nothing_is_written(bad: Bad, site: Path) -> None:
    bad.spoil(site)
    before = contents(site.parent)
    ended = run("plan", str(site / bad.target))
    err = folded(ended.err)
    assert ended.code == 2, err
    assert "Traceback" not in ended.err + ended.out
    for fragment in bad.says.split(" & "):
        assert re.search(fragment, err, re.IGNORECASE), f"{fragment!r} is not in: {err}"
    assert contents(site.parent) == before


def test_the_names_of_bad_inputs_differ() -> None:
    assert len({bad.name for bad in BAD_INPUTS}) == len(BAD_INPUTS) >= 40


def test_several_problems_come_a_line_each_with_where_first(site: Path) -> None:
    toml(("keep_clear_m", "keep_claer_m"), ("distance_m = 22.0", "distance_m = -22.0"))(site)
    said("thorn-01", height_m=-2.0)(site)
    lines = run("plan", str(site)).err.splitlines()
    told = [line for line in lines if re.search(r"(site\.toml|ground\.geojson)\b.*: ", line)]
    assert len(told) >= 3, lines


def test_survey_tells_the_same_problems(site: Path) -> None:
    toml(("keep_clear_m", "keep_claer_m"))(site)
    ended = run("survey", str(site))
    assert ended.code == 2
    assert "keep_claer_m" in ended.err
    assert "keep_clear_m" in ended.err


def test_a_ride_outside_the_terrain_is_unknown_and_no_error(site: Path) -> None:
    only_the_orbit(site)
    with rasterio.open(site / "terrain.tif") as whole:
        a, b, c, d, e, f = whole.transform[:6]
        place = rasterio.Affine(a, b, c + 190 * a, d, e, f)  # the 20 easternmost columns
        data = whole.read(1, window=Window(190, 0, 20, 240))
        profile = {**whole.profile, "width": 20, "transform": place}
    with rasterio.open(site / "terrain.tif", "w", **profile) as file:
        file.write(data, 1)
    ended = run("plan", str(site), "--only", "none")
    assert ended.code == 3, ended.out + ended.err
    report = json.loads((site / "out" / "report.json").read_text("utf-8"))
    assert report["verdict"] == "unknown"
    verdicts = {f["check"]: f["verdict"] for f in report["shots"][0]["findings"]}
    for check in ("ground", "height"):
        assert verdicts[check] == "unknown"


def test_a_byte_order_mark_does_no_harm(site: Path) -> None:
    only_the_orbit(site)
    sound = run("plan", str(site), "--out", str(site.parent / "a"), "--only", "none")
    for name in ("site.toml", "ground.geojson", "ride.gpx"):
        (site / name).write_bytes(b"\xef\xbb\xbf" + (site / name).read_bytes())
    marked = run("plan", str(site), "--out", str(site.parent / "b"), "--only", "none")
    assert sound.code in (0, 1, 3)
    assert marked.code == sound.code, marked.err


def test_a_users_own_file_in_the_out_folder_stays_without_force(site: Path) -> None:
    only_the_orbit(site)
    (site / "out").mkdir()
    own = site / "out" / "map.html"
    own.write_text("my own map", "utf-8")
    before = contents(site)
    refused = run("plan", str(site))
    assert refused.code == 2
    assert re.search(r"map\.html.*--force", folded(refused.err))
    assert contents(site) == before
    forced = run("plan", str(site), "--force", "--only", "map")
    assert forced.code in (0, 1, 3)
    assert own.read_text("utf-8") != "my own map"


def test_an_own_out_folder_that_is_a_file(site: Path) -> None:
    only_the_orbit(site)
    (site / "out").write_text("notes", "utf-8")
    refused = run("plan", str(site))
    assert refused.code == 2
    assert (site / "out").read_text("utf-8") == "notes"


# -- hostile names ---------------------------------------------------------------------------------

IMAGE = "<img src=x onerror=alert(1)>"
SCRIPT = "</script><script>alert(1)</script>"
BRACES = "{{7*7}} {% raw %} ${7*7} `id`"
MARKUP = "[bold red]x[/nope] [link=file:///etc]y"
ESCAPE = "\x1b]0;owned\x07 \x1b[31m"
TURNED = "\u202etxt.exe"


@dataclass(frozen=True)
class Hostile:
    """A plan of a site full of hostile names."""

    ended: Ended
    out: Path

    def text(self, name: str) -> str:
        return (self.out / name).read_text("utf-8")


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Hostile:
    folder = tmp_path_factory.mktemp("hostile") / "site"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("out"))
    few_rides(folder)
    only_the_orbit(folder)
    toml(
        ('name = "Hvinhylde"', f'name = "{IMAGE}{BRACES}"'),
        ('name = "round the cairn"', f'name = "{SCRIPT}{MARKUP}"'),
        ('name = "Tove"', f'name = "{IMAGE}"'),
        ('around = "cairn"', f"around = '{IMAGE}{BRACES}'"),
    )(folder)

    def rename(features: list[dict[str, object]]) -> None:
        for feature in features:
            if feature["id"] == "cairn":
                feature["id"] = IMAGE + BRACES
            if str(feature["id"]).startswith("thorn"):
                feature["id"] = f"{SCRIPT}{feature['id']}"
        features[0]["id"] = MARKUP
        features[-2]["properties"] = {"role": "place", "name": SCRIPT + BRACES}

    ground(rename)(folder)
    recording = (folder / "ride.gpx").read_text("utf-8")
    name = "{{ ''.__class__ }}&lt;img src=x onerror=alert(2)&gt;"
    recording = recording.replace("gravel along the edge", name)
    (folder / "ride.gpx").write_text(recording, "utf-8")
    return Hostile(run("plan", str(folder)), folder / "out")


def test_hostile_names_do_not_stop_a_plan(hostile: Hostile) -> None:
    assert hostile.ended.code in (0, 1, 3), hostile.ended.err
    assert (hostile.out / "report.json").is_file()


def test_hostile_names_are_printed_as_they_are(hostile: Hostile) -> None:
    out = folded(hostile.ended.out)
    assert folded(SCRIPT) in out
    assert "[bold red]x[/nope]" in out


def test_hostile_names_stay_whole_in_the_report(hostile: Hostile) -> None:
    report = json.loads(hostile.text("report.json"))
    assert report["site"] == IMAGE + BRACES
    assert report["shots"][0]["name"] == SCRIPT + MARKUP


def test_hostile_names_stay_text_on_the_map(hostile: Hostile) -> None:
    page = hostile.text("map.html")
    assert "<img src=x" not in page
    assert "<script>alert" not in page
    assert "alert(2)&gt;<" not in page
    assert "onerror" in page  # it is there, as text
    assert "{{7*7}}" in page  # and no template made 49 of it
    assert "${7*7}" in page


def test_control_characters_in_names_stay_out_of_terminal_and_files(site: Path) -> None:
    only_the_orbit(site)
    escaped = json.dumps(ESCAPE + TURNED)[1:-1]  # TOML reads the same \u escapes
    toml(
        ('name = "Hvinhylde"', f'name = "Hvin{escaped}hylde"'),
        ('name = "round the cairn"', f'name = "round {escaped}it"'),
        ('name = "Tove"', f'name = "Tove{escaped}"'),
    )(site)
    said("thorn-01", name=ESCAPE + TURNED)(site)
    said("cairn", name=ESCAPE + TURNED)(site)
    ended = run("plan", str(site))
    assert ended.code in (0, 1, 3), ended.err
    for text in (ended.out, ended.err):
        assert not set(ESCAPE + TURNED) & set(text) - set(string.printable)
    for path in (site / "out").iterdir():
        if path.suffix == ".kmz":
            assert b"\x1b" not in zipfile.ZipFile(path).read("doc.kml"), path.name
        elif path.suffix != ".png":
            assert b"\x1b" not in path.read_bytes(), path.name


def test_the_last_shot_is_where_bad_inputs_expect_it() -> None:
    assert (DEMO / "site.toml").read_text("utf-8").rstrip().endswith(LAST)
