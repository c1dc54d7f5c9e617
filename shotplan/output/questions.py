"""A plain question for every check, said beside its id."""

QUESTIONS = {
    "clearance": "clear of trees and wires?",
    "ground": "clear of ground and water?",
    "rider-gap": "clear of the rider?",
    "height": "is it low enough?",
    "boundary": "does it stay inside?",
    "keep-out": "does it stay out?",
    "sight": "is it seen?",
    "crew": "does everybody stand right?",
    "pace": "does it keep up?",
    "people": "clear of other people?",
    "wildlife": "does it leave animals alone?",
    "wind": "does it bear the wind?",
    "fall": "what if it stops flying?",
    "battery": "does the battery last?",
    "return": "what if it is left alone?",
    "link": "does the radio reach?",
    "light": "is there light enough?",
    "glare": "does anybody look into the sun?",
    "view": "does the camera see the rider?",
    "framing": "is the rider in the frame?",
}


def titled(check: str) -> str:
    """`pace (does it keep up?)`; the id alone where no question is written down."""
    question = QUESTIONS.get(check, "")
    return f"{check} ({question})" if question else check
