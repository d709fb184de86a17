"""What every answer carries besides its numbers."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType


class WorkingStep(Struct, frozen=True, gc=False):
    """One step of the working."""

    what: Annotated[str, Meta(description="What is worked out.")]
    relation: Annotated[str, Meta(description="The relation used.")]
    with_numbers: Annotated[str, Meta(description="The relation with its numbers put in.")]
    result: Annotated[float, Meta(description="What comes out, unrounded.")]
    unit: Annotated[str, Meta(description="Unit of the result; 1 for a ratio or a count.")]


class Assumption(Struct, frozen=True, gc=False):
    """A default that the answer rests on."""

    name: Annotated[
        str,
        Meta(
            description="Field of the question. A dot leads into an object or a list, as in "
            "`cells.contact_resistance_ohm`. A last part that is no field is a property that was looked up "
            "for the field, as in `alloy.resistivity`, or the use that the value was taken for, as in "
            "`cell_cutoff_voltage_v.time`."
        ),
    ]
    value: Annotated[float | str, Meta(description="The value in use.")]
    unit: Annotated[str, Meta(description="Its unit; empty for a word.")]
    origin: Annotated[str, Meta(description="Where the default comes from.")]


class Links(Struct, frozen=True, gc=False, omit_defaults=True):
    """Where to read on."""

    method: Annotated[str, Meta(description="How this question is worked out.")]
    cautions: Annotated[str, Meta(description="What always holds, whatever the answer.")]
    table_row: Annotated[
        str | UnsetType,
        Meta(
            description="The printed table's row nearest on the careful side, where there is one."
        ),
    ] = UNSET
