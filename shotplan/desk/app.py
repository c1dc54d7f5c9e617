"""What each address of the page does. Names of files are a fixed table made at the start: no path
from a request reaches the disk."""

from __future__ import annotations

import asyncio
import importlib
import json
from collections.abc import AsyncIterator
from importlib.resources import files
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from shotplan.desk import draft, folder, forms
from shotplan.desk.folder import ChangedMeanwhile, Texts
from shotplan.desk.worker import Worker
from shotplan.errors import BadInput

KINDS = {".html": "text/html", ".css": "text/css", ".js": "text/javascript"}
LONG = ("prove", "mend")
QUICK = ("word", "frame", "ground")
KEPT = 8  # older versions of the folder a page may still have changes of


class Desk:
    """One site folder, and who works things out for it."""

    def __init__(self, site: Path, room: Path, *, allow_outside: bool = False) -> None:
        """`room`: an empty folder of our own, for drafts."""
        self.site, self.allow_outside = site, allow_outside
        self.known: dict[str, Texts] = {}
        self.quick, self.long = (
            Worker(site, room / name, allow_outside) for name in ("quick", "long")
        )

    def opened(self) -> dict[str, Any]:
        """The folder as it is now, as the page is given it."""
        texts = folder.load(self.site, allow_outside=self.allow_outside)
        found = draft.opened(texts)
        return {**found, "base": self._keep(texts), "names": list(texts.sums)}

    def _keep(self, texts: Texts) -> str:
        base = "-".join(sum_[:24] for sum_ in texts.sums.values())
        self.known[base] = texts
        for old in list(self.known)[:-KEPT]:
            del self.known[old]
        return base

    def stop(self) -> None:
        """End both processes."""
        self.quick.end()
        self.long.end()


def app_of(desk: Desk) -> Starlette:
    """The addresses, without the token before them."""
    table = _table()

    async def asset(request: Request) -> Response:
        found = table.get(request.url.path.removeprefix("/") or "index.html")
        if found is None:
            return Response("nothing here", 404, media_type="text/plain")
        return Response(found[1], media_type=found[0])

    async def state(_: Request) -> Response:
        try:
            return JSONResponse({**desk.opened(), "forms": forms.FORMS, "styles": forms.styles()})
        except BadInput as bad:
            problems = [{"where": p.where, "what": p.what} for p in bad.problems]
            return JSONResponse({"problems": problems})

    async def changed(request: Request) -> Response:
        texts = desk.known.get(request.query_params.get("base", ""))
        names = folder.changed(desk.site, texts.sums) if texts else ()
        return JSONResponse({"changed": list(names)})

    async def ask(request: Request) -> Response:
        return await _ask(desk, request.path_params["question"], request)

    async def save(request: Request) -> Response:
        return await _save(desk, request)

    routes = [
        Route("/state", state),
        Route("/changed", changed),
        Route("/ask/{question}", ask, methods=["POST"]),
        Route("/save", save, methods=["POST"]),
        Route("/{name:path}", asset),
    ]
    return Starlette(routes=routes)


async def _said(desk: Desk, request: Request) -> tuple[dict[str, Any], Texts] | Response:
    """The JSON of a request and the texts it is about; else what is wrong with it."""
    try:
        said = json.loads(await request.body(), parse_constant=_no_number)
    except (ValueError, RecursionError):
        return JSONResponse({"wrong": "no sound JSON"}, 400)
    if not isinstance(said, dict) or not isinstance(said.get("changes"), dict):
        return JSONResponse({"wrong": "no changes"}, 400)
    texts = desk.known.get(str(said.get("base")))
    if texts is None:
        return JSONResponse({"wrong": "another version"}, 410)
    return said, texts


def _no_number(name: str) -> None:
    raise ValueError(f"{name} is not a number JSON has")


async def _ask(desk: Desk, question: str, request: Request) -> Response:
    found = await _said(desk, request)
    if isinstance(found, Response):
        return found
    said, texts = found
    shot = said.get("shot", 0)
    if question not in (*LONG, *QUICK) or type(shot) is not int:
        return JSONResponse({"wrong": "no such question"}, 404)
    if question in QUICK:
        answer = await desk.quick.ask(question, texts, said["changes"], shot)
        return JSONResponse(answer if answer is not None else {"dropped": True})
    lines = _lines(desk, question, texts, said["changes"], shot)
    return StreamingResponse(lines, media_type="application/x-ndjson")


async def _lines(
    desk: Desk, question: str, texts: Texts, changes: Any, shot: int
) -> AsyncIterator[str]:
    """How far it is, a line each, and the answer last. Nobody listening any more ends the work, and
    so does the next long question."""
    loop, told = asyncio.get_running_loop(), asyncio.Queue[dict[str, Any]]()
    desk.long.stop()

    def tell(far: dict[str, Any]) -> None:
        loop.call_soon_threadsafe(told.put_nowait, {"far": far})

    async def ask() -> None:
        answer = await desk.long.ask(question, texts, changes, shot, tell)
        await told.put({"answer": answer or {"dropped": True}})

    asked = asyncio.create_task(ask())
    ended = False
    try:
        while not ended:
            line = await told.get()
            ended = "answer" in line
            yield json.dumps(line) + "\n"
    finally:
        if not ended:
            desk.long.stop()
        await asyncio.wait([asked], timeout=5.0)


async def _save(desk: Desk, request: Request) -> Response:
    found = await _said(desk, request)
    if isinstance(found, Response):
        return found
    said, texts = found
    over = desk.known.get(str(said.get("over"))) if "over" in said else texts
    if over is None:
        return JSONResponse({"wrong": "another version"}, 410)
    try:
        new = draft.edited(texts, said["changes"])
        folder.save(desk.site, texts, new, over=over.sums)
        return JSONResponse({"saved": True, **desk.opened()})
    except ChangedMeanwhile as others:
        return JSONResponse({"changed": list(others.names)}, 409)
    except BadInput as bad:
        return JSONResponse({"problems": draft.said_of(bad, texts)}, 422)
    except OSError as error:
        where = Path(error.filename or "").name
        problems = [{"where": where, "what": error.strerror or "cannot be written"}]
        return JSONResponse({"problems": problems}, 422)


def _table() -> dict[str, tuple[str, bytes]]:
    """Name -> kind and bytes of all the page is made of."""
    found = {}
    for part in files("shotplan.desk").joinpath("page").iterdir():
        kind = KINDS.get(Path(part.name).suffix)
        if kind:
            found[part.name] = (kind, part.read_bytes())
    base = Path(importlib.import_module("xstatic.pkg.leaflet").BASE_DIR)
    for name in ("leaflet.js", "leaflet.css"):
        text = (base / name).read_text("utf-8").split("//# sourceMappingURL")[0]
        found[name] = (KINDS[Path(name).suffix], text.encode("utf-8"))
    return found
