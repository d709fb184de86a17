"""The chemistries that questions take, and their voltages with their origins.

All data come from ``physics/data/chemistries.toml``. A caller's own value takes precedence.
"""

from enum import StrEnum
from typing import Annotated

from msgspec import Struct

from percell.physics.chemistries import CHEMISTRIES
from percell.questions.vocabulary.fields import choice, figure, text


class Chemistry(StrEnum):
    """Positive electrode of the cell."""

    vars().update({key.upper(): key for key in CHEMISTRIES})
    # the members that code uses: the type checker cannot see the data file
    NMC: "Chemistry"
    NCA: "Chemistry"


ChemistryField = Annotated[
    Chemistry,
    choice(
        "Positive electrode: "
        + ", ".join(f"`{key}` {entry.short_name}" for key, entry in CHEMISTRIES.items())
        + ".",
        default_from="the usual chemistry of high-drain round cells, common practice, no published source",
    ),
]


class ChemistryProperties(Struct, frozen=True, kw_only=True):
    """Names of a chemistry, the voltages of one cell with their origins, and its published curve."""

    name: Annotated[str, text("Name.")]
    short_name: Annotated[str, text("Short name, for sentences and table headings.")]
    charged_v: Annotated[float, figure("V", "Charged voltage of one cell.")]
    charged_from: Annotated[str, text("Source of `charged_v`.")]
    nominal_v: Annotated[float, figure("V", "Nominal voltage of one cell.")]
    nominal_from: Annotated[str, text("Source of `nominal_v`.")]
    printed_nominal_v: Annotated[
        float, figure("V", "Highest nominal voltage that manufacturers print on such cells.")
    ]
    printed_nominal_from: Annotated[str, text("Source of `printed_nominal_v`.")]
    cutoff_v: Annotated[
        float,
        figure(
            "V",
            "Cut-off voltage of one cell: the low end of the voltages at which devices stop under load.",
        ),
    ]
    cutoff_from: Annotated[str, text("Source of `cutoff_v`.")]
    time_cutoff_v: Annotated[
        float, figure("V", "Cut-off voltage that a running time uses if none is given.")
    ]
    device_cutoffs_v: Annotated[
        tuple[Annotated[float, figure("V", "Cell voltage at which devices stop under load.")], ...],
        text("Cut-off voltages of devices, highest first."),
    ]
    end_v: Annotated[
        float,
        figure("V", "End-of-discharge voltage of one cell, from the manufacturer."),
    ]
    end_from: Annotated[str, text("Source of `end_v`.")]
    curve_from: Annotated[
        str | None, text("Publication of its open-circuit curve. Null if none is known.")
    ]


VOLTAGES = {
    Chemistry(key): ChemistryProperties(
        **{name: getattr(entry, name) for name in ChemistryProperties.__struct_fields__}
    )
    for key, entry in CHEMISTRIES.items()
}


_SIMULATED = [entry.curve_from for entry in CHEMISTRIES.values() if entry.curve_from]
# the source of curves and sags, as rules cite it
SIMULATED_FROM = (
    f"Simulated cells of {', '.join(_SIMULATED[:-1])} and {_SIMULATED[-1]}, see the method page"
)

# the source of what measured cells have in common
MEASURED_FROM = (
    "Measured discharges: ARTS-Laboratory, commit 4e9effd; L. Wang et al., commit ec0fe7c; P. Kollmeyer, DOI "
    "10.17632/wykht8y7tg.1; see the method page"
)

# the fields whose default is the chemistry's voltage
BY_CHEMISTRY = frozenset(f"cell_{name}_voltage_v" for name in ("charged", "nominal", "cutoff"))


def preset(field: str, chemistry: Chemistry) -> tuple[float, str]:
    """Return the default of a voltage field, and its origin."""
    voltages = VOLTAGES[chemistry]
    quantity = field.removeprefix("cell_").removesuffix("_voltage_v")
    return getattr(voltages, f"{quantity}_v"), getattr(voltages, f"{quantity}_from")
