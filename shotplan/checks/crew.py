"""Whether the crew fits the rule pack, and stands where nothing can happen to them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Person
from shotplan.model.ride import BRAKES_SOURCE, HANDS_ON_S, RIDER_BRAKES_M_S2, STEP_S
from shotplan.model.verdict import Verdict
from shotplan.scene import needs
from shotplan.scene.eyesight import ALONGSIDE_M, apart_m, beside_pilot, best_friend
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Remark, Told, Words, even
from shotplan.scene.scene import Scene
from shotplan.scene.stands import DROP_M, HAZARDS, LINE_M, STAND_SOURCE, Found, spots
from shotplan.scene.telling import always, place, told

HANDS_SOURCE = (
    f"common practice: stop first. A firm stop is {RIDER_BRAKES_M_S2} m/s² ({BRAKES_SOURCE}), the "
    f"{HANDS_ON_S:.0f} s to take the control in hand an own setting"
)
STEERED, UNSEEN = "who steers", "who steers and rides"  # what else can be wrong
NO_LAUNCH = (
    "where it is launched is not said",
    f"draw a place with the id launch; go if it is {DROP_M:.0f} m or more from every drop and "
    f"{LINE_M:.0f} m or more from the ride line",
)
SPARSE = (
    "steering it from a moving vehicle is allowed only over a sparsely populated area, which the "
    "rules do not define"
)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Roles against the pack; then each spot against drops, faces, wires and the ride line."""
    there = spots(scene)
    rows = [[hazard(scene, spot) for spot in there] for hazard in HAZARDS if there]
    launch = () if scene.site.launch else (_unknown(scene, *NO_LAUNCH),)
    return (_roles(scene), *launch, *(_margin(scene, row) for row in rows))


# -- roles


def _roles(scene: Scene) -> Margin:
    """Who steers and who watches."""
    pilots = scene.day.who("pilot")
    lost = [p for p in pilots if "rider" not in p.roles and scene.stand_of(p) is None]
    from_drops = f"{DROP_M:.0f} m from every drop and"
    if not pilots:
        return _unknown(
            scene,
            "nobody is named as pilot, so nobody is known to watch it",
            "add [[crew]] with role pilot and a place to stand; go if that place is at least "
            f"{from_drops} {scene.rules.id} lets them steer from there",
        )
    if lost:
        return _unknown(
            scene,
            f"it is not said where {lost[0].name}, who steers, stands",
            f"give {lost[0].name} stands = a place; go if it is at least {from_drops} "
            f"{LINE_M:.0f} m from the ride line",
        )
    riding = [p for p in pilots if "rider" in p.roles]
    return _riding(scene, riding[0]) if riding else _plain(scene, _observers(scene))


def _riding(scene: Scene, rider: Person) -> Margin:
    """The rider steers."""
    crew = scene.rules.crew
    says = "not-said" if crew is None else crew.rider_pilot
    source = str(crew.source) if crew else ""
    remarks = (*_observers(scene), *(_alone(scene, rider) if len(scene.day.crew) == 1 else ()))
    if says == "no":
        return replace(_forbidden(scene, rider, source), remarks=remarks)
    if says == "sparsely-populated":
        cure = "go if somebody who stands steers it; else look at the map: no houses near, and ask"
        remarks = (Remark(f"{rider.name} rides and steers: {SPARSE}", True, source, cure), *remarks)
    if says == "not-said":
        text = (
            f"{rider.name} rides and steers: {scene.rules.id} does not say whether a rider may be "
            "the pilot while moving"
        )
        cure = "let somebody who stands steer it, or ask the authority for a written answer"
        remarks = (Remark(text, True, source, cure), *remarks)
    plain = _plain(scene, remarks)
    within = scene.rules.sight.follow_within_m
    return plain if says != "yes" or within is None else _within(scene, rider, plain, within)


def _forbidden(scene: Scene, rider: Person, source: str) -> Margin:
    """No rider may be the pilot: the metres ridden while steering."""
    ridden = float(np.ptp(scene.track.ride.along_m[0]))
    words = Words(
        f"{rider.name} rides {ridden:.0f} m while being the pilot; {scene.rules.id} forbids "
        f"steering it while riding ({source})",
        f"name somebody who stands as pilot: 1 more person, and 0 of the {ridden:.0f} m are "
        "steered by the rider",
    )
    room, why = -max(ridden, 0.1), always(words)
    return even(scene, room, why, value=0.0, limit=-room, thing=STEERED, source=source)


def _within(scene: Scene, rider: Person, plain: Margin, within: float) -> Margin:
    """Within the follow distance a rider may be the pilot; beyond, they look at the track."""
    slant = _slant_m(scene, rider)
    beyond = ", beyond it the pilot has to keep it in sight, and a rider looks at the track"

    def near(i: int, spot: str) -> str:
        return (
            f"{rider.name} rides and steers; it is {say.metres(slant[i])} from them, {spot}; "
            f"within {within:.0f} m (slant) {scene.rules.id} lets it follow unseen"
        )

    def reason(i: int, spot: str) -> str:
        return near(i, spot) + (beyond if slant[i] > within else "")

    def advice(_i: int) -> str:
        over = say.rounded_up(float(np.nanmax(slant)) - within)
        return f"fly it {say.metres(over)} nearer, or let somebody who stands steer it"

    room = within - slant
    return Margin(
        margin=np.where(np.isnan(slant), np.nan, np.inf),
        soft=room,
        value=room,
        limit=np.zeros(len(room)),
        thing=np.full(len(room), UNSEEN, dtype=object),
        why=told(
            scene,
            reason,
            advice,
            unknown=lambda i, spot: Words(near(i, spot) + beyond, advice(i)),
            nothing=reason(0, place(scene, 0)),
        ),
        remarks=plain.remarks,
        source=str(scene.rules.sight.follow_source or scene.rules.sight.source),
    )


def _slant_m(scene: Scene, rider: Person) -> Array:
    """`(n,)` from the rider's eye to the aircraft."""
    eye = scene.track.ride.xyz_m[0] + np.array([0.0, 0.0, rider.eye_m])
    return np.asarray(np.linalg.norm(scene.track.xyz_m[0] - eye, axis=1))


def _observers(scene: Scene) -> tuple[Remark, ...]:
    """Observers the pack does not count where they are. They still help: no caution."""
    crew = scene.rules.crew
    if crew is None or crew.observer == "anywhere":
        return _riding_observers(scene)
    said = []
    for person in scene.day.who("spotter"):
        if "pilot" in person.roles:
            continue
        if crew.observer == "none":
            text = f"{person.name} watches; {scene.rules.id} counts no observer"
        elif beside_pilot(scene, person)[0].all():
            continue
        else:
            away = [apart_m(scene, person, p)[0].max() for p in scene.day.who("pilot")]
            text = (
                f"{person.name} watches from {say.metres(float(np.min(away)))} away; "
                f"{scene.rules.id} counts an observer only within {ALONGSIDE_M:.0f} m of the pilot"
            )
        said.append(Remark(text, source=str(crew.source)))
    return tuple(said)


def _riding_observers(scene: Scene) -> tuple[Remark, ...]:
    crew = scene.rules.crew
    if crew is None or crew.rider_pilot != "no":
        return ()
    return tuple(
        Remark(
            f"{p.name} rides and cannot be the observer under {scene.rules.id}",
            source=str(crew.source),
        )
        for p in scene.day.who("spotter")
        if "rider" in p.roles
    )


# -- alone


def _alone(scene: Scene, rider: Person) -> tuple[Remark, ...]:
    """Without help: how far it flies without hands, where it may follow, what a friend adds."""
    within, pack = scene.rules.sight.follow_within_m, scene.rules.id
    ride = scene.track.ride
    if within is None:
        text = f"alone: no stretch qualifies under {pack} unless you keep it in sight all the time"
    else:
        where = _runs(scene, _slant_m(scene, rider) < within)
        text = f"alone: within {within:.0f} m, where {pack} lets it follow unseen, {where}"
    wait = ride.speed_m_s[0] / RIDER_BRAKES_M_S2 + HANDS_ON_S
    flown = wait * scene.speed_m_s[0]
    most = int(np.nanargmax(flown))
    speed = say.speed(float(ride.speed_m_s[0, most]))
    short = f"it flies up to {say.metres(float(flown[most]))} before your hands are on the control"
    first = f"{say.seconds(float(wait[most]))} from {speed}: stop first"
    hands = f"alone, nobody watches: {short} ({first})"
    friend, cure = _friend(scene, rider)
    alone = Remark(hands, True, HANDS_SOURCE, cure, short=f"alone, {short}")
    return alone, Remark(text), Remark(friend)


def _runs(scene: Scene, flags: Bools) -> str:
    """`it is from 40 m to 62 m, 3.4 s of 53.0 s`."""
    along = scene.track.ride.along_m[0]
    whole = say.seconds(len(flags) * STEP_S)
    if not flags.any():
        return f"it is nowhere in {whole}"
    parts = [f"from {along[a]:.0f} m to {along[b - 1]:.0f} m" for a, b in stretches(flags)]
    return f"it is {', '.join(parts)}, {say.seconds(float(flags.sum()) * STEP_S)} of {whole}"


def _friend(scene: Scene, rider: Person) -> tuple[str, str]:
    """What one friend would add, and the advice that follows from it."""
    found = best_friend(scene, rider)
    if found is None:
        return (
            "alone: no place is drawn where a friend could stand",
            "draw 1 place or more, to see what a friend there would add",
        )
    whole = say.seconds(float(scene.track.ride.filming[0].sum()) * STEP_S)
    sees = say.seconds(found.sees_s)
    return (
        f"alone: one friend at {found.place.label} would see it for {sees} of {whole}, "
        f"{say.seconds(found.adds_s)} of them where you could not even when you look up",
        f"take a friend along: at {found.place.label} they see it for {sees} of {whole}; else fly "
        "only where it may fly that far straight on",
    )


# -- margins


def _margin(scene: Scene, found: list[Found]) -> Margin:
    """One kind of hazard over all spots: the worst decides."""

    def rank(one: Found) -> tuple[int, float]:
        room = one.value_m - one.limit_m
        if np.isnan(room):
            return 1, 0.0
        return (0 if one.refused else 2) if room < 0.0 else 3, room

    worst = min(found, key=rank)
    room = worst.value_m - worst.limit_m
    return even(
        scene,
        room if worst.refused or room >= 0.0 or np.isnan(room) else np.inf,
        lambda _i, verdict: Words(worst.words.reason) if verdict == Verdict.GO else worst.words,
        soft=np.inf if np.isnan(room) else room,
        value=worst.value_m,
        limit=worst.limit_m,
        thing=worst.thing,
        source=STAND_SOURCE,
    )


def _plain(scene: Scene, remarks: tuple[Remark, ...]) -> Margin:
    """Nothing in the roles that a number decides."""
    crew = scene.rules.crew
    plain = even(scene, np.inf, always(Words("the roles fit what the pack says")))
    return replace(plain, remarks=remarks, source=str(crew.source) if crew else "")


def _unknown(scene: Scene, reason: str, advice: str) -> Margin:
    return even(scene, np.nan, always(Words(reason, advice)), source=STAND_SOURCE)


CHECK = Check(
    id="crew",
    family="rule",
    group="crew",
    question="does everybody stand right?",
    unit="m",
    shown=AGAINST,
    told=Told(
        "somebody stands in a bad place, {thing}",
        strays="",
        wrong_by=(
            (STEERED, "the rules forbid the rider to steer; of the ride somebody else steers"),
            (UNSEEN, "it flies farther from the rider, who steers, than it may unseen; room"),
        ),
    ),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="never"),
    margins=margins,
    wind="none",
    rides="first",
    on_terrain=False,
    callers=True,
    needs=(needs.PILOT, needs.PILOT_STANDS, needs.LAUNCH, *needs.looked_for("wires"),
           needs.HEIGHTS),
)  # fmt: skip
