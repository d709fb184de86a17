"""Turns that plain English does without, and where a sentence ends: for what a client reads, and for the pages."""

import re

# each turn with a sentence that has it
TURNS = {
    r"\b(gravest|nought|reckoned|whoever|kindly)\b": "Findings, gravest first.",
    r"\bmakers?\b": "The maker's rating comes first.",
    r"\bhardest-worked\b": "Return the hardest-worked cell.",
    r"\bhangs? on\b": "The verdict hangs on the rating.",
    r"\b(held|hold) against\b": "The current is held against the rating.",
    r"\b(is|are) told\b": "The faults are told by their rows.",
    r"\bwhat (else )?(there is )?to say\b": "Return what there is to say about a cell.",
    r"\bon the careful side\b": "Return the row on the careful side.",
    r"\bis none (that|of)\b": "The value is none that the question takes.",
    r"\bof one's own\b": "A table of one's own.",
    r"\bby head\b": "A pack worked out by head.",
    r"\b(at the most|at the least)\b": "It gives 40 W at the most.",
    r"\bas it takes to\b": "As many digits as it takes to tell them apart.",
    r"\bfor want of\b": "The lowest value, for want of its own.",
    r"\bfree ride\b": "No cell gets a free ride.",
}

# turns that no sentence of the API may have, each with a sentence that has it
SENTENCE_TURNS = TURNS | {
    r"\breckon": "Reckoned with 4.1 V a cell.",
    r"\bkindly\b|\bkind bounds?\b": "These bounds are kind bounds.",
    r"\bstands? (for|between|beside|above)\b": "A reading may stand for less.",
    r"\bhas it\b": "As the trade has it.",
    r"\b(is|are|was) passed\b": "Negative when it is passed.",
    r"\brating for this\b": "A pulse rating is no rating for this.",
    r"\bcareful side\b": "Rounded to the careful side.",
    r"\b(capacity|capacities|times|charge) (in )?an hour\b": "Half its capacity an hour.",
    r"\b(is|are|not) to be\b": "A cell is not to be charged.",
    r"\bso that\b": "The voltage falls, so that it stops.",
    r"\brests? (up)?on\b": "What it rests on.",
    r"\btaken as\b": "The cell is taken as one lump.",
    r"\bworst corner\b": "At the worst corner.",
    r"\ba look at\b": "Charged without a look at each.",
    r"\bworked out\b": "The heat was worked out.",
    r"\{[a-z_]+(:[^{}]*)?\}": "The slowest at {SLOW_RATE:g} times.",
}
SENTENCE_END = re.compile(r"(?<=[.!?])[”)]?\s+(?=[A-Z0-9`“(]|[a-z_]+:|percell\b)")


def words_of(text: str) -> list[str]:
    """Return the words of letters in a text."""
    return re.findall(r"[A-Za-z][\w’'-]*", text)
