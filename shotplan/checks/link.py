"""Whether the radio link holds: what stands between the pilot's hands and the aircraft."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.light import radio
from shotplan.kernels.rides import thinning
from shotplan.kernels.rides.runs import stretches
from shotplan.kernels.solids import columns, prisms
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S
from shotplan.scene import needs
from shotplan.scene.margin import Check, GoIf, Margin, Nature, Remark, Told, Words, even
from shotplan.scene.scene import Scene
from shotplan.scene.telling import always, no_ground, spread, told

SPARE_DB = 6.0  # own choice: half the range
EDGE_DB = 6.0  # grazing: from here on the line has dropped to an edge
HAND_M = 1.2  # the antenna above the ground: common practice
EVERY_S = 0.5
STEP_M = 0.5  # along the path, wider where there would be too many points
MOST_POINTS = 400_000
NEAR_M = 30.0  # buildings farther from the line than this cost nothing
HIGHEST_M = 60.0
SOURCE = (
    "ITU-R P.526 (first Fresnel zone, one knife edge) and Weissberger's foliage loss, formulas "
    f"from memory and checked by known values; {SPARE_DB:.0f} dB to spare is an own choice"
)
ASSUMPTIONS = (
    f"the control is held {HAND_M} m above the ground; the rated range is one in the open",
    "the worst edge alone counts, crowns are passed through and not over; antennas, bodies in the "
    "way and other senders are not modelled: a warning, not a link budget",
    "obstacles as drawn; wires and poles do not hide anything",
)
SPARE = f"{SPARE_DB:.0f} dB then stay to spare"
NO_PILOT = Words(
    "who holds the control, and where, or the ground there, is not known",
    f"add [[crew]] with role pilot and where they stand; go if {SPARE}",
)


class Path(NamedTuple):
    """Radio paths to the samples `at (m,)` of row 0. `slant_m`, `edge_db`, `leaves_db (m,)`;
    `leaves_m` how much of it is in crowns; `above_m`, `share (m, k)` the profile of edges (-inf
    none) and where it is along the path; `thing (m,)` what costs most ("" nothing); `grounded` the
    ground costs `EDGE_DB` or more; `unknown` ground is not known under the path."""

    at: NDArray[np.intp]
    slant_m: Array
    edge_db: Array
    leaves_db: Array
    leaves_m: Array
    above_m: Array
    share: Array
    thing: NDArray[np.object_]
    grounded: Bools
    unknown: Bools

    @property
    def loss_db(self) -> Array:
        """Edge and leaves."""
        return self.edge_db + self.leaves_db


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Decibels to spare against the rated range; under `SPARE_DB` softly, under 0 broken."""
    hands = _hands_m(scene)
    if hands is None:
        none = even(scene, np.nan, always(NO_PILOT), soft=np.inf, limit=0.0, source=SOURCE)
        return (replace(none, assumptions=ASSUMPTIONS),)
    path = _path(scene, hands)
    rated = scene.aircraft.link_range_m
    if rated is None:
        spare = np.full(len(path.at), np.nan)
    else:
        spare = radio.spare_db(rated, path.slant_m, path.loss_db)
    margin = np.where((spare >= 0.0) & path.unknown, np.nan, spare)
    some = Margin(
        margin=margin,
        value=spare,
        limit=np.zeros(len(margin)),
        thing=path.thing,
        why=told(
            scene,
            lambda k, spot: _reason(scene, path, k, spare[k], spot),
            lambda k: _advice(scene, path, k),
            unknown=lambda _k, spot: _unknown(scene, path, spot),
            at=path.at,
        ),
        remarks=_edges(scene, path),
        assumptions=ASSUMPTIONS,
        source=SOURCE,
    )
    whole = spread(some, path.at, len(hands))
    soft = np.where(np.isnan(whole.margin), np.inf, whole.margin - SPARE_DB)
    return (replace(whole, soft=soft),)


def _hands_m(scene: Scene) -> Array | None:
    """`(n, 3)` where the control is held: by the first pilot, standing or riding."""
    pilots = scene.day.who("pilot")
    if not pilots:
        return None
    if "rider" in pilots[0].roles:
        hands = np.where(
            scene.track.ride.ground_known[0][:, None], scene.track.ride.xyz_m[0], np.nan
        )
    else:
        place = scene.stand_of(pilots[0])
        if place is None:
            return None
        hands = np.broadcast_to(place.xyz_m, scene.track.xyz_m[0].shape)
    if np.isnan(hands).any():
        return None
    return np.asarray(hands + np.array([0.0, 0.0, HAND_M]))


def _path(scene: Scene, hands_m: Array) -> Path:
    """Walk along every path asked, looking at ground, buildings and crowns."""
    at = thinning.every(len(hands_m), round(EVERY_S / STEP_S))
    start, end = hands_m[at], np.array(scene.track.xyz_m[0, at])
    slant = np.linalg.norm(end - start, axis=1)
    most = max(MOST_POINTS // len(at), 16)
    count = int(np.clip(np.ceil(slant.max() / STEP_M), 16, most))
    share = np.broadcast_to((np.arange(count) + 0.5) / count, (len(at), count))
    points = start[:, None] + share[..., None] * (end - start)[:, None]
    mhz = scene.aircraft.link_mhz
    d1, d2 = share * slant[:, None], (1.0 - share) * slant[:, None]
    ground = scene.site.terrain.ground_m(points[..., :2]) - points[..., 2]
    walls, wall_owner = _buildings(scene, points)
    by_ground = radio.worst_edge(ground, d1, d2, mhz)
    by_wall = radio.worst_edge(walls, d1, d2, mhz)
    inside, leaf_owner = _crowns(scene, points)
    leaves_m = inside.mean(axis=1) * slant
    leaves_db = radio.foliage_db(leaves_m, mhz)
    rows = np.arange(len(at))
    ids = np.array([*(t.id for t in scene.site.obstacles.things), "ground", ""], dtype=object)
    edge = np.where(
        by_wall.loss_db > by_ground.loss_db,
        wall_owner[rows, by_wall.which],
        np.where(by_ground.loss_db > 0.0, len(ids) - 2, len(ids) - 1),
    )
    edge_db = np.maximum(by_ground.loss_db, by_wall.loss_db)
    thing = ids[np.where(leaves_db > edge_db, leaf_owner[rows, inside.argmax(axis=1)], edge)]
    return Path(
        at=at,
        slant_m=slant,
        edge_db=edge_db,
        leaves_db=leaves_db,
        leaves_m=leaves_m,
        above_m=np.fmax(ground, walls),
        share=share,
        thing=thing,
        grounded=by_ground.loss_db >= EDGE_DB,
        unknown=by_ground.unknown,
    )


def _buildings(scene: Scene, points: Array) -> tuple[Array, NDArray[np.intp]]:
    """`(m, k)` how far a building reaches above the path (its top where the path passes through or
    within half a step of it, else minus the distance to it; -inf none near), and which thing."""
    things, bodies = scene.site.obstacles.things, scene.site.obstacles.rest_drawn
    mine = [i for i, t in enumerate(bodies.prism_thing) if things[t].role == "building"]
    shape = points.shape[:2]
    if not mine:
        return np.full(shape, -np.inf), np.zeros(shape, dtype=np.intp)
    walls = prisms.Prisms(*(column[mine] for column in bodies.prisms))
    flat = points.reshape(-1, 3)
    near = prisms.nearest(prisms.index(walls), flat, NEAR_M)
    over = walls.top_m[near.which] - flat[:, 2]
    step_m = np.linalg.norm(points[:, 1] - points[:, 0], axis=1)
    inside = (near.distance_m <= 0.5 * np.repeat(step_m, shape[1])) & (over > 0.0)
    above = np.where(inside, over, -near.distance_m)
    owner = bodies.prism_thing[mine][near.which]
    return above.reshape(shape), owner.reshape(shape)


def _crowns(scene: Scene, points: Array) -> tuple[Bools, NDArray[np.intp]]:
    """`(m, k)` whether the path is inside a tree or a wood there, and which thing."""
    things, bodies = scene.site.obstacles.things, scene.site.obstacles.rest_drawn
    shape, flat = points.shape[:2], points.reshape(-1, 3)
    inside = np.zeros(len(flat), dtype=bool)
    owner = np.zeros(len(flat), dtype=np.intp)
    trees = [i for i, t in enumerate(bodies.column_thing) if things[t].role == "tree"]
    woods = [i for i, t in enumerate(bodies.prism_thing) if things[t].role == "wood"]
    crowns = columns.Columns(*(column[trees] for column in bodies.columns))
    leaves = prisms.Prisms(*(column[woods] for column in bodies.prisms))
    for near, things_of in (
        (columns.nearest(columns.index(crowns), flat, STEP_M), bodies.column_thing[trees]),
        (prisms.nearest(prisms.index(leaves), flat, STEP_M), bodies.prism_thing[woods]),
    ):
        hit = near.distance_m == 0.0
        inside |= hit
        if hit.any():
            owner[hit] = things_of[near.which[hit]]
    return inside.reshape(shape), owner.reshape(shape)


def _edges(scene: Scene, path: Path) -> tuple[Remark, ...]:
    """Where it has dropped behind an edge of the ground."""
    if not path.grounded.any():
        return ()
    along = scene.track.ride.along_m[0, path.at]
    where = ", ".join(
        f"{along[low]:.0f} to {along[high - 1]:.0f} m" for low, high in stretches(path.grounded)
    )
    most = float(path.edge_db.max())
    return (
        Remark(
            f"the ground comes up to the radio path at {where} along the ride (up to {most:.0f} "
            "dB lost): dropping below an edge is the usual way to lose the link"
        ),
    )


def _unknown(scene: Scene, path: Path, spot: str) -> Words:
    if scene.aircraft.link_range_m is not None:
        return no_ground(f"the ground between the pilot and {spot} is not known", SPARE)
    wanted = path.slant_m * 10.0 ** ((path.loss_db + SPARE_DB) / 20.0)
    value = round(say.rounded_up(float(wanted.max()), 0.1), 1)
    limit = GoIf("aircraft.link_range_m", "at-least", value, "m")
    return Words(
        "how far its link is rated in the open is not known; it flies up to "
        f"{say.metres(float(path.slant_m.max()))} away with up to "
        f"{float(path.loss_db.max()):.0f} dB lost on the way",
        f"give [aircraft] link_range_m; {limit.text}",
        () if path.unknown.any() else (limit,),
    )


def _reason(scene: Scene, path: Path, k: int, spare_db: float, spot: str) -> str:
    lost = []
    if path.edge_db[k] >= 0.5:
        lost.append(f"{path.edge_db[k]:.0f} dB over {_edge_name(scene, path, k)}")
    if path.leaves_db[k] >= 0.5:
        lost.append(f"{path.leaves_db[k]:.0f} dB in {path.leaves_m[k]:.0f} m of leaves")
    return (
        f"{spare_db:.0f} dB to spare at {say.metres(float(path.slant_m[k]))} from the "
        f"pilot, {spot}; " + (f"lost: {' and '.join(lost)}" if lost else "nothing in the way")
    )


def _edge_name(scene: Scene, path: Path, k: int) -> str:
    labels = {t.id: t.label for t in scene.site.obstacles.things if t.role == "building"}
    return labels.get(path.thing[k], "the ground")


def _advice(scene: Scene, path: Path, k: int) -> str:
    """How near the pilot it holds with the same in the way; how much higher there clears an
    edge."""
    rated = scene.aircraft.link_range_m or 0.0
    cures = []
    free_db = float(radio.spare_db(rated, path.slant_m[k : k + 1], np.zeros(1))[0])
    allowed = free_db - SPARE_DB - float(path.leaves_db[k])
    if path.edge_db[k] > 0.0 and allowed > 0.0:
        lift = _lift_m(scene, path, k, allowed)
        if lift <= HIGHEST_M:
            cures.append(f"fly {say.rounded_up(lift):.1f} m higher there")
    nearest = say.rounded_down(rated * 10.0 ** (-(path.loss_db[k] + SPARE_DB) / 20.0), 1.0)
    if nearest >= 5.0:
        cures.append(f"stay within {nearest:.0f} m of the pilot there")
    cures.append(
        f"stand where the line is free: then {say.rounded_down(rated / 2.0, 1.0):.0f} m is in reach"
    )
    return "; or ".join(cures)


def _lift_m(scene: Scene, path: Path, k: int, allowed_db: float) -> float:
    """How much higher the aircraft must be so that no edge costs more than that."""
    share, above = path.share[k], path.above_m[k]
    slant = float(path.slant_m[k])
    nu = radio.edge_limit(allowed_db)
    per_metre = radio.edge_parameter(
        np.ones_like(share), share * slant, (1.0 - share) * slant, scene.aircraft.link_mhz
    )
    return float(np.nanmax((above - nu / per_metre) / share))


CHECK = Check(
    id="link",
    family="rule",
    group="aircraft",
    question="does the radio reach?",
    unit="dB",
    shown="{spare}",
    told=Told("the radio does not reach it", strays=""),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="never"),
    margins=margins,
    wind="none",
    rides="first",
    pointwise=False,
    needs=(needs.PILOT, needs.PILOT_STANDS),
)
