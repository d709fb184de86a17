"""What every answer carries besides its numbers."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType


class WorkingStep(Struct, frozen=True, gc=False):
    """One step of the working."""

    what: Annotated[str, Meta(description="Quantity that this step calculates.")]
    relation: Annotated[str, Meta(description="Relation used.")]
    with_numbers: Annotated[str, Meta(description="Relation with its numbers.")]
    result: Annotated[float, Meta(description="Result, unrounded.")]
    unit: Annotated[str, Meta(description="Unit of the result. 1 for a ratio or a count.")]
    # added by the answer, which knows the limits
    result_shown: Annotated[
        str,
        Meta(
            description="Result as text for people: four digits, or as many as keep it on its side of each limit."
        ),
    ] = ""


class Assumption(Struct, frozen=True, gc=False):
    """A default that the answer uses."""

    name: Annotated[
        str,
        Meta(
            description="Field of the question. A dot leads into an object or a list, as in "
            "`cells.contact_resistance_ohm`. A last part that is not a field is a looked-up property, as in "
            "`alloy.resistivity`, or the use of the value, as in `cell_cutoff_voltage_v.time`."
        ),
    ]
    value: Annotated[float | str, Meta(description="Value in use.")]
    unit: Annotated[str, Meta(description="Unit of the value. Empty for a word.")]
    origin: Annotated[str, Meta(description="Origin of the default.")]


class Links(Struct, frozen=True, gc=False, omit_defaults=True):
    """Where to read on."""

    method: Annotated[str, Meta(description="Page on how this question is calculated.")]
    cautions: Annotated[str, Meta(description="Page of the cautions, which always apply.")]
    table_row: Annotated[
        str | UnsetType,
        Meta(
            description="Page of the closest entry of a printed table on the side of caution, or of its row. Left "
            "out if there is none."
        ),
    ] = UNSET
