"""What is found of a running time: what ends it, how exact it is, and what it leaves out."""

from msgspec import UNSET

from percell.physics.discharge import Run
from percell.physics.measured_cells import (
    USABLE_CHARGE,
)
from percell.physics.meter import NOISE
from percell.questions.answering.cold_findings import cold_findings
from percell.questions.answering.voltage_findings import resistance_assumed
from percell.questions.loads import rules
from percell.questions.loads.cell_model import (
    ENERGY_RATE,
    CellModel,
    cell_model,
    may_be_energy_cell,
)
from percell.questions.loads.pack_and_load import (
    cutoff_v,
)
from percell.questions.loads.pack_run import (
    HEADLINE,
    RunningTime,
    RunningTimeFigures,
    may_run_as_energy_cell,
    run_of,
)
from percell.questions.loads.times_compared import ComparedWay, how_right, way_of
from percell.questions.vocabulary.layout import wiring
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.wording import given, shown

# if less than this part of the charge is used, a finding says that much is left
LITTLE_USED = 0.5
# up to so many times the capacity per hour measured and simulated cells of either design last equally long
ENERGY_SHOWS_RATE = 1.0


def of_run(
    asked: RunningTime, model: CellModel, got: RunningTimeFigures, run: Run
) -> list[Finding]:
    """Return what is found of a run."""
    minutes = got.running_time_s / 60
    found: list[Finding] = []
    if run.collapsed:
        found.append(
            finding(
                rules.POWER_GIVES_OUT,
                f"{f'After {minutes:.3g} min' if minutes else 'Immediately'} the pack can no longer give the power, at "
                f"{got.pack_last_current_a:.3g} A.",
            )
        )
    elif got.running_time_s == 0:
        found.append(
            finding(
                rules.CUTOFF_AT_ONCE,
                (
                    f"The first {shown(got.pack_first_current_a)} A pull a cell down to its cut-off of "
                    f"{given(cutoff_v(asked))} V immediately, so the pack does not run."
                ),
            )
        )
    elif run.used < LITTLE_USED * asked.state_of_charge * (1 - NOISE):
        found.append(
            finding(
                rules.CHARGE_LEFT,
                (
                    f"The cells deliver {run.used * 100:.0f} % of what full cells can give, and still hold "
                    f"{(asked.state_of_charge - run.used) * 100:.0f} % of it at the cut-off."
                ),
            )
        )
    return [
        *found,
        *resistance_assumed(asked),
        *cold_findings(asked.cell_temperature_c),
        *_if_energy_cell(asked, got),
        *sureness(asked, model, run),
    ]


def _if_energy_cell(asked: RunningTime, got: RunningTimeFigures) -> list[Finding]:
    """Return the finding about cells whose rating is not known, at a current that not every design gives."""
    if asked.cell_rating_a is UNSET and may_run_as_energy_cell(asked):
        return [
            finding(
                rules.ENERGY_CELL,
                (
                    f"No rating was given, so a cell of {given(asked.cell_capacity_ah)} Ah was treated as an energy "
                    f"cell. A cell rated for more than {given(ENERGY_RATE * asked.cell_capacity_ah)} A may run longer."
                ),
            )
        ]
    rate = got.pack_mean_current_a / wiring(asked.layout).parallel / asked.cell_capacity_ah
    if not may_be_energy_cell(asked) or rate <= ENERGY_SHOWS_RATE:
        return []
    run = run_of(asked, model=cell_model(asked, energy_cell=True))
    if run.time_s >= got.running_time_s * (1 - NOISE):
        return []
    rated_a = ENERGY_RATE * asked.cell_capacity_ah
    unsure = (
        f"No rating was given. The rating may be {given(rated_a)} A or less."
        if asked.cell_rating_a is UNSET
        else (
            f"The rating of {given(asked.cell_rating_a)} A is not far above {given(rated_a)} A, twice the "
            "capacity per hour."
        )
    )
    least, most = (HEADLINE.text(float(t)) for t in (run.time_s, got.running_time_s))
    return [
        finding(
            rules.ENERGY_CELL,
            f"{unsure} If it is an energy cell, the running time is about {least}, not {most}.",
        )
    ]


def sureness(asked: RunningTime, model: CellModel, run: Run) -> list[Finding]:
    """Return the finding about how exact a running time is, and whose curve and sag it uses."""
    curve = model.curve
    called = (
        "your own discharge"
        if asked.measured_discharge is not UNSET
        else f"the curve of {curve.name} ({curve.source})"
    )
    sag = "the sag of that cell, simulated" if model.is_simulated else "the sag of measured cells"
    rough = f" {curve.note}" if curve.rough else ""
    slow = _SLOW if way_of(asked) is ComparedWay.SLOW_DISCHARGE else ""
    return [
        finding(
            rules.RUNNING_TIME_ESTIMATE,
            (
                f"The running time is calculated from {called} with {sag}. "
                f"{how_right(asked, model, run, wiring(asked.layout).parallel)}{slow}{rough}"
            ),
        )
    ]


_SLOW = (
    f" A slow discharge shows more charge than a load gets, so {(1 - USABLE_CHARGE) * 100:.0f} % of it "
    "is left out. Otherwise the time could be up to a quarter too long."
)


def of_draws(asked: RunningTime) -> list[Finding]:
    """Return what is found of a load in draws."""
    if asked.draw_length_s is UNSET:
        return []
    length = given(asked.draw_length_s)
    return [
        finding(
            rules.NO_RECOVERY,
            (
                f"Draws of {length} s were counted as one load without a pause. What the cells recover in pauses is "
                "left out, so at high current there may be more draws than this."
            ),
        )
    ]
