"""The cautions that every full answer and every table page shows."""

from typing import Annotated

from msgspec import Meta, Struct

from percell.questions.vocabulary.fields import COMMON_PRACTICE


class Caution(Struct, frozen=True, gc=False):
    """One caution."""

    id: Annotated[str, Meta(description="Stable identifier.")]
    sentence: Annotated[str, Meta(description="What to do or not to do.")]
    source: Annotated[str, Meta(description="Source of the caution.")]


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "rating",
        "Never exceed the manufacturer's continuous discharge rating. A pulse rating does not count.",
        COMMON_PRACTICE,
    ),
    Caution(
        "same-cells",
        "Only use cells of the same make, age and history together, charged to the same level.",
        "FDA Center for Tobacco Products advice (secondary copy): do not mix brands, charge levels, old with new",
    ),
    Caution(
        "damage",
        (
            "If a cell has a torn wrap, a dent, a leak or a smell, or gets hot, stop. Do not charge or use it "
            "again."
        ),
        "NFPA consumer sheet on lithium-ion batteries (USFA copy)",
    ),
    Caution(
        "loose",
        "Never carry a cell loose with keys, coins or other metal: a short circuit can burn you.",
        "FDA Center for Tobacco Products advice (secondary copy); CPSC, 8 January 2021",
    ),
    Caution(
        "charging",
        (
            "Stay with cells while they charge. Use a charger made for the cell, on a hard surface away from "
            "things that burn, between 0 and 40 °C."
        ),
        "USFA/NFPA public advice on lithium-ion batteries",
    ),
    Caution(
        "transport",
        "Carry spare cells in a case. In aircraft, carry them in the cabin only, each protected from short circuit and of at most 100 Wh.",
        "49 CFR 175.10(a)(19); ask the carrier, rules change",
    ),
    Caution(
        "agency",
        "A United States agency warns consumers not to buy or use loose 18650 cells at all: they are industrial parts without a protection circuit.",
        "CPSC, 8 January 2021 (secondary copy of the release)",
    ),
    Caution(
        "precedence",
        "Local rules, the manufacturer's instructions and a qualified battery engineer come before this tool.",
        "percell",
    ),
    Caution(
        "estimate",
        "These are planning estimates, not a permission.",
        "percell",
    ),
)
