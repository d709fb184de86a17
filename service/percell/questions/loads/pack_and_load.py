"""A pack with a coil or a converter: the common part of questions about its discharge."""

from collections.abc import Callable
from functools import cache
from typing import Annotated, Any, NamedTuple

from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics.curves import PUBLISHED, Curve, own_curve
from percell.physics.errors import NoSolution
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption
from percell.questions.answering.question import Judged
from percell.questions.answering.rest_curve import curve_of
from percell.questions.answering.voltage_findings import charged_above_chemistry, refuse_cutoff
from percell.questions.loads import converter_load, direct_load, rules
from percell.questions.loads.converter_load import ConverterLoad, ConverterLoadFigures
from percell.questions.loads.direct_load import DirectLoad, DirectLoadFigures
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField, preset
from percell.questions.vocabulary.fields import COMMON_PRACTICE, quantity
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.sharing import Sharing, SharingField

# A chemistry without its own sag under load borrows this one. It sags most of those simulated, so a
# borrowed time is too short rather than too long.
HARSHEST = Chemistry.NCA


class OpenCircuitPoint(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One point of a measured open-circuit voltage curve."""

    state_of_charge: Annotated[float, quantity("1", 0, 1, "State of charge.")]
    open_circuit_voltage_v: Annotated[float, quantity("V", 0.5, 5, "Voltage at rest there.")]


OpenCircuitCurve = Annotated[
    list[OpenCircuitPoint],
    Meta(
        min_length=2,
        max_length=200,
        description="Your own measured points from empty (0) to full (1), both rising, in place of the "
        "chemistry's published curve.",
    ),
]


class PackAndLoad(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Cells and their load: a coil resistance for a direct load, or an output power for a converter."""

    cell_capacity_ah: fields.CellCapacityAh
    coil_resistance_ohm: fields.CoilResistanceOhm | UnsetType = UNSET
    output_power_w: fields.OutputPowerW | UnsetType = UNSET
    chemistry: ChemistryField = Chemistry.NMC
    cell_cutoff_voltage_v: fields.CellCutoffVoltageV | UnsetType = UNSET
    cell_resistance_ohm: fields.CellResistanceOhm = fields.CELL_RESISTANCE_OHM
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    device_resistance_ohm: fields.DeviceResistanceOhm = 0.0
    efficiency: fields.Efficiency = fields.EFFICIENCY
    idle_power_w: fields.IdlePowerW = 0.0
    cell_health: fields.StateOfHealth = 1.0
    state_of_charge: fields.StateOfCharge = 1.0
    open_circuit_curve: OpenCircuitCurve | UnsetType = UNSET
    sharing: SharingField | UnsetType = UNSET


def is_direct(coil_resistance_ohm: object, output_power_w: object) -> bool:
    """Return whether the load is a coil; a question with both loads, or neither, is refused."""
    if (coil_resistance_ohm is UNSET) is (output_power_w is UNSET):
        raise Refused(
            "coil_resistance_ohm",
            "Give either coil_resistance_ohm, for a direct load, or output_power_w, for a converter.",
        )
    return output_power_w is UNSET


def rest_curve(asked: PackAndLoad) -> Curve:
    """Return the caller's own curve, or the published one of the chemistry."""
    points = asked.open_circuit_curve
    if points is UNSET:
        return curve_of(asked.chemistry)
    try:
        return own_curve(
            soc=[point.state_of_charge for point in points],
            ocv_v=[point.open_circuit_voltage_v for point in points],
            chemistry=_sag_of(asked.chemistry),
        )
    except NoSolution as wrong:
        raise Refused("open_circuit_curve", str(wrong)) from None


def _sag_of(chemistry: Chemistry) -> str:
    return chemistry.value if chemistry.value in PUBLISHED else HARSHEST.value


def cutoff_v(asked: PackAndLoad) -> float:
    """Return the voltage per cell under load at which the run ends."""
    given, usual = asked.cell_cutoff_voltage_v, VOLTAGES[asked.chemistry]
    if given is UNSET:
        return usual.cutoff_v
    charged_v = _charged_v(asked)
    refuse_cutoff(given, usual.charged_v if charged_v is UNSET else charged_v)
    return given


class Load(NamedTuple):
    """The question that gives the verdict on a load, and the functions that answer it."""

    question: DirectLoad | ConverterLoad
    figures: Callable[..., DirectLoadFigures | ConverterLoadFigures]
    explain: Callable[..., Judged[DirectLoadFigures] | Judged[ConverterLoadFigures]]


def load_of(asked: PackAndLoad, *, layout: str, cell_rating_a: float) -> Load:
    """Return the load for the verdict. Neither sag nor charge already used makes the verdict milder."""
    shared: dict[str, Any] = {
        "layout": layout,
        "cell_rating_a": cell_rating_a,
        "chemistry": asked.chemistry,
        "cell_resistance_ohm": asked.cell_resistance_ohm,
        "contact_resistance_ohm": asked.contact_resistance_ohm,
    }
    if is_direct(asked.coil_resistance_ohm, asked.output_power_w):
        shared |= {
            "coil_resistance_ohm": asked.coil_resistance_ohm,
            "device_resistance_ohm": asked.device_resistance_ohm,
            "cell_charged_voltage_v": _charged_v(asked),
            "sharing": Sharing.ALLOWANCE if asked.sharing is UNSET else asked.sharing,
        }
        return Load(DirectLoad(**shared), direct_load.figures, direct_load.explain)
    shared |= {
        "output_power_w": asked.output_power_w,
        "efficiency": asked.efficiency,
        "idle_power_w": asked.idle_power_w,
        "cell_cutoff_voltage_v": asked.cell_cutoff_voltage_v,
        "sharing": Sharing.EVEN if asked.sharing is UNSET else asked.sharing,
    }
    return Load(ConverterLoad(**shared), converter_load.figures, converter_load.explain)


def _charged_v(asked: PackAndLoad) -> float | UnsetType:
    """Return the full end of the caller's own curve if it is above that of the chemistry."""
    if asked.open_circuit_curve is UNSET:
        return UNSET
    full_v = asked.open_circuit_curve[-1].open_circuit_voltage_v
    return max(full_v, VOLTAGES[asked.chemistry].charged_v)


_OF_A_COIL = frozenset({"device_resistance_ohm"})
_OF_A_CONVERTER = frozenset({"efficiency", "idle_power_w"})


def defaults_in_use(
    asked: PackAndLoad, *, judged: bool, without: frozenset[str] = frozenset()
) -> list[Assumption]:
    """Return the defaults in use: those of the load, and the curve."""
    direct = is_direct(asked.coil_resistance_ohm, asked.output_power_w)
    unused = without | (_OF_A_CONVERTER if direct else _OF_A_COIL)
    found = assumptions(asked, frozenset(asked.__struct_fields__) - unused)
    if asked.open_circuit_curve is UNSET:
        curve = curve_of(asked.chemistry)
        found.append(
            Assumption("open_circuit_curve", curve.name, "", f"by chemistry: {curve.source}")
        )
    if judged and direct and asked.open_circuit_curve is UNSET:
        # the verdict assumes full cells, whatever the state of charge
        charged_v, origin = preset("cell_charged_voltage_v", asked.chemistry)
        found.append(Assumption("cell_charged_voltage_v", charged_v, "V", origin))
    if judged and asked.sharing is UNSET:
        found.append(sharing_in_use(Sharing.ALLOWANCE if direct else Sharing.EVEN))
    return found


@cache
def sharing_in_use(sharing: Sharing) -> Assumption:
    """Return the usual way of sharing of a load, as an assumption."""
    return Assumption("sharing", sharing.value, "", f"by the kind of load, {COMMON_PRACTICE}")


def curve_findings(asked: PackAndLoad) -> list[Finding]:
    """Return the findings about a curve or a sag under load from another cell."""
    found = []
    if asked.open_circuit_curve is not UNSET:
        full_v = asked.open_circuit_curve[-1].open_circuit_voltage_v
        found += charged_above_chemistry(asked.chemistry, full_v)
    if asked.open_circuit_curve is not UNSET and asked.chemistry.value not in PUBLISHED:
        found.append(
            finding(
                rules.SAG_BORROWED,
                f"No cell of {VOLTAGES[asked.chemistry].name} was simulated: your curve is used with the "
                f"sag of {VOLTAGES[HARSHEST].name}, the larger one of those simulated at 4.2 V.",
            )
        )
    return found
