"""The same question asked of many things on all cores, answers in order."""

from __future__ import annotations

import multiprocessing
import os
import signal
import warnings
from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeVar

Item = TypeVar("Item")
Answer = TypeVar("Answer")

_ask: Callable[[Any], Any] | None = None  # of a worker: what it was forked with


def each(
    ask: Callable[[Item], Answer], items: Sequence[Item], processes: int | None = None
) -> Iterator[Answer]:
    """`ask(item)` for each item, in order, on as many processes as there are cores.

    Workers are forked, so `ask` may hold anything; where the system cannot fork, or one process is
    all there is, everything is asked here, with the same answers. Ctrl-C ends them all.
    """
    count = min(processes or os.cpu_count() or 1, len(items))
    if count < 2 or "fork" not in multiprocessing.get_all_start_methods():
        yield from map(ask, items)
        return
    global _ask  # noqa: PLW0603 a forked worker inherits it; nothing is pickled but the answers
    _ask = ask
    with warnings.catch_warnings():
        # A progress bar's timer is a thread; a worker touches neither it nor the terminal.
        warnings.simplefilter("ignore", DeprecationWarning)
        pool = multiprocessing.get_context("fork").Pool(count, _deaf)
    try:
        yield from pool.imap(_answer, items)
    finally:
        pool.terminate()
        pool.join()
        _ask = None


def _deaf() -> None:
    """Ctrl-C goes to the parent, which ends its workers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _answer(item: Any) -> Any:
    assert _ask is not None
    return _ask(item)
