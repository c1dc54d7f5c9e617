"""The server of the draw page: on this machine only, for as long as it is wanted."""

from __future__ import annotations

import secrets
import signal
import socket
import tempfile
import webbrowser
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import uvicorn

from shotplan.desk import draft, folder
from shotplan.desk.app import Desk, app_of
from shotplan.desk.guard import Guard

HOST = "127.0.0.1"
# As Ctrl-C does, so that nothing is left behind.
ENDS = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]


class _Server(uvicorn.Server):
    """Ends the processes of its desk first: whoever waits for them is answered and goes."""

    desk: Desk

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Of Ctrl-C, of a closed terminal."""
        self.desk.stop()
        super().handle_exit(sig, frame)


def serve(
    site: Path, say: Callable[[str], None], *, open_: bool = False, allow_outside: bool = False
) -> None:
    """Serve the page of a site folder until Ctrl-C; `say` is told the address. `BadInput` where
    the folder cannot be drawn on."""
    folder.finish(site)
    draft.opened(folder.load(site, allow_outside=allow_outside))
    token = secrets.token_urlsafe(24)
    with tempfile.TemporaryDirectory(prefix="shotplan-draw-") as room, socket.socket() as bound:
        bound.bind((HOST, 0))
        host = f"{HOST}:{bound.getsockname()[1]}"
        desk = Desk(site, Path(room), allow_outside=allow_outside)
        server = _Server(
            uvicorn.Config(
                Guard(app_of(desk), host, token), log_level="critical", access_log=False,
                lifespan="off", server_header=False, timeout_graceful_shutdown=1,
            )
        )  # fmt: skip
        server.desk = desk
        desk.quick.warm()
        address = f"http://{host}/{token}/"
        say(address)
        if open_:
            webbrowser.open(address)
        for other in ENDS:
            signal.signal(other, signal.default_int_handler)
        try:
            server.run(sockets=[bound])
        except KeyboardInterrupt:
            pass
        finally:
            desk.stop()
