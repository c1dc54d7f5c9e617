"""Pictures for the page: the ground from above, and what the camera sees at one moment."""

from __future__ import annotations

import base64
import io
from typing import Any

import numpy as np

from shotplan.desk.said import line
from shotplan.judging.judged import ShotPlan
from shotplan.kernels.ground.grid import monomials
from shotplan.model.arrays import Array
from shotplan.model.terrain import Terrain
from shotplan.outing import Outing
from shotplan.output.html import picture
from shotplan.output.map import ground as relief
from shotplan.output.map.drawing import around
from shotplan.output.map.shapes import Extent

COLS = 400
RIM, RIM_M, MOST_PX = 0.25, 60.0, 1100
STRAY_M = 1500.0  # what is drawn farther off is not waited for
AROUND_M = 400.0  # of the ride: so much of a raster is shown at least


def ground(outing: Outing) -> dict[str, Any]:
    """The relief as a picture with its corners, and the height lines over it."""
    site = outing.site
    ride = outing.ride.xyz_m[0, :, :2]
    near = around([ride], 0.0, STRAY_M)
    points = [ride, *(p.xyz_m[None, :2] for p in site.places.values())]
    points += list(site.boundary or ())[:1]
    points += [_corners(site.terrain, around([ride], 0.0, AROUND_M))]
    view = around([np.clip(p, near[:2], near[2:]) for p in points], RIM, RIM_M)
    seen = relief.relief(site.terrain, site.frame, view, MOST_PX)
    shapes = relief.contours(site.terrain, view)
    return {
        "relief": picture(relief.png(seen)),
        "corners": [[seen.south_deg, seen.west_deg], [seen.north_deg, seen.east_deg]],
        "gaps": seen.gaps,
        "contours": [
            {"line": line(site.frame, s.parts[0]), "fifth": s.look == "contour-fifth"}
            for s in shapes
            if s.kind == "line"
        ],
        "elevations": [
            {"at": line(site.frame, s.parts[0])[0], "text": s.tag} for s in shapes if s.tag
        ],
    }


def _corners(terrain: Terrain, near: Extent) -> Array:
    """Of what the raster covers near the ride; nothing of flat ground."""
    if not np.isfinite(terrain.cell_m):
        return np.empty((0, 2))
    rows, cols = terrain.grid.z_m.shape
    ends = np.array([[r, c] for r in (0.0, rows - 1.0) for c in (0.0, cols - 1.0)])
    return np.clip(monomials(ends[:, 0], ends[:, 1]) @ terrain.grid.to_frame.T, near[:2], near[2:])


def frame(outing: Outing, shot: ShotPlan) -> dict[str, Any]:
    """What the camera sees where it is tightest, else in the middle of the shot."""
    from PIL import Image

    from shotplan.aids import frame_view
    from shotplan.aids.frame_setting import Setting
    from shotplan.output.frames.marks import share_text
    from shotplan.output.frames.moments import moments
    from shotplan.output.frames.picture import rgb

    found = moments(shot)
    tight = [m for m in found if m.why.startswith("tightest")]
    moment = tight[0] if tight else found[len(found) // 2]
    setting = Setting(scene=shot.scene, path_m=outing.ride.xyz_m[0])
    seen = frame_view.frame(setting, moment.sample, COLS)
    out = io.BytesIO()
    Image.fromarray(rgb(seen)).save(out, format="PNG")
    ride = shot.scene.track.ride
    along = float(ride.along_m[0, moment.sample])
    track = shot.scene.track.xyz_m[0, moment.sample, :2]
    return {
        "picture": "data:image/png;base64," + base64.b64encode(out.getvalue()).decode("ascii"),
        "says": f"{abs(float(ride.t_s[moment.sample])):.0f} s, at {along:.0f} m: rider "
        f"{share_text(seen.rider.share)} of the height",
        "at": line(outing.site.frame, track[None])[0],
        "looks_deg": float(
            np.degrees(shot.scene.track.camera_azimuth_rad[0, moment.sample]) % 360.0
        ),
    }
