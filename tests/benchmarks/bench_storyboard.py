"""A frame of the storyboard at 640 by 360: how long, and against exact rays to every pixel.

    python tests/benchmarks/bench_storyboard.py SITE

prints, per shot, the processor's seconds for one frame, and for the ground alone how many times
quicker the march is than `kernels/rays.first_cut` over the same pixels.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from shotplan import plan as planning
from shotplan.aids import frame_setting, frame_view
from shotplan.kernels.ground import rays
from shotplan.kernels.light import view_march
from shotplan.outing import read
from shotplan.output.frames import picture as frame_picture


def main(folder: Path) -> None:
    plan = planning.make(read(folder), lambda _: None)
    grid = plan.outing.site.terrain.grid
    for shot in plan.shots:
        setting = frame_setting.Setting(scene=shot.scene, path_m=plan.outing.ride.xyz_m[0])
        middle = shot.scene.track.ride.t_s.size // 2
        frame_view.frame(setting, 0)
        began = time.process_time()
        frame = frame_view.frame(setting, middle)
        frame_picture.rgb(frame)
        whole = time.process_time() - began
        began = time.process_time()
        view_march.ground(grid, frame.view, frame.way)
        march = time.process_time() - began
        some = frame.way.reshape(-1, 3)[::16]
        start = np.tile(frame.view.eye_m, (len(some), 1))
        began = time.process_time()
        rays.first_cut(grid, start, start + 2000.0 * some)
        exact = 16.0 * (time.process_time() - began)
        print(f"{shot.scene.shot.name}: {whole:.2f} s; ground {exact / march:.0f} times quicker")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
