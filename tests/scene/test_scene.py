"""What a scene keeps of the rides it is a part of."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests import worlds


def test_one_ride_alone_keeps_no_array_of_the_others(tmp_path: Path) -> None:
    scene = worlds.staged(tmp_path, rides=5)
    assert scene.wish is not None
    for ride in (0, 3):
        alone = scene.only(ride)
        assert alone.wish is not None
        for part, whole in ((alone.track, scene.track), (alone.wish, scene.wish)):
            for name, many in vars(whole).items():
                if isinstance(many, np.ndarray):
                    one = getattr(part, name)
                    assert not np.shares_memory(one, many), name
                    np.testing.assert_array_equal(one[0], many[ride, : one.shape[1]])
        assert not np.shares_memory(alone.track.ride.xyz_m, scene.track.ride.xyz_m)
