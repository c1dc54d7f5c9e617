"""The same question asked of many things on all cores, answers in order.

Workers are forked where that is sound, else started anew: then `ask` and what it holds must be
something that can be pickled. One worker gives the same answers as eight.
"""

from __future__ import annotations

import io
import multiprocessing
import os
import pickle
import signal
import sys
import threading
import warnings
from collections.abc import Callable, Generator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import Any, TypeVar

from shotplan.errors import Problems, WorkerLostError

Item = TypeVar("Item")
Answer = TypeVar("Answer")

SETTING = "SHOTPLAN_WORKERS"
WORKER_BYTES = 600e6  # what one may need: own measurement, with room
SHARE = 0.5  # of the machine's memory, for all of them
FORKS = sys.platform == "linux"  # macOS's own libraries do not survive a fork

_ask: Callable[[Any], Any] | None = None  # of a worker: what it was started with
_shared: Mapping[str, object] = {}


def each(
    ask: Callable[[Item], Answer],
    items: Sequence[Item],
    *,
    shared: Mapping[str, object] | None = None,
    workers: int | None = None,
    fork: bool | None = None,
) -> Generator[Answer, None, None]:
    """`ask(item)` for each item, in order, by as many workers as `at_most` says.

    `shared` by name: what items and answers may hold and every worker has already; it is the same
    object on both sides, and never sent. A worker's error is raised here; where a worker is gone,
    `WorkerLostError`. Ctrl-C, and an end before the last answer, end them all.
    """
    count = min(at_most() if workers is None else workers, len(items))
    if count < 2 or _ask is not None:
        yield from map(ask, items)
        return
    known, mine = shared or {}, set(multiprocessing.active_children())
    context = multiprocessing.get_context("fork" if (FORKS if fork is None else fork) else "spawn")
    pool = ProcessPoolExecutor(count, context, _begin, (ask, known))
    try:
        with warnings.catch_warnings():
            # A progress bar's timer is a thread; a worker touches neither it nor the terminal.
            warnings.simplefilter("ignore", DeprecationWarning)
            waiting = [pool.submit(_answer, _packed(item, known)) for item in items]
        for answer in waiting:
            yield _unpacked(answer.result(), known)
    except BrokenProcessPool as lost:
        raise WorkerLostError(
            "a worker process was ended from outside, most often for want of memory; "
            f"try again with {SETTING}=1"
        ) from lost
    except BaseException:
        for child in set(multiprocessing.active_children()) - mine:
            child.terminate()
        raise
    finally:
        pool.shutdown(cancel_futures=True)


def at_most() -> int:
    """Workers at a time: the setting, else a worker to a core as far as memory goes."""
    said = os.environ.get(SETTING, "")
    if said:
        problems = Problems()
        if not (said.isdecimal() and 1 <= int(said) <= 999):
            problems.add(SETTING, f"got {said!r}, wanted a whole number from 1 to 999")
        problems.raise_if_any()
        return int(said)
    cores = len(os.sched_getaffinity(0)) if FORKS else os.cpu_count() or 1
    return max(1, min(cores, _fits()))


def _fits() -> int:
    try:
        memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    except (AttributeError, ValueError, OSError):  # where the system does not say
        return 2
    return int(SHARE * memory / WORKER_BYTES)


def _begin(ask: Callable[[Any], Any], shared: Mapping[str, object]) -> None:
    """Of a worker. Ctrl-C goes to the parent, which ends its workers; where the parent was killed
    they end by themselves."""
    global _ask, _shared
    _ask, _shared = ask, shared
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _answer(item: bytes) -> bytes:
    assert _ask is not None
    return _packed(_ask(_unpacked(item, _shared)), _shared)


class _Packer(pickle.Pickler):
    """Writes what is shared by its name."""

    names: dict[int, str]

    def persistent_id(self, thing: Any) -> str | None:
        return self.names.get(id(thing))


class _Unpacker(pickle.Unpickler):
    shared: Mapping[str, object]

    def persistent_load(self, name: Any) -> object:
        return self.shared[name]


def _packed(thing: object, shared: Mapping[str, object]) -> bytes:
    held = io.BytesIO()
    packer = _Packer(held, pickle.HIGHEST_PROTOCOL)
    packer.names = {id(it): name for name, it in shared.items()}
    packer.dump(thing)
    return held.getvalue()


def _unpacked(packed: bytes, shared: Mapping[str, object]) -> Any:
    unpacker = _Unpacker(io.BytesIO(packed))
    unpacker.shared = shared
    return unpacker.load()
