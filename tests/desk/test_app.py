"""The server: who may ask, what it takes, what saving does to a folder."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from shotplan.desk import guard
from shotplan.desk.app import Desk, app_of
from shotplan.desk.guard import Guard
from shotplan.desk.worker import Worker
from tests.worlds import tree, write_site

HOST, TOKEN = "127.0.0.1:4711", "a-token"
OWN = {"origin": f"http://{HOST}"}
BAD = -3.0


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    folder = tmp_path_factory.mktemp("desk")
    site = write_site(folder / "site", features=[tree("oak", east_m=30.0, north_m=4.0)])
    text = (site / "site.toml").read_text("utf-8")
    (site / "site.toml").write_text(f"# mine\n{text}# last\n", encoding="utf-8")
    (folder / "room").mkdir()
    made = Desk(site, folder / "room")
    yield made
    made.stop()


class Client:
    """Asks the app without a network, a loop for each question."""

    def __init__(self, desk: Desk) -> None:
        self.app = Guard(app_of(desk), HOST, TOKEN)

    def request(self, method: str, where: str, **said: Any) -> httpx.Response:
        async def asked() -> httpx.Response:
            way = httpx.ASGITransport(self.app)
            async with httpx.AsyncClient(transport=way, base_url=f"http://{HOST}") as client:
                return await client.request(method, where, **said)

        return asyncio.run(asked())

    def get(self, where: str, **said: Any) -> httpx.Response:
        return self.request("GET", where, **said)

    def post(self, where: str, **said: Any) -> httpx.Response:
        return self.request("POST", where, **said)


@pytest.fixture(scope="module")
def client(desk: Desk) -> Client:
    return Client(desk)


def state(client: Client) -> dict[str, Any]:
    return dict(client.get(f"/{TOKEN}/state").json())


def post(client: Client, where: str, said: Any, **headers: str) -> Any:
    return client.post(f"/{TOKEN}/{where}", json=said, headers={**OWN, **headers})


def test_the_page_comes_with_its_policy(client: Client) -> None:
    answer = client.get(f"/{TOKEN}/")
    assert answer.status_code == 200
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "<script>" not in answer.text
    assert "style=" not in answer.text
    assert "set-cookie" not in answer.headers
    assert answer.headers["referrer-policy"] == "no-referrer"
    for part in ("main.js", "desk.css", "leaflet.js", "leaflet.css"):
        assert client.get(f"/{TOKEN}/{part}").status_code == 200


@pytest.mark.parametrize(
    ("path", "headers", "status"),
    [
        ("/", {}, 404),
        ("/other/", {}, 404),
        (f"/{TOKEN}x/state", {}, 404),
        (f"/{TOKEN}/state", {"host": "evil.example:4711"}, 421),
        (f"/{TOKEN}/state", {"host": "localhost:4711"}, 421),
        (f"/{TOKEN}/state", {"host": "127.0.0.1:4712"}, 421),
        (f"/{TOKEN}/state", {"origin": "http://127.0.0.1:4712"}, 403),
        (f"/{TOKEN}/state", {"origin": "null"}, 403),
        (f"/{TOKEN}/state", {"sec-fetch-site": "cross-site"}, 403),
        (f"/{TOKEN}/state", {"sec-fetch-site": "same-site"}, 403),
    ],
)
def test_nobody_else_is_answered(
    client: Client, path: str, headers: dict[str, str], status: int
) -> None:
    answer = client.get(path, headers=headers)
    assert answer.status_code == status
    assert "oak" not in answer.text


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 403),
        ({"origin": "http://evil.example"}, 403),
        ({**OWN, "content-type": "text/plain"}, 415),
        ({**OWN, "content-type": "application/x-www-form-urlencoded"}, 415),
    ],
)
def test_nobody_else_can_post(
    client: Client, desk: Desk, headers: dict[str, str], status: int
) -> None:
    said = {"base": state(client)["base"], "changes": {"removed": ["oak"]}}
    before = (desk.site / "ground.geojson").read_bytes()
    sent = {"content-type": "application/json", **headers}
    answer = client.post(f"/{TOKEN}/save", content=json.dumps(said), headers=sent)
    assert answer.status_code == status
    assert (desk.site / "ground.geojson").read_bytes() == before


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "HEAD", "PATCH"])
def test_other_methods_are_not_known(client: Client, method: str) -> None:
    assert client.request(method, f"/{TOKEN}/state").status_code == 405


def test_a_body_has_a_limit_said_or_not(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "LARGEST_BODY", 1000)
    assert post(client, "save", {"changes": {}, "x": "y" * 2000}).status_code == 413

    async def pieces() -> AsyncIterator[bytes]:
        for piece in [b'{"x": "', *[b"y" * 500] * 5, b'"}']:
            yield piece

    sent = {**OWN, "content-type": "application/json"}
    answer = client.post(f"/{TOKEN}/save", content=pieces(), headers=sent)
    assert answer.status_code == 413


@pytest.mark.parametrize(
    "name",
    ["../site.toml", "..%2fsite.toml", "%2e%2e/site.toml", "/etc/passwd", "//etc/passwd",
     "page/../app.py", "..\\site.toml", "site.toml", "ground.geojson", "app.py", "main.js%00"],
)  # fmt: skip
def test_no_path_reaches_the_disk(client: Client, name: str) -> None:
    answer = client.get(f"/{TOKEN}/{name}")
    assert answer.status_code in (404, 405)
    assert "oak" not in answer.text
    assert "root:" not in answer.text


@pytest.mark.parametrize(
    "said",
    [[], {}, {"base": "x", "changes": {}}, {"base": 3, "changes": {"features": 3}}, "x", 3],
)
def test_what_is_no_change_is_refused(client: Client, said: Any) -> None:
    assert post(client, "save", said).status_code in (400, 410)
    assert post(client, "ask/word", said).status_code in (400, 410)


@pytest.mark.parametrize(
    "changes",
    [
        {"features": []},
        {"features": {"oak": 3}},
        {"features": {"oak": {"properties": {}}}},
        {"removed": [3]},
        {"shot": [3]},
        {"shot": [{"_was": -1}]},
        {"shot": [{"_was": 99, "name": "a"}]},
        {"ride": 3},
    ],
)
def test_changes_of_another_shape_are_refused(
    client: Client, desk: Desk, changes: dict[str, Any]
) -> None:
    before = {p.name: p.read_bytes() for p in desk.site.iterdir()}
    answer = post(client, "save", {"base": state(client)["base"], "changes": changes})
    assert answer.status_code == 422
    assert answer.json()["problems"]
    assert {p.name: p.read_bytes() for p in desk.site.iterdir()} == before


def test_saving_keeps_comments_and_a_conflict_is_said(client: Client, desk: Desk) -> None:
    read = state(client)
    shot = {**read["shot"][0], "distance_m": 17.0}
    oak = next(f for f in read["features"] if f["id"] == "oak")
    grown = {**oak, "properties": {**oak["properties"], "height_m": 11.5}}
    changes = {"shot": [shot], "features": {"oak": grown}}
    before = (desk.site / "site.toml").read_text("utf-8")
    answer = post(client, "save", {"base": read["base"], "changes": changes})
    assert answer.status_code == 200
    now = (desk.site / "site.toml").read_text("utf-8")
    assert now == before.replace("distance_m = 12.0", "distance_m = 17.0")
    assert (desk.site / "site.toml.before").read_text("utf-8") == before
    assert answer.json()["shot"][0]["distance_m"] == 17.0

    theirs = now.replace("# mine", "# theirs")
    (desk.site / "site.toml").write_text(theirs, encoding="utf-8")
    base = answer.json()["base"]
    seen = client.get(f"/{TOKEN}/changed", params={"base": base}).json()
    assert seen == {"changed": ["site.toml"]}
    refused = post(client, "save", {"base": base, "changes": {"removed": ["oak"]}})
    assert refused.status_code == 409
    assert refused.json() == {"changed": ["site.toml"]}
    assert (desk.site / "site.toml").read_text("utf-8") == theirs
    assert '"oak"' in (desk.site / "ground.geojson").read_text("utf-8")


def test_word_proof_and_problems_come_from_a_process_of_its_own(client: Client, desk: Desk) -> None:
    read = state(client)
    said = {"base": read["base"], "changes": {}, "shot": 0}
    word = post(client, "ask/word", said).json()
    assert word["word"] in ("go", "caution", "unknown", "no-go")
    assert word["rides"] == 1
    assert word["flies"]
    oak = next(f for f in read["features"] if f["id"] == "oak")
    low = {**oak, "properties": {**oak["properties"], "height_m": BAD}}
    wrong = post(client, "ask/word", {**said, "changes": {"features": {"oak": low}}}).json()
    assert wrong["problems"][0]["feature"] == "oak"
    assert "at least" in wrong["problems"][0]["what"]
    shot = {**read["shot"][0], "distance_m": BAD}
    wrong = post(client, "ask/word", {**said, "changes": {"shot": [shot]}}).json()
    assert wrong["problems"][0]["shot"] == 0
    assert post(client, "ask/nothing", said).status_code == 404
    assert post(client, "ask/word", {**said, "shot": "0"}).status_code == 404


def test_the_newest_question_wins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While one is asked three more come: the first two of them are dropped."""
    asked: list[int] = []

    def slow(self: Worker, question: Any, tell: Any) -> dict[str, Any]:
        asked.append(question[3])
        return {"shot": question[3]}

    monkeypatch.setattr(Worker, "_asked", slow)

    async def all_at_once() -> list[Any]:
        worker = Worker(tmp_path, tmp_path)
        texts: Any = None
        first = asyncio.create_task(worker.ask("word", texts, {}, 0))
        await asyncio.sleep(0)
        rest = [asyncio.create_task(worker.ask("word", texts, {}, n)) for n in (1, 2, 3)]
        return list(await asyncio.gather(first, *rest))

    answers = asyncio.run(all_at_once())
    assert answers == [{"shot": 0}, None, None, {"shot": 3}]
    assert asked == [0, 3]
