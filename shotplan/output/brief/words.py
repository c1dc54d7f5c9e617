"""The fixed words of a brief: what everybody does, what is called, what an observer is told.

To the words that the card has come three for emergencies. Signs: common practice of ground
marshalling (from memory) or our own; what a crew has agreed for itself comes before both.
"""

from __future__ import annotations

from typing import NamedTuple

from shotplan.model.day import CrewRole
from shotplan.output.calls import Call

DUTIES: dict[CrewRole, str] = {
    "rider": "rides the line at the planned speed, and brakes at any call",
    "pilot": "is in command: starts it, keeps the hands on the control, takes over at any call",
    "spotter": "watches the aircraft and what is around it, never the picture, and calls",
}
ROLES: tuple[CrewRole, ...] = ("rider", "pilot", "spotter")


WHEN = {
    "stop": "it looks wrong, or at a mark",
    "hold": "not yet",
    "home": "it is over, or you are not sure",
    "people": "somebody comes; say from where",
    "down": "it must land now",
    "lost": "you do not see it",
    "aircraft": "one with people in it is near",
}
MORE = (
    Call("down", "lands it where it is, clear of people", "arms crossed low in front"),
    Call("lost", "stops it; if nobody sees it in 5 s: home", "a hand over the eyes"),
    Call("aircraft", "stops it, straight down, lands", "one arm points at it, one waves down"),
)
SIGNALS = (
    "Anybody may call; nobody asks why first. Signs you agreed come first; these are common "
    "practice of ground marshalling (stop, down) or our own. We talk by"
)


class Item(NamedTuple):
    """Something an observer must be told; `answer` a key of what the plan says of it."""

    title: str
    answer: str
    source: str


TOLD_READ_ON = "2026-11-25"
TOLD = (
    Item("Operating conditions", "conditions", "14 CFR 107.49(a)(1), (b)"),
    Item("Airspace, restrictions, zones active then", "airspace",
         "14 CFR 107.49(a)(2); EU duty to look up zones"),
    Item("People and property around, who stops the flight", "people",
         "14 CFR 107.49(a)(3); CARs 901.27(g)"),
    Item("Other hazards on the ground, wires and masts with their heights", "hazards",
         "14 CFR 107.49(a)(4); CARs 901.27(e)"),
    Item("Emergencies: control, equipment, aircraft, link, fly-away, ending it, traffic",
         "emergencies", "14 CFR 107.49(b); CARs 901.23(1)(b)"),
    Item("What it does by itself, where it returns, height over the trees", "contingency",
         "14 CFR 107.49(b); AMC1 UAS.OPEN.060(1)(d)"),
    Item("Everybody's role, and who is in command", "roles",
         "14 CFR 107.49(b); CARs 901.28(b)(i)"),
    Item("What may go wrong", "wrong", "14 CFR 107.49(b)"),
    Item("How we talk, agreed before take-off, and what if that fails", "talk",
         "14 CFR 107.33(a); AC 107-2 5.7.2.2; CARs 901.20(1)"),
    Item("Duty to scan the sky and to know where it is by eye", "scan", "14 CFR 107.33(c)"),
    Item("What to call out", "calls", "CARs 901.20(2); GM1 Art. 2(7) of (EU) 2019/947"),
    Item("What in sight means, and how far that is here", "sight",
         "GM1 UAS.OPEN.060(4); GM1 Art. 2(7)"),
    Item("Anybody may order it down; crewed aircraft come first", "authority",
         "EASA FAQ 116468; 14 CFR 107.37"),
    Item("Where first aid and fire things are, and how to use them", "kit", "CARs 901.28(b)(ii)"),
    Item("How far from the pilot it may be", "far", "CARs 901.28(c)"),
    Item("Fitness: alcohol, tiredness", "fitness", "14 CFR 107.27; CARs 901.19"),
    Item("One aircraft at a time; who watches neither rides nor drives", "one",
         "14 CFR 107.35; CARs 901.20(3), (4)"),
    Item("Battery checked, reserve for landing", "battery", "14 CFR 107.49(d); CARs 901.28(a)"),
    Item("After an incident: who reports", "incident", "14 CFR 107.9"),
)  # fmt: skip


class Sign(NamedTuple):
    """A word called or shown with the arms, and what each does at it ("" not theirs)."""

    word: str
    spotter: str
    pilot: str
    rider: str


SIGNS = (
    Sign("stop", "lets go: it stands", "let go: it stands", "brake, stand"),
    Sign("people", "goes back", "back as it came", "brake, stand"),
    Sign("hold", "waits", "wait for “go on”", "stay there"),
    Sign("home", "comes back", "climb, come back", "ride out, slow"),
    Sign("lost", "5 s, then home", "5 s, then home", ""),
    Sign("down", "lands there", "land there", "stand, look away"),
    Sign("aircraft", "straight down", "straight down", ""),
)
"""In the order of `signs.FIGURES`. Only stopping has signs: a raised hand would read as hold."""

NEVER: dict[CrewRole, str] = {
    "rider": "look for it while you ride; turn round; leave the track; ride at it.",
    "pilot": "watch the screen as it moves; walk while it flies; fly under a wire.",
    "spotter": "look at a screen; step on the track; stand under it; reach for it.",
}
WALKER: dict[CrewRole, str] = {
    "rider": "Brake, greet, let them pass. The take is over.",
    "pilot": "Land first. Then: “Please pass, we wait.”",
    "spotter": "“We are filming, {lasts}. Will you wait here? If you rather pass, we stop.”",
}
