"""A few invented things on a map, one of each kind a writer must know."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np

from shotplan.files.placed import Folder, Placed

START = dt.datetime(2026, 6, 20, 20, 10, tzinfo=dt.timezone(dt.timedelta(hours=1)))
LINE = np.array([[-8.1, 54.2], [-8.0999, 54.2001], [-8.0998, 54.2003]])
RING = np.array([[-8.1, 54.2], [-8.1, 54.21], [-8.09, 54.21], [-8.09, 54.2]])  # clockwise
HOLE = np.array([[-8.097, 54.203], [-8.095, 54.203], [-8.095, 54.206]])


def flown(
    name: str = "A go", words: str = "as flown", z_m: tuple[float, ...] = (90.0, 91.25, 92.5)
) -> Placed:
    return Placed(
        kind="track-go",
        name=name,
        words=words,
        shape="line",
        parts=(LINE,),
        z_m=(np.array(z_m),),
        heights="elevation",
        values={"verdict": "go", "height_m": [5.0, math.nan, 7.12345], "limit": math.inf, "n": 3},
        moments=tuple(START + dt.timedelta(seconds=0.5 * i) for i in range(3)),
        track="go",
    )


def pin(name: str = "A1", words: str = "tight") -> Placed:
    return Placed(kind="pin-go", name=name, words=words, shape="point", parts=(LINE[:1],),
                  z_m=(np.array([90.0]),), heights="elevation")  # fmt: skip


def wood(z_m: float = 14.0) -> Placed:
    return Placed(kind="wood", name="wood", words="14 m high", shape="area", parts=(RING, HOLE),
                  z_m=(np.full(4, z_m), np.full(3, z_m)), heights="above the ground")  # fmt: skip


def tree() -> Placed:
    return Placed(kind="tree", name="thorn", words="6 m high", shape="area", parts=(HOLE,),
                  z_m=(np.full(3, 6.0),), heights="above the ground",
                  centre=HOLE.mean(axis=0))  # fmt: skip


def rider() -> Placed:
    return Placed(kind="ride", name="rider", words="rides", shape="line", parts=(LINE,),
                  z_m=(np.array([84.0, math.nan, 85.0]),), heights="on the ground")  # fmt: skip


def folders(*more: Placed) -> tuple[Folder, ...]:
    return (
        Folder("shot A", "words of A", (flown(), pin(), rider(), *more)),
        Folder("around", "", (wood(), tree())),
    )
