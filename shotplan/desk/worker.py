"""A bench in a process of its own: the newest question wins, a long one can be stopped.

While one question is asked only the newest of those that wait is kept; the others are answered with
None. Stopping ends the process; the next question starts a new one.
"""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import signal
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from shotplan.desk.folder import Texts

Answer = dict[str, Any]
Tell = Callable[[Answer], None]
LOST = "the process that works it out was ended from outside; ask again"


class Worker:
    """One process, started with the first question."""

    def __init__(self, folder: Path, drafts: Path, allow_outside: bool = False) -> None:
        """`drafts` is a folder for this worker alone."""
        self.folder, self.drafts, self.allow_outside = folder, drafts, allow_outside
        self._process: BaseProcess | None = None
        self._line: Connection | None = None
        self._turn = asyncio.Lock()
        self._newest = 0
        self._over = False

    async def ask(
        self, question: str, texts: Texts, changes: Any, shot: int, tell: Tell = lambda _: None
    ) -> Answer | None:
        """The answer; None where a newer question came before its turn."""
        self._newest += 1
        mine = self._newest
        async with self._turn:
            if mine != self._newest:
                return None
            return await asyncio.to_thread(self._asked, (question, texts, changes, shot), tell)

    def _asked(self, question: Any, tell: Tell) -> Answer:
        """Sent, and waited for."""
        try:
            line = self._started()
            line.send(question)
            while True:
                kind, said = line.recv()
                if kind == "answer":
                    return dict(said)
                tell(said)
        except (EOFError, OSError):
            self.stop()
            return {"lost": LOST}

    def _started(self) -> Connection:
        if self._over:
            raise EOFError
        if self._process is None or self._line is None or not self._process.is_alive():
            self.stop()
            self.drafts.mkdir(exist_ok=True)
            context = multiprocessing.get_context("spawn")
            self._line, theirs = context.Pipe()
            self._process = context.Process(
                target=_work,
                args=(theirs, self.folder, self.drafts, self.allow_outside),
                daemon=True,
            )
            self._process.start()
            theirs.close()
        return self._line

    def warm(self) -> None:
        """Start the process before anything is asked."""
        self._started()

    def end(self) -> None:
        """Stop for good."""
        self._over = True
        self.stop()

    def stop(self) -> None:
        """End what is being worked out, and the process with it."""
        process, self._process = self._process, None
        if process is not None and process.is_alive():
            process.terminate()
            process.join(2.0)
            if process.is_alive():
                process.kill()
                process.join()


def _work(line: Connection, folder: Path, drafts: Path, allow_outside: bool) -> None:
    """Of the process. Ctrl-C goes to the parent, which ends it; so does the parent's own end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from shotplan.desk import pictures  # noqa: F401  with all that is heavy, before it is asked
    from shotplan.desk.bench import Bench

    bench = Bench(folder, drafts, allow_outside=allow_outside)
    with contextlib.suppress(EOFError, OSError):
        while True:
            question, texts, changes, shot = line.recv()
            try:
                said = bench.ask(
                    question, texts, changes, shot, lambda far: line.send(("far", far))
                )
            except Exception as error:
                said = {"lost": f"this could not be worked out ({type(error).__name__}); "
                        "undo the last change, or save and run shotplan plan"}  # fmt: skip
            line.send(("answer", said))
