"""Voltages by chemistry, each with its origin. A caller's own value always comes first."""

from enum import StrEnum
from typing import Annotated

from msgspec import Struct

from percell.questions.vocabulary.fields import choice, figure


class Chemistry(StrEnum):
    """Positive electrode of the cell."""

    NMC = "nmc"
    NCA = "nca"
    LCO = "lco"
    LMO = "lmo"
    LFP = "lfp"
    LCO_HIGH_VOLTAGE = "lco_high_voltage"


ChemistryField = Annotated[
    Chemistry,
    choice(
        "Positive electrode: nmc nickel manganese cobalt oxide, nca nickel cobalt aluminium oxide, "
        "lco lithium cobalt oxide, lmo manganese spinel, lfp iron phosphate, lco_high_voltage lithium "
        "cobalt oxide charged to 4.35 V.",
        default_from="the usual chemistry of high-drain round cells, common practice, no published source",
    ),
]


class Voltages(Struct, frozen=True, kw_only=True):
    """Voltages of one cell of a chemistry, each with its origin."""

    name: str
    charged_v: Annotated[float, figure("V", "Charged voltage.")]
    charged_from: str
    nominal_v: Annotated[float, figure("V", "Nominal voltage.")]
    nominal_from: str
    cutoff_v: Annotated[
        float, figure("V", "Cut-off voltage: the lower end of where devices stop under load.")
    ]
    cutoff_from: str
    end_v: Annotated[float, figure("V", "The maker's end of discharge.")]
    end_from: str


_MEMORY = "from memory, unconfirmed"
_DEVICES = "the low end of where devices stop under load, common practice, no published source"
_CHEN = "Chen et al., J. Electrochem. Soc. 167 (2020) 080534, as coded in PyBaMM Chen2020"
_KIM = "Kim et al., J. Electrochem. Soc. 158 (2011) A955, as coded in PyBaMM NCA_Kim2011"
_PRADA = "Prada et al. (2013), DOI 10.1149/2.053304jes, as coded in PyBaMM Prada2013"
_NOMINAL = "3.6 to 3.7 V, secondary listings; the lower end is taken"

VOLTAGES: dict[Chemistry, Voltages] = {
    Chemistry.NMC: Voltages(
        name="nickel manganese cobalt oxide",
        charged_v=4.2,
        charged_from=_CHEN,
        nominal_v=3.6,
        nominal_from=_NOMINAL,
        cutoff_v=2.8,
        cutoff_from=_DEVICES,
        end_v=2.5,
        end_from=_CHEN,
    ),
    Chemistry.NCA: Voltages(
        name="nickel cobalt aluminium oxide",
        charged_v=4.2,
        charged_from=_KIM,
        nominal_v=3.6,
        nominal_from=_NOMINAL,
        cutoff_v=2.8,
        cutoff_from=_DEVICES,
        end_v=2.7,
        end_from=_KIM,
    ),
    Chemistry.LCO: Voltages(
        name="lithium cobalt oxide",
        charged_v=4.2,
        charged_from=_MEMORY,
        nominal_v=3.6,
        nominal_from=_NOMINAL,
        cutoff_v=2.8,
        cutoff_from=_DEVICES,
        end_v=2.75,
        end_from="JIS C 8711 fixed end voltage, as compared in IEC TR 61963:2005 (secondary copy)",
    ),
    Chemistry.LMO: Voltages(
        name="lithium manganese oxide, spinel",
        charged_v=4.2,
        charged_from=_MEMORY,
        nominal_v=3.6,
        nominal_from=_NOMINAL,
        cutoff_v=2.8,
        cutoff_from=_DEVICES,
        end_v=2.5,
        end_from=_MEMORY,
    ),
    Chemistry.LFP: Voltages(
        name="lithium iron phosphate",
        charged_v=3.65,
        charged_from="3.60 to 3.65 V, from memory, unconfirmed; the higher end is taken",
        nominal_v=3.2,
        nominal_from="secondary listings",
        cutoff_v=2.5,
        cutoff_from=_DEVICES,
        end_v=2.0,
        end_from=_PRADA,
    ),
    Chemistry.LCO_HIGH_VOLTAGE: Voltages(
        name="lithium cobalt oxide charged to 4.35 V",
        charged_v=4.35,
        charged_from=_MEMORY,
        nominal_v=3.6,
        nominal_from="as for 4.2 V cells, the careful side; makers print up to 3.8 V",
        cutoff_v=2.8,
        cutoff_from=_DEVICES,
        end_v=2.75,
        end_from=_MEMORY,
    ),
}


# the fields that take the chemistry's voltage where none is given
BY_CHEMISTRY = frozenset(f"cell_{name}_voltage_v" for name in ("charged", "nominal", "cutoff"))


def preset(field: str, chemistry: Chemistry) -> tuple[float, str]:
    """Return the value, and its origin, that a voltage field takes where none is given."""
    voltages = VOLTAGES[chemistry]
    quantity = field.removeprefix("cell_").removesuffix("_voltage_v")
    return getattr(voltages, f"{quantity}_v"), getattr(voltages, f"{quantity}_from")
