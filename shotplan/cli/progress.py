"""A progress bar for people who wait: on stderr, only on a terminal, only after two seconds."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

PATIENCE_S = 2.0


@contextmanager
def progress(shots: int) -> Iterator[Callable[[str], None]]:
    """A function to call with each step's name as it starts: the shots, then the drawing."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import Progress

    from shotplan.output.words import plain

    bar = Progress(console=Console(stderr=True, markup=False), transient=True)
    job = bar.add_task("", total=shots + 1)
    begun = 0

    def tell(name: str) -> None:
        nonlocal begun
        bar.update(job, completed=begun, description=plain(name).replace("[", "\\[")[:40])
        begun += 1

    timer = threading.Timer(PATIENCE_S, bar.start)
    timer.daemon = True
    timer.start()
    try:
        yield tell
    finally:
        timer.cancel()
        timer.join()
        bar.stop()
