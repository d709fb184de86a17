"""A pack with a coil or a converter: the common part of questions about its discharge."""

from collections.abc import Callable
from typing import Any, ClassVar, NamedTuple

from msgspec import UNSET, UnsetType

from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption
from percell.questions.answering.question import Explained
from percell.questions.answering.voltage_findings import charged_voltage, end_voltage, refuse_cutoff
from percell.questions.loads import coil, converter_load, direct_load
from percell.questions.loads.cell_model import cell_model, is_energy_cell
from percell.questions.loads.converter_load import ConverterLoad, ConverterLoadFigures
from percell.questions.loads.direct_load import DirectLoad, DirectLoadFigures
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import WarmOrCold, lasting_ohm
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField, preset
from percell.questions.vocabulary.limits import Held, Limit
from percell.questions.vocabulary.measured_discharge import MeasuredDischargeField
from percell.questions.vocabulary.presence import Excludes, Presence
from percell.questions.vocabulary.rules import LimitName
from percell.questions.vocabulary.sharing import Sharing, SharingField
from percell.questions.vocabulary.verdict import Verdict

LOAD_AND_CELL = (
    *coil.A_LOAD,
    Excludes(
        "measured_discharge",
        "cell_health",
        "Give measured_discharge or cell_health, not both: a measured cell shows its age already.",
    ),
)


class PackAndLoad(WarmOrCold, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Cells and their load: a coil resistance for a direct load, or an output power for a converter."""

    presence: ClassVar[tuple[Presence, ...]] = LOAD_AND_CELL

    coil_reading_ohm: fields.CoilReadingOhm | UnsetType = UNSET
    coil_resistance_ohm: fields.CoilResistanceOhm | UnsetType = UNSET
    coil_resistance_tolerance_ohm: fields.CoilResistanceToleranceOhm = 0.0
    meter_accuracy: fields.MeterAccuracy = fields.METER_ACCURACY
    meter_counts: fields.MeterCounts = fields.METER_COUNTS
    meter_resolution_ohm: fields.MeterResolutionOhm = fields.METER_RESOLUTION_OHM
    lead_resistance_ohm: fields.LeadResistanceOhm = 0.0
    output_power_w: fields.OutputPowerW | UnsetType = UNSET
    chemistry: ChemistryField = Chemistry.NMC
    cell_cutoff_voltage_v: fields.CellCutoffVoltageV | UnsetType = UNSET
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    device_resistance_ohm: fields.DeviceResistanceOhm = 0.0
    efficiency: fields.Efficiency = fields.EFFICIENCY
    idle_power_w: fields.IdlePowerW = 0.0
    cell_health: fields.StateOfHealth = 1.0
    state_of_charge: fields.StateOfCharge = 1.0
    measured_discharge: MeasuredDischargeField | UnsetType = UNSET
    sharing: SharingField = Sharing.CAREFUL


def cutoff_v(asked: PackAndLoad) -> float:
    """Return the voltage per cell under load at which the run ends.

    Where it is not known, a run ends higher than the currents are judged at, which gives a shorter time.
    """
    given, usual = asked.cell_cutoff_voltage_v, VOLTAGES[asked.chemistry]
    if given is UNSET:
        return usual.time_cutoff_v
    charged_v = _charged_v(asked)
    refuse_cutoff(given, usual.charged_v if charged_v is UNSET else charged_v)
    return given


def stop_voltage(asked: PackAndLoad) -> Held:
    """Hold the voltage at which the load stops against the end of discharge; nothing stops a bare coil."""
    if asked.cell_cutoff_voltage_v is UNSET and coil.is_direct(asked):
        return Held([UNSTOPPED], [])
    return end_voltage(asked.chemistry, cutoff_v(asked))


UNSTOPPED = Limit(
    name=LimitName.END_VOLTAGE,
    verdict=Verdict.NOT_JUDGED,
    missing="cell_cutoff_voltage_v",
    reason="no device stops a coil that is wired straight to the pack",
)


class Load(NamedTuple):
    """The question that gives the verdict on a load, and the function that answers it."""

    question: DirectLoad | ConverterLoad
    explain: Callable[..., Explained[DirectLoadFigures] | Explained[ConverterLoadFigures]]


def load_of(asked: PackAndLoad, *, layout: str, cell_rating_a: float) -> Load:
    """Return the load for the verdict. Neither sag nor charge already used makes the verdict milder."""
    shared: dict[str, Any] = {
        "layout": layout,
        "cell_rating_a": cell_rating_a,
        "chemistry": asked.chemistry,
        # at the cell's temperature, as nobody measured it
        "cell_resistance_ohm": lasting_ohm(asked),
        "contact_resistance_ohm": asked.contact_resistance_ohm,
        "sharing": asked.sharing,
    }
    if coil.is_direct(asked):
        shared |= {
            "coil_reading_ohm": asked.coil_reading_ohm,
            "coil_resistance_ohm": asked.coil_resistance_ohm,
            "coil_resistance_tolerance_ohm": asked.coil_resistance_tolerance_ohm,
            **{name: getattr(asked, name) for name in coil.METER},
            "device_resistance_ohm": asked.device_resistance_ohm,
            "cell_charged_voltage_v": _charged_v(asked),
        }
        return Load(DirectLoad(**shared), direct_load.explain)
    shared |= {
        "output_power_w": asked.output_power_w,
        "efficiency": asked.efficiency,
        "idle_power_w": asked.idle_power_w,
        "cell_cutoff_voltage_v": _judged_cutoff_v(asked),
    }
    return Load(ConverterLoad(**shared), converter_load.explain)


def _judged_cutoff_v(asked: PackAndLoad) -> float | UnsetType:
    """Return the given cut-off; one that only the caller's own cell reaches, as a full cell's voltage."""
    given = asked.cell_cutoff_voltage_v
    return UNSET if given is UNSET else min(given, VOLTAGES[asked.chemistry].charged_v)


def _charged_v(asked: PackAndLoad) -> float | UnsetType:
    """Return the voltage that the caller's own discharge began at, if it is above that of the chemistry."""
    if asked.measured_discharge is UNSET:
        return UNSET
    return max(asked.measured_discharge.voltage_v[0], VOLTAGES[asked.chemistry].charged_v)


STOPS_EARLY = (
    "for the running time: devices that stop early, so the time is short; common practice, no "
    "published source"
)
_OF_A_COIL = frozenset({"device_resistance_ohm", "coil_resistance_tolerance_ohm", *coil.METER})
_OF_A_CONVERTER = frozenset({"efficiency", "idle_power_w"})


def defaults_in_use(
    asked: PackAndLoad,
    *,
    judged: bool,
    runs: bool = True,
    without: frozenset[str] = frozenset(),
) -> list[Assumption]:
    """Return the defaults in use: those of the load, and the curve."""
    direct = coil.is_direct(asked)
    unused = without | (_OF_A_CONVERTER if direct else _OF_A_COIL)
    if asked.coil_reading_ohm is UNSET:
        unused |= frozenset(coil.METER)
    if not judged:
        unused |= {"sharing"}
    if asked.cell_cutoff_voltage_v is UNSET:
        unused |= {"cell_cutoff_voltage_v"}
    found = assumptions(asked, frozenset(asked.__struct_fields__) - unused)
    if asked.cell_cutoff_voltage_v is UNSET:
        if runs:
            found.append(Assumption("cell_cutoff_voltage_v", cutoff_v(asked), "V", STOPS_EARLY))
        if judged and not direct:
            current_v, origin = preset("cell_cutoff_voltage_v", asked.chemistry)
            found.append(Assumption("cell_cutoff_voltage_v.current", current_v, "V", origin))
    if runs and asked.measured_discharge is UNSET:
        found.append(curve_assumed(asked))
    if judged and direct and asked.measured_discharge is UNSET:
        # the verdict assumes full cells, whatever the state of charge
        charged_v, origin = preset("cell_charged_voltage_v", asked.chemistry)
        found.append(Assumption("cell_charged_voltage_v", charged_v, "V", origin))
    return found


def curve_assumed(asked: PackAndLoad) -> Assumption:
    """Return the curve that stands for a cell of which no discharge was given."""
    curve = cell_model(asked, energy_cell=bool(is_energy_cell(asked))).curve
    kind = "a simulated cell" if curve.under_load else "the rest curve"
    return Assumption("measured_discharge", f"none: {kind} of {curve.name}", "", curve.source)


def full_voltage(asked: PackAndLoad) -> Held:
    """Hold the voltage of a full cell against that of its chemistry."""
    return charged_voltage(asked.chemistry, _charged_v(asked))
