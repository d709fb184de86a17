"""What happens when cells at different voltages are joined in parallel?"""

from typing import Annotated, NamedTuple

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import circuit, curves
from percell.physics import joining as formulas
from percell.physics.curves import Curve
from percell.physics.errors import NoSolution
from percell.physics.meter import NOISE, rounded_down
from percell.physics.types import Floats
from percell.questions.answering import envelope
from percell.questions.answering.envelope import Assumption, Step, assumptions, links
from percell.questions.vocabulary import fields, rules
from percell.questions.vocabulary.cautions import CAUTIONS
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import COMMON_PRACTICE, figure, quantity
from percell.questions.vocabulary.layout import MOST
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.verdict import Verdict, verdict
from percell.questions.vocabulary.wording import beside, given

# what a cell takes where its charge limit is not given, as part of its capacity in an hour
USUAL_CHARGE_PER_H = 0.5
USUAL_CHARGE_FROM = f"half the capacity in an hour, the usual charge current, {COMMON_PRACTICE}"

CellChargeLimitA = Annotated[
    float, quantity("A", 0.01, 200, "Highest charge current of one cell, as the maker gives it.")
]
ChargeVerdict = Annotated[
    Verdict,
    Meta(
        description="The highest charge current against the charge limit: equal is within; "
        "little_headroom is within, by less than a tenth."
    ),
]


class JoiningCell(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cell with its contacts."""

    open_circuit_voltage_v: fields.CellOpenCircuitVoltageV
    resistance_ohm: fields.UnequalCellResistanceOhm
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    capacity_ah: fields.CellCapacityAh


class Joining(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Cells of one chemistry that are to be joined in parallel, with nothing else connected."""

    cells: Annotated[
        list[JoiningCell],
        Meta(min_length=2, max_length=MOST, description="The cells to be joined."),
    ]
    cell_charge_limit_a: CellChargeLimitA | UnsetType = UNSET
    chemistry: ChemistryField = Chemistry.NMC


class JoinedCell(Struct, frozen=True, gc=False, omit_defaults=True):
    """One cell."""

    current_a: Annotated[
        float,
        figure("A", "At the moment all are joined; negative when the cell is being charged."),
    ]
    highest_charge_current_a: Annotated[
        float, figure("A", "Highest current into it, in whatever order the cells are joined.")
    ]
    given_charge_ah: Annotated[
        float | UnsetType,
        figure("Ah", "Charge it gives out until all are at rest; negative when it takes in."),
    ] = UNSET


class JoiningAnswer(Struct, frozen=True, kw_only=True):
    """The moment of joining, and the state at rest."""

    voltage_apart_v: Annotated[
        float, figure("V", "Difference between the highest and the lowest open-circuit voltage.")
    ]
    highest_voltage_apart_v: Annotated[
        float,
        figure("V", "Within this difference no cell is charged faster than it takes."),
    ]
    highest_charge_current_a: Annotated[
        float, figure("A", "Highest current into any cell, in whatever order they are joined.")
    ]
    pair_current_a: Annotated[
        float, figure("A", "Highest current between two of the cells, joined without the others.")
    ]
    pair_from_cell: Annotated[int, figure("1", "Cell that gives it, counted from 1.")]
    pair_into_cell: Annotated[int, figure("1", "Cell that takes it, counted from 1.")]
    joined_voltage_v: Annotated[float, figure("V", "Voltage at the moment all are joined.")]
    settled_voltage_v: Annotated[
        float | UnsetType, figure("V", "Voltage when all are at rest, on the chemistry's curve.")
    ] = UNSET
    settled_charge: Annotated[float | UnsetType, figure("1", "State of charge of all then.")] = (
        UNSET
    )
    moved_charge_ah: Annotated[
        float | UnsetType, figure("Ah", "Charge that changes places until then.")
    ] = UNSET
    verdict: ChargeVerdict | UnsetType = UNSET
    cells: Annotated[list[JoinedCell], Meta(description="Each cell, in the order given.")]
    working: envelope.Working
    assumptions: envelope.Assumptions
    findings: envelope.Findings
    cautions: envelope.Cautions = CAUTIONS
    links: envelope.Links


class Rest(NamedTuple):
    """The cells when they have come to rest."""

    curve: Curve
    charge: Floats
    settled_charge: float
    settled_v: float
    given_ah: Floats

    @property
    def moved_ah(self) -> float:
        return float(np.sum(np.maximum(self.given_ah, 0.0)))


# no usual voltmeter shows less
LEAST_APART_V = 0.001


def charge_limits_a(limit_a: float | UnsetType, capacity_ah: Floats) -> Floats:
    """Return the charge current that each cell takes: what was given, else the usual one."""
    return (
        USUAL_CHARGE_PER_H * capacity_ah if limit_a is UNSET else np.full_like(capacity_ah, limit_a)
    )


def within_text(apart_v: float) -> str:
    """Return a highest difference of voltages in words, rounded down to a millivolt."""
    if apart_v < LEAST_APART_V:
        return f"less than {LEAST_APART_V:g} V"
    return f"{rounded_down(value=apart_v, step=LEAST_APART_V):g} V"


def _usual(limit_a: float | UnsetType) -> str:
    return ", the usual one, for none was given" if limit_a is UNSET else ""


def at_rest(
    chemistry: Chemistry, voltage_v: Floats, capacity_ah: Floats
) -> tuple[Rest | None, list[Finding]]:
    """Return where cells of a chemistry come to rest, or why that cannot be said."""
    if chemistry.value not in curves.PUBLISHED:
        name = VOLTAGES[chemistry].name
        return None, [
            finding(
                rules.NO_CURVE,
                f"No published curve stands for {name}, so where the cells come to rest is left out.",
            )
        ]
    curve = curves.published_curve(chemistry=chemistry.value)
    on_curve = {"curve_charge": curve.soc, "curve_voltage_v": curve.ocv_v}
    try:
        charge = np.asarray(formulas.state_of_charge(cell_source_voltage_v=voltage_v, **on_curve))
    except NoSolution as none:
        found = none.numbers
        return None, [
            finding(
                rules.VOLTAGE_OFF_CURVE,
                f"A cell rests at {given(found['cell_source_voltage_v'])} V, outside "
                f"{found['lowest_voltage_v']:.4g} to {found['highest_voltage_v']:.4g} V, so where the cells come to rest is left out.",
            )
        ]
    settled = formulas.settling_charge(cell_capacity_ah=capacity_ah, cell_charge=charge)
    return Rest(
        curve,
        charge,
        settled,
        float(formulas.settling_voltage_v(settled_charge=settled, **on_curve)),
        formulas.moved_charge_ah(
            cell_capacity_ah=capacity_ah, cell_charge=charge, settled_charge=settled
        ),
    ), []


def answer(asked: Joining) -> JoiningAnswer:
    """Answer for one set of cells."""
    voltage_v = np.array([cell.open_circuit_voltage_v for cell in asked.cells])
    path_ohm = np.array([c.resistance_ohm + c.contact_resistance_ohm for c in asked.cells])
    capacity_ah = np.array([cell.capacity_ah for cell in asked.cells])
    currents_a = circuit.cell_current_a(
        group_current_a=0.0, cell_source_voltage_v=voltage_v, path_resistance_ohm=path_ohm
    )
    joined_v = float(
        circuit.group_source_voltage_v(
            cell_source_voltage_v=voltage_v, path_resistance_ohm=path_ohm
        )
    )
    pairs_a = formulas.rush_current_a(
        voltage_apart_v=voltage_v[:, None] - voltage_v,
        path_resistance_ohm=path_ohm[:, None],
        other_path_resistance_ohm=path_ohm,
    )
    giver, taker = (int(place) for place in np.unravel_index(np.argmax(pairs_a), pairs_a.shape))
    if giver == taker:  # all at one voltage: any two stand for all
        taker = 1
    pair_a = float(pairs_a[giver, taker])
    charged_a = formulas.highest_charge_current_a(
        cell_source_voltage_v=voltage_v, path_resistance_ohm=path_ohm
    )
    limits_a = charge_limits_a(asked.cell_charge_limit_a, capacity_ah)
    worst = int(np.argmax(charged_a / limits_a))
    worst_a, limit_a = float(charged_a[worst]), float(limits_a[worst])
    apart_v = float(np.ptp(voltage_v))
    advised_v = formulas.highest_voltage_apart_v(
        cell_charge_limit_a=limits_a, path_resistance_ohm=path_ohm
    )
    rest, findings = at_rest(asked.chemistry, voltage_v, capacity_ah)
    if worst_a > limit_a * (1 + NOISE):
        findings.insert(
            0,
            finding(
                rules.JOINING_RUSH,
                f"Cell {worst + 1} would be charged with {beside(worst_a, limit_a)} A, above its charge limit of "
                f"{given(limit_a)} A{_usual(asked.cell_charge_limit_a)}. The cells are "
                f"{beside(apart_v, advised_v)} V apart; within {within_text(advised_v)} none is charged too "
                "fast.",
            ),
        )
    working = [
        Step(
            f"Highest current between two cells: from cell {giver + 1} into cell {taker + 1}",
            "I = ΔV / (r₁ + r₂), with contacts",
            f"({voltage_v[giver]:.4g} − {voltage_v[taker]:.4g}) V / ({path_ohm[giver]:.4g} + "
            f"{path_ohm[taker]:.4g}) Ω",
            pair_a,
            "A",
        ),
        Step(
            "Voltage at the moment all are joined",
            "V = Σ(E_i / r_i) / Σ(1 / r_i)",
            "("
            + " + ".join(f"{e:.4g}/{r:.4g}" for e, r in zip(voltage_v, path_ohm, strict=True))
            + f") / ({' + '.join(f'1/{r:.4g}' for r in path_ohm)}) V",
            joined_v,
            "V",
        ),
        Step(
            f"Highest current into cell {worst + 1}, the one nearest to or most above what it takes",
            "I = max (E_others − E_i) / (r_i + R_others), over the cells that may be joined before it",
            f"E_i = {voltage_v[worst]:.4g} V, r_i = {path_ohm[worst]:.4g} Ω",
            worst_a,
            "A",
        ),
        Step(
            "Difference of voltages within which no cell is charged too fast",
            "ΔV = min I_limit · (r_i + R_others)",
            f"I_limit = {float(limits_a.min()):.4g} A, {len(path_ohm)} cells of "
            f"{float(path_ohm.min()):.4g} to {float(path_ohm.max()):.4g} Ω",
            advised_v,
            "V",
        ),
    ]
    if rest:
        working += _rest_steps(rest, voltage_v, capacity_ah)
    assumed = assumptions(asked)
    if asked.cell_charge_limit_a is UNSET:
        assumed.append(
            Assumption("cell_charge_limit_a", f"{USUAL_CHARGE_PER_H:g} C", "", USUAL_CHARGE_FROM)
        )
    return JoiningAnswer(
        voltage_apart_v=apart_v,
        highest_voltage_apart_v=advised_v,
        highest_charge_current_a=float(charged_a.max()),
        pair_current_a=pair_a,
        pair_from_cell=giver + 1,
        pair_into_cell=taker + 1,
        joined_voltage_v=joined_v,
        settled_voltage_v=rest.settled_v if rest else UNSET,
        settled_charge=rest.settled_charge if rest else UNSET,
        moved_charge_ah=rest.moved_ah if rest else UNSET,
        verdict=UNSET if asked.cell_charge_limit_a is UNSET else verdict(worst_a, limit_a),
        cells=[
            JoinedCell(
                float(currents_a[i]),
                float(charged_a[i]),
                float(rest.given_ah[i]) if rest else UNSET,
            )
            for i in range(len(voltage_v))
        ],
        working=working,
        assumptions=assumed,
        findings=findings,
        links=links("joining", asked),
    )


def _rest_steps(rest: Rest, voltage_v: Floats, capacity_ah: Floats) -> list[Step]:
    charges = list(zip(capacity_ah, rest.charge, strict=True))
    return [
        Step(
            f"State of charge at rest, each cell read on the curve: {rest.curve.name}",
            "z = Σ(q_i · z_i) / Σ q_i",
            f"({' + '.join(f'{q:.4g} × {z:.4g}' for q, z in charges)}) / {capacity_ah.sum():.4g}",
            rest.settled_charge,
            "1",
        ),
        Step(
            "Voltage at rest, on the same curve",
            "u = OCV(z)",
            f"OCV({rest.settled_charge:.4g}), from {voltage_v.min():.4g} to {voltage_v.max():.4g} V before",
            rest.settled_v,
            "V",
        ),
        Step(
            "Charge that changes places",
            "Δq = Σ q_i · (z_i − z), over the cells that give",
            " + ".join(
                f"{q:.4g} × ({z:.4g} − {rest.settled_charge:.4g})"
                for q, z in charges
                if z > rest.settled_charge
            )
            or "0 Ah",
            rest.moved_ah,
            "Ah",
        ),
    ]
