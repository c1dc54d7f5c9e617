"""The word beside a draft is the word of the folder once it is saved."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from PIL import Image

from shotplan.desk import draft, flights, folder, forms
from shotplan.desk.bench import Bench
from shotplan.files.spelled import own_key
from shotplan.files.tables import known_keys
from shotplan.outing import read
from shotplan.output.screen import reasons
from shotplan.plan import make
from shotplan.site.roles import ROLES
from tests.worlds import lonlat, tree, write_site

LOUD: list[dict[str, Any]] = []


class Desk(NamedTuple):
    site: Path
    bench: Bench

    def ask(self, question: str, changes: dict[str, Any], shot: int = 0) -> dict[str, Any]:
        return self.bench.ask(question, folder.load(self.site), changes, shot, LOUD.append)

    def opened(self) -> dict[str, Any]:
        return draft.opened(folder.load(self.site))


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    room = tmp_path_factory.mktemp("bench")
    second = {"name": "over", "style": "top-down", "height_m": 15.0, "from_m": 50.0}
    first = {"name": "beside", "style": "side-track", "side": "left",
             "distance_m": 12.0, "height_m": 6.0}  # fmt: skip
    write_site(
        room / "site",
        site={"shot": [first, second], "return_height_m": 40.0},
        features=[tree("oak", east_m=-30.0, north_m=4.0)],
        terrain=lambda x, y: 84.0 + 0.02 * x - 0.05 * y,
    )
    (room / "drafts").mkdir()
    return Desk(room / "site", Bench(room / "site", room / "drafts"))


def changes_of(kind: str, opened: dict[str, Any]) -> dict[str, Any]:
    shot, oak = opened["shot"], next(f for f in opened["features"] if f["id"] == "oak")
    if kind == "shot":
        return {"shot": [{**shot[0], "distance_m": 25.0, "height_m": 9.0}, shot[1]]}
    if kind == "style":
        changed = {k: v for k, v in shot[0].items() if k != "side"} | {"style": "follow-behind"}
        return {"shot": [changed, shot[1]]}
    if kind == "part":
        return {"shot": [{**shot[0], "from_m": 60.0, "to_m": 150.0}, shot[1]]}
    if kind == "thing":
        near = {"type": "Point", "coordinates": lonlat(-11.0, 0.0)}
        return {"features": {"oak": {**oak, "geometry": near}}}
    if kind == "ride":
        line = {"type": "LineString", "coordinates": [lonlat(0.0, -60.0), lonlat(8.0, 70.0)]}
        made = {"properties": {"role": "ride"}, "geometry": line}
        ride = {**opened["ride"], "path": "ride-01", "speed_m_s": 5.0, "error_m": 0.5}
        return {"features": {"ride-01": made}, "ride": ride}
    return {"removed": ["oak"]}


@pytest.mark.parametrize("kind", ["shot", "thing", "part", "style", "ride", "removed"])
def test_the_word_is_that_of_the_saved_folder(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    changes = changes_of(kind, desk.opened())
    desk.ask("word", {})
    with monkeypatch.context() as patch:
        if kind in ("thing", "removed"):  # what is flown stays as it is
            patch.setattr(flights, "undisturbed", None)
        told = desk.ask("word", changes)
    texts = draft.edited(folder.load(desk.site), changes)
    (tmp_path / "site.toml").write_text(texts.site, encoding="utf-8")
    (tmp_path / "ground.geojson").write_text(texts.ground, encoding="utf-8")
    (tmp_path / "terrain.tif").write_bytes((desk.site / "terrain.tif").read_bytes())
    judged = make(read(tmp_path), rides=1, shot="beside").shots[0]
    assert told["word"] == judged.verdict.word
    assert told["reasons"] == list(reasons(judged))
    assert [s["word"] for s in told["stretches"]] == [s.verdict.word for s in judged.stretches]
    ends = [run["line"][i] for run, i in ((told["flies"][0], 0), (told["flies"][-1], -1))]
    flown = judged.scene.site.frame.lonlat_deg(judged.track.xyz_m[0, [0, -1], :2])
    assert np.allclose(np.array(ends)[:, ::-1], flown, atol=2e-7)


def test_the_folder_itself_is_not_touched(desk: Desk) -> None:
    before = {p.name: p.read_bytes() for p in desk.site.iterdir()}
    desk.ask("word", changes_of("ride", desk.opened()))
    assert {p.name: p.read_bytes() for p in desk.site.iterdir()} == before


def test_a_proof_counts_its_questions_and_says_its_rides(desk: Desk) -> None:
    LOUD.clear()
    text = folder.load(desk.site)
    many = text._replace(site=text.site.replace("rides = 1", "rides = 12"))
    told = desk.bench.ask("prove", many, {}, 1, LOUD.append)
    assert told["rides"] == 12
    done = [far["done"] for far in LOUD]
    assert done == list(range(len(done)))
    assert {far["of"] for far in LOUD} == {len(done)}


def test_the_ground_holds_the_ride(desk: Desk) -> None:
    told = desk.ask("ground", {})
    (south, west), (north, east) = told["corners"]
    for lat, lon, metre in told["ride_line"]:
        assert south < lat < north
        assert west < lon < east
        assert 0.0 <= metre <= told["ride_m"] + 0.1
    assert told["ride_m"] == pytest.approx(200.0, abs=0.5)
    assert told["contours"]


def test_a_frame_is_a_picture(desk: Desk) -> None:
    told = desk.ask("frame", {})
    data = base64.b64decode(told["picture"].partition(",")[2])
    assert Image.open(io.BytesIO(data)).size[0] == 400
    assert "of the height" in told["says"]


def test_a_shot_that_is_not_there_is_no_error(desk: Desk) -> None:
    assert desk.ask("word", {}, shot=7) == {"problems": []}


def test_every_property_of_every_role_can_be_filled_in() -> None:
    assert set(forms.FORMS) == set(ROLES)
    for role, (schema, _) in ROLES.items():
        asked = {field["key"] for field in forms.FORMS[role]["fields"]}
        wanted = {own_key(key)[0] for key in known_keys(schema)}
        bare = {"people", "keep-out", "wildlife", "water", "place", "boundary", "surveyed", "ride"}
        assert wanted - asked <= ({"height_error_m"} if role in bare else set()), role
        assert asked <= wanted, role
    tools = [one["tool"] for one in forms.FORMS.values()]
    assert len(set(tools) | {"V", "H"}) == len(tools) + 2
