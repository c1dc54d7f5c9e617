"""Least margin by metre of the ride, against a plain loop."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from shotplan.kernels.rides.by_place import Metres, Stretches, least_by_place, metres


def slow(margin: np.ndarray, along: np.ndarray, ms: np.ndarray) -> np.ndarray:
    out = np.full(len(ms), np.inf)
    for k, m in enumerate(ms):
        near = margin[np.abs(along - m) <= 5.0]
        if not len(near):
            continue
        if (near < 0).any():
            out[k] = np.nanmin(near)
        elif np.isnan(near).any():
            out[k] = np.nan
        else:
            out[k] = near.min()
    return out


@given(st.integers(0, 2**31), st.integers(1, 300))
def test_agrees_with_a_plain_loop(seed: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    along = np.sort(rng.uniform(0, 60, n))
    margin = rng.normal(2.0, 2.0, n)
    margin[rng.random(n) < 0.1] = np.nan
    margin[rng.random(n) < 0.1] = np.inf
    ms = metres(along)
    got = least_by_place(margin[None], along[None], Metres(ms), np.ones((1, n), bool))[0]
    np.testing.assert_allclose(got, slow(margin, along, ms).astype(np.float32), rtol=1e-6)


def test_unfilmed_samples_do_not_count() -> None:
    along = np.arange(20.0)
    margin = np.where(along < 10, -1.0, 4.0)
    got = least_by_place(margin[None], along[None], Metres(metres(along)), (along >= 10)[None])
    assert (got >= 4.0).all()


def test_metres_cover_a_rider_who_does_not_move() -> None:
    assert len(metres(np.full(5, 12.3))) == 1


@given(st.integers(0, 2**31), st.integers(1, 200), st.booleans())
def test_stretches_agree_with_a_plain_loop_over_fine_metres(
    seed: int, n: int, sound_too: bool
) -> None:
    rng = np.random.default_rng(seed)
    edges = np.concatenate([[0.0], np.cumsum(rng.uniform(2.0, 20.0, rng.integers(1, 8)))])
    along = rng.uniform(0.0, edges[-1], n)
    margin = rng.normal(2.0, 2.0, n)
    margin[rng.random(n) < 0.1] = np.nan
    filming = np.ones((1, n), bool)
    got = least_by_place(margin[None], along[None], Stretches(edges), filming, sound_too)[0]
    for low, high, least in zip(edges[:-1], edges[1:], got, strict=True):
        near = margin[(along + 5.0 >= low) & (along - 5.0 < high)]
        wanted = slow(near, np.zeros(len(near)), np.zeros(1))[0]
        if sound_too or not wanted >= 0.0:
            np.testing.assert_equal(least, wanted)
        else:
            assert least >= 0.0


def test_what_lies_off_the_stretches_counts_to_the_nearest() -> None:
    along, margin = np.array([-30.0, 15.0, 90.0]), np.array([-1.0, 2.0, -3.0])
    stretches = Stretches(np.array([0.0, 10.0, 20.0, 30.0]))
    got = least_by_place(margin[None], along[None], stretches, np.ones((1, 3), bool))[0]
    assert got.tolist() == [-1.0, 2.0, -3.0]  # 15 m is within 5 m of no metre before 10 m
