"""What every answer carries besides its numbers."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType


class WorkingStep(Struct, frozen=True, gc=False):
    """One step of the working."""

    what: Annotated[str, Meta(description="What is worked out.")]
    relation: Annotated[str, Meta(description="The relation used.")]
    put_in: Annotated[str, Meta(description="The relation with its numbers put in.")]
    result: Annotated[float, Meta(description="What comes out, unrounded.")]
    unit: Annotated[str, Meta(description="Unit of the result; 1 for a ratio or a count.")]


class Assumption(Struct, frozen=True, gc=False):
    """A default that the answer rests on."""

    name: Annotated[
        str,
        Meta(
            description="The field of the question; after a dot, a property that was looked up for it."
        ),
    ]
    value: Annotated[float | str, Meta(description="The value in use.")]
    unit: Annotated[str, Meta(description="Its unit; empty for a word.")]
    origin: Annotated[str, Meta(description="Where the default comes from.")]


class Links(Struct, frozen=True, gc=False, omit_defaults=True):
    """Where to read on."""

    method: Annotated[str, Meta(description="How this question is worked out.")]
    table_row: Annotated[
        str | UnsetType,
        Meta(
            description="The printed table's row nearest on the careful side, where there is one."
        ),
    ] = UNSET
