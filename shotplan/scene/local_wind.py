"""What the ground makes of the day's wind: at a point in the air, and at a reading's own place.

The day's wind is reduced to one number: the mean at 10 m over open ground (EN 1991-1-4 category
II), which is what a forecast gives. Everything local is a factor on it; the spread of the gusts
stays what it is at every height and over every edge ((4.6)).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground import edges
from shotplan.kernels.motion import wind
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Weather
from shotplan.model.site import Site
from shotplan.model.terrain import Terrain
from shotplan.scene.scene import Scene

OPEN = "II"
OPEN_HEIGHT_M = 10.0
UPWIND_M = 600.0
DOWNWIND_M = 300.0
STEP_M = 5.0  # between the posts of a profile, or the terrain's cells where they are wider
COARSEST_M = 100.0
ALONG_M, ACROSS_M = 10.0, 5.0  # samples of one such cell share a profile
UNKNOWN_M = 50.0  # missing ground this near makes the wind unknown whatever the rest is like
FAR_M = 300.0  # missing ground beyond leaves the edges as they are known
FELT = 1.05  # an edge whose factor is less is not asked how well it is known
LIP = 1.0  # out over a drop: before a lip the ground lies more than 45° below it
CEILING = 1.0 + 2.0 * wind.STEEP * float(wind.upwind_location(np.zeros(()), np.zeros(())))
ASSUMPTIONS = (
    "wind over ground: EN 1991-1-4 roughness and orography formulas (transcribed at second hand, "
    "not read in the standard); the spread of gusts over the mean grows neither with height nor "
    "over an edge ((4.6))",
    "the height that counts is straight down, at most 200 m; out over a drop (before a lip by "
    "more than 45°, behind it by a slope of more than 0.3) and above the lip it is the height "
    "above the lip, with the edge's effect fading over the standard's length for steep slopes, "
    "or the open wind at the full height, whichever is more",
    "edges and slopes are the terrain's own along the wind, from 600 m upwind to 300 m downwind; "
    f"where ground missing within {FAR_M:.0f} m may hide more of a steep slope the largest factor "
    f"there is, {CEILING:.2f}",
    "updraught: the mean wind times the sine of the steepest slope no farther downwind than it is "
    "high, at most 0.71; lee: upright gusts of 0.4 of the gust, to 15 heights behind a brink: both "
    "upper estimates",
    "not modelled: thermals, funnelling through gaps and valleys, drops farther than 600 m upwind",
)


class Air(NamedTuple):
    """A wind from one side at points `(...)`. `factor` its mean over the one at 10 m over open
    ground (NaN unknown); `orography` the part the edge has in it (1 none); `updraught` the most
    of the mean that may blow upward; `lee` True in the air that tumbles behind a drop, whose
    height and distance are `drop_m`, `away_m`, `fading` where that is weaker, farther behind it;
    `off_m` drop the wind blows off close by, `onto_m` one it blows onto close before (0 none);
    `missing_m` how near along the wind the ground is missing (+inf nowhere)."""

    factor: Array
    orography: Array
    updraught: Array
    lee: Bools
    fading: Bools
    drop_m: Array
    away_m: Array
    off_m: Array
    onto_m: Array
    missing_m: Array


class Local(NamedTuple):
    """The day's numbers at points `(...)`: the mean there is `mean` times what the weather says,
    the gust adds `spread` times (gust - mean) to it. Both NaN where unknown."""

    mean: Array
    spread: float
    air: Air

    def gust_m_s(self, mean_m_s: float, gust_m_s: float) -> Array:
        """The gust where it flies, of a mean and a gust as the weather says them. In a calm only
        the gust is left, whatever the ground."""
        lifted = np.zeros_like(self.mean) if mean_m_s == 0.0 else self.mean * mean_m_s
        return np.asarray(lifted + self.spread * (gust_m_s - mean_m_s))


def toward(from_rad: float) -> Array:
    """`(2,)` unit vector, east and north, of a wind from an azimuth."""
    return -np.array([math.sin(from_rad), math.cos(from_rad)])


def level(height_m: Array, category: str) -> Array:
    """Mean over even ground of a roughness, over the one at 10 m over open ground."""
    z = np.clip(height_m, 0.0, wind.HIGHEST_M)
    return wind.roughness_factor(z, category) / _open_factor(OPEN_HEIGHT_M)


def _open_factor(height_m: float) -> float:
    return float(wind.roughness_factor(np.array(min(height_m, wind.HIGHEST_M)), OPEN))


def air(terrain: Terrain, xyz_m: Array, height_m: Array, from_rad: float, category: str) -> Air:
    """What the ground makes of a wind at `xyz_m (..., 3)`, `height_m (...)` above the ground."""
    shape = height_m.shape
    x, y, z = np.ascontiguousarray(xyz_m.reshape(-1, 3).T)
    height = height_m.reshape(-1)
    if terrain.beyond is not None:
        height = np.where(np.isnan(height), z - terrain.wide_ground_m(xyz_m.reshape(-1, 3)[:, :2]),
                          height)  # fmt: skip
    lines = _lines(terrain, x, y, *toward(from_rad))
    there = _upright(lines, z)
    factor, orography, missing = _level(lines, z, height, category)
    there = there._replace(factor=factor, orography=orography, missing_m=missing)
    return Air(**{name: part.reshape(shape) for name, part in there._asdict().items()})


class _Lines(NamedTuple):
    """Profiles of the ground along the wind: of each of m points `which (m,)` is its own, and how
    far `along_m (m,)` from that one's middle post it lies. The rest as `edges.find` wants it."""

    profile_m: Array
    step_m: float
    middle: int
    which: NDArray[np.intp]
    along_m: Array

    @property
    def ground(self) -> tuple[Array, float, int]:
        """The profiles alone."""
        return self.profile_m, self.step_m, self.middle


def _lines(terrain: Terrain, x: Array, y: Array, east: Array, north: Array) -> _Lines:
    """Profiles under points `(m,)`, along one wind or each along its own."""
    along, across = x * east + y * north, x * north - y * east
    own = np.broadcast_to(np.arange(east.size), along.shape)
    cells = np.stack([np.round(along / ALONG_M), np.round(across / ACROSS_M), own], axis=1)
    cells, which = np.unique(cells, axis=0, return_inverse=True)
    which, wind_of = which.reshape(-1), cells[:, 2].astype(np.intp)
    east, north = (np.reshape(part, (-1, 1))[wind_of] for part in (east, north))
    middle_m, side = cells[:, :1] * ALONG_M, cells[:, 1:2] * ACROSS_M
    step = float(np.clip(terrain.cell_m, STEP_M, COARSEST_M)) if terrain.cell_m > 0 else COARSEST_M
    middle = round(UPWIND_M / step)
    line = middle_m + (np.arange(middle + 1 + round(DOWNWIND_M / step)) - middle) * step
    profile = terrain.wide_ground_m(
        np.stack([line * east + side * north, line * north - side * east], axis=-1)
    )
    return _Lines(profile, step, middle, which, along - middle_m[which, 0])


def _level(lines: _Lines, z_m: Array, height_m: Array, category: str) -> tuple[Array, Array, Array]:
    """Mean factor, orography factor and how near ground is missing at points `(m,)`."""
    found = edges.find(*lines.ground)
    factor, orography = _over_edges(found, lines, z_m, height_m, category)
    missing = found.missing_m[lines.which]
    known = np.where((missing <= UNKNOWN_M) | np.isnan(height_m), np.nan, factor)
    return known / _open_factor(OPEN_HEIGHT_M), orography, missing


def _upright(lines: _Lines, z_m: Array) -> Air:
    """What blows upward and tumbles at points `(m,)` at elevations `z_m`; the rest is not known."""
    which = lines.which
    rising = edges.rising(*lines.ground, 0.5 * ALONG_M)
    slope = np.zeros_like(z_m)
    for steep, top in zip(rising.slope, rising.top_m, strict=True):
        slope = np.maximum(slope, np.where(z_m < top[which], steep[which], 0.0))
    near = edges.lee(*lines.ground)
    far = edges.lee(*lines.ground, edges.FADING_HEIGHTS)
    onto = edges.onto(*lines.ground)
    lee = z_m < near.top_m[which]
    fading = ~lee & (z_m < far.top_m[which])
    none = np.full_like(z_m, np.nan)
    return Air(
        factor=none,
        orography=none,
        updraught=wind.upward_share(slope),
        lee=np.asarray(lee),
        fading=np.asarray(fading),
        drop_m=np.where(fading, far.drop_m[which], near.drop_m[which]),
        away_m=np.where(fading, far.away_m[which], near.away_m[which]),
        off_m=near.off_m[which],
        onto_m=np.where(z_m < onto.top_m[which], onto.rise_m[which], 0.0),
        missing_m=none,
    )


def _over_edges(
    found: edges.Edges, lines: _Lines, z_m: Array, height_m: Array, category: str
) -> tuple[Array, Array]:
    """Mean factor and orography factor of points `(m,)`: the edge that lifts the wind most
    decides.

    A crest is known to a step of its profile only: nearer than that counts as at it. An edge that
    missing ground may make higher gets the largest factor there is if its slope is known to be
    steep; if not, the wind is unknown.
    """
    which, along_m = lines.which, lines.along_m
    height = np.clip(height_m, 0.0, wind.HIGHEST_M)
    even = wind.roughness_factor(height, category)
    factor, orography = even.copy(), np.ones_like(even)
    unknown = np.zeros(even.shape, dtype=bool)
    for j in range(edges.MOST):
        there = np.isfinite(found.crest_m[j])[which]
        if not there.any():
            break
        crest = wind.Crest(*(np.asarray(part)[j][which] for part in found.shape))
        away, lip = along_m - found.crest_m[j][which], found.lip_m[j][which]
        x = np.sign(away) * np.maximum(np.abs(away) - found.step_m, 0.0)
        over = np.clip(z_m - lip, 0.0, wind.HIGHEST_M)
        wide = np.maximum(np.abs(away), found.step_m)
        fell = lip - (z_m - height_m) > np.where(away < 0.0, LIP, wind.STEEP) * wide
        out = (z_m > lip) & fell
        fade = np.where(out, crest.upwind_m / wind.effective_length_m(crest), 1.0)
        co = wind.orography_factor(
            np.where(x < 0.0, x * fade, x), np.where(out, over, height), crest
        )
        doubt = found.doubt[j][which] & (found.missing_m[which] < FAR_M) & (co > FELT)
        steep = crest.rise_m > wind.STEEP * crest.upwind_m
        unknown |= there & doubt & ~steep
        co = np.where(doubt & steep, CEILING, co)
        base = np.where(out, wind.roughness_factor(over, category), even)
        lifted = np.where(out, np.maximum(even, base * co), even * co)
        factor = np.where(there & (lifted > factor), lifted, factor)
        orography = np.where(there, np.maximum(orography, co), orography)
    return np.where(unknown, np.nan, factor), orography


def reading_factor(site: Site, weather: Weather, from_rad: float) -> float:
    """Mean as the weather says it over the mean at 10 m over open ground; NaN unknown. A reading
    at a place already contains what the roughness and the edge make of the wind there."""
    if weather.measured_at == "forecast":
        return _open_factor(weather.measured_height_m) / _open_factor(OPEN_HEIGHT_M)
    place, up = weather.measured_at, weather.measured_height_m
    return float(at_place(site, place, up, (from_rad,), weather.roughness).factor[0])


class Reading(NamedTuple):
    """What is read at a place, by the side the wind blows from `(k,)`: `factor` and `lee` as of
    `Air`."""

    factor: Array
    lee: Bools


def at_place(
    site: Site, place: str, height_m: float, from_rad: Sequence[float], category: str
) -> Reading:
    """What is read so high over a place of the site in winds from each of some sides."""
    x, y, z = site.terrain.standing_m(site.places[place].xyz_m) + np.array([0.0, 0.0, height_m])
    sides = np.array([toward(side) for side in from_rad])
    lines = _lines(site.terrain, x, y, *sides.T)
    above = np.full(len(sides), z)
    height = np.full(len(sides), np.nan if np.isnan(z) else height_m)
    factor, _, _ = _level(lines, above, height, category)
    return Reading(factor, np.asarray(above < edges.lee(*lines.ground).top_m[lines.which]))


def local(
    scene: Scene, from_rad: float, xyz_m: Array | None = None, height_m: Array | None = None
) -> Local:
    """The day's wind from one side where it flies (all samples, or the points given)."""
    weather = scene.day.weather
    xyz = scene.track.xyz_m if xyz_m is None else xyz_m
    height = scene.height_m if height_m is None else height_m
    there = air(scene.site.terrain, xyz, height, from_rad, weather.roughness)
    return Local(
        there.factor / reading_factor(scene.site, weather, from_rad), spread(weather), there
    )


def spread(weather: Weather) -> float:
    """How much wider the gusts spread than the weather says: a forecast speaks of open ground,
    rougher ground widens it (kr in (4.6)); never narrower. A reading is taken as it is."""
    if weather.measured_at != "forecast":
        return 1.0
    return max(1.0, wind.terrain_factor(weather.roughness) / wind.terrain_factor(OPEN))
