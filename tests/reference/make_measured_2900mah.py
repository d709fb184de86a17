"""Make measured_2900mah_derived/figures.json: run it with the folder that holds the data as an argument.

The folder has the rows of P. Kollmeyer, Mendeley Data 2018, DOI 10.17632/wykht8y7tg.1, brought from the
files of the original into tables with the signs and units of ours (discharge positive):

- ``1C_new_a.csv``, ``1C_new_b.csv``, ``1C_aged_a.csv``, ``1C_aged_b.csv``: discharges at 2.9 A to 2.5 V at
  25 °C, new and after some 110 cycles, thinned to some 190 rows; the first row lies under load, within
  10 s of the step;
- ``C20_after_9_weeks.csv``: the discharge at 0.145 A, which begins with a row at rest;
- ``pulses_m20_to_25c.csv``: one row per pulse of the test at 25, 10, 0, −10 and −20 °C, each resistance
  the rest voltage before the pulse less the voltage after so many seconds, over the current; it is left
  out where the pulse met 2.5 V before.
"""

import json
import sys
from pathlib import Path

import numpy as np
from measured import FIGURES, Cells, discharge, drawn, rows

SOURCE = "P. Kollmeyer, Mendeley Data 2018, DOI 10.17632/wykht8y7tg.1"
LICENCE = "CC BY 4.0, read in two secondary places; figures only"
CELL = Cells(2.9, None, SOURCE, LICENCE)
CUTOFFS_V = [round(2.5 + 0.1 * step, 1) for step in range(10)]
CHARGED_V = 4.2
MIDDLE_AH = (0.2 * CELL.capacity_ah, 0.7 * CELL.capacity_ah)
AFTER_S = {
    "0.1": "r_01s_mohm",
    "1": "r_1s_mohm",
    "2": "r_2s_mohm",
    "5": "r_5s_mohm",
    "10": "r_10s_mohm",
}
RATES = {1.45: 0.5, 2.9: 1, 5.8: 2, 11.6: 4, 17.4: 6}


def at_rate(pulses, chamber_c, current_a):
    """Return the pulses of one chamber temperature and one current."""
    same = np.abs(pulses["current_a"] - current_a) < 0.05
    return pulses[same & (pulses["chamber_c"] == chamber_c)]


def resistances(pulses):
    """Return the mean resistance over the middle of the charge, by temperature, current and time.

    A mean over the pulses that lasted would leave out the worst, so one stands here only if all lasted.
    """
    found = []
    for chamber_c in chambers(pulses):
        for current_a, rate in RATES.items():
            middle = in_the_middle(at_rate(pulses, chamber_c, current_a))
            if middle.size < in_the_middle(at_rate(pulses, 25, current_a)).size:
                continue
            means = {
                after: round(float(np.mean(middle[column])), 1)
                for after, column in AFTER_S.items()
                if not np.isnan(middle[column]).any()
            }
            if means:
                found.append(
                    {
                        "chamber_c": chamber_c,
                        "current_a": current_a,
                        "rate": rate,
                        "pulses": int(middle.size),
                        "milliohm_after_s": means,
                    }
                )
    return found


def in_the_middle(pulses):
    """Return the pulses between 30 and 80 % of the printed charge."""
    return pulses[(pulses["drawn_ah"] >= MIDDLE_AH[0]) & (pulses["drawn_ah"] <= MIDDLE_AH[1])]


def chambers(pulses):
    """Return the temperatures of the chamber, warm ones first."""
    return sorted({float(value) for value in pulses["chamber_c"]}, reverse=True)


def charge_at_2c(pulses):
    """Return how much charge was drawn when a pulse of 2C last kept above 2.5 V for its 10 s."""
    last_ah = {}
    for chamber_c in chambers(pulses):
        pulse = at_rate(pulses, chamber_c, 5.8)
        last_ah[chamber_c] = float(pulse["drawn_ah"][pulse["duration_s"] >= 10].max())
    warm_ah = last_ah[25.0]
    return [
        {"chamber_c": chamber_c, "drawn_ah": got_ah, "of_25_c": round(got_ah / warm_ah, 3)}
        for chamber_c, got_ah in last_ah.items()
    ]


def growth_when_empty(pulses):
    """Return the resistance after 10 s at 1C and 25 °C against the charge drawn."""
    return [
        {"drawn_ah": float(row["drawn_ah"]), "milliohm_after_10_s": float(row["r_10s_mohm"])}
        for row in at_rate(pulses, 25, 2.9)
    ]


def slow_figures(slow):
    """Return charge, energy and mean voltage of the slow discharge."""
    got = drawn(slow, 2.5)
    return {
        "rate": slow.rate,
        "rest_voltage_v": slow.rest_voltage_v,
        "charge_ah": round(got.charge_ah, 4),
        "energy_wh": round(got.energy_wh, 4),
        "mean_voltage_v": round(got.energy_wh / got.charge_ah, 4),
    }


def mean_loss_w(one, slow, resistance_ohm, stretch):
    """Return what a discharge lost to heat: current times distance from the slow curve, averaged.

    The slow curve is lifted by its own drop, and its charge is multiplied by ``stretch``.
    """
    slow_ah, one_ah = (charge_so_far_ah(each) for each in (slow, one))
    rest_v = slow.voltage_v + slow.current_a * resistance_ohm
    lost_w = one.current_a * (np.interp(one_ah, slow_ah * stretch, rest_v) - one.voltage_v)
    return float(np.trapezoid(lost_w, one.time_s) / (one.time_s[-1] - one.time_s[0]))


def charge_so_far_ah(one):
    """Return the charge drawn at each row, the time before the first one counted."""
    middles_a = (one.current_a[1:] + one.current_a[:-1]) / 2
    steps = np.concatenate(([one.current_a[0] * one.time_s[0]], np.diff(one.time_s) * middles_a))
    return np.cumsum(steps) / 3600


def discharge_figures(folder, slow, resistance_ohm):
    """Return what each discharge at 1C gave, new and aged."""
    named = {
        name: discharge(folder / f"1C_{name}.csv", cell="2.9 Ah", cells=CELL, rate=1.0)
        for name in ("new_a", "new_b", "aged_a", "aged_b")
    }
    charges_ah = {name: drawn(one, 2.5).charge_ah for name, one in named.items()}
    new_ah = (charges_ah["new_a"] + charges_ah["new_b"]) / 2
    found = []
    for name, one in named.items():
        aged = name.startswith("aged")
        stretch = charges_ah[name] / new_ah if aged else 1.0
        ends = [(cutoff_v, drawn(one, cutoff_v)) for cutoff_v in CUTOFFS_V]
        found.append(
            {
                "name": name,
                "aged": aged,
                "rate": one.rate,
                "mean_current_a": round(float(np.mean(one.current_a)), 3),
                "health": round(charges_ah[name] / new_ah, 4),
                "first_drop_v": round(CHARGED_V - float(one.voltage_v[0]), 4),
                "mean_loss_w": round(mean_loss_w(one, slow, resistance_ohm, stretch), 3),
                "peak_skin_c": round(float(one.skin_c.max()), 2),
                "to_cutoff": [
                    {
                        "cutoff_v": cutoff_v,
                        "seconds": round(got.seconds, 1),
                        "charge_ah": round(got.charge_ah, 4),
                        "mean_power_w": round(got.energy_wh * 3600 / got.seconds, 4),
                    }
                    for cutoff_v, got in ends
                ],
            }
        )
    return found


def made(folder):
    """Return the figures of a folder."""
    pulses = rows(folder / "pulses_m20_to_25c.csv")
    slow = discharge(folder / "C20_after_9_weeks.csv", cell="2.9 Ah", cells=CELL, rate=0.05)
    table = resistances(pulses)
    (usual,) = (row for row in table if row["chamber_c"] == 25 and row["current_a"] == 2.9)
    resistance_ohm = usual["milliohm_after_s"]["10"] / 1000
    return {
        "source": SOURCE,
        "licence": LICENCE,
        "cell": {"size": "18650", "capacity_ah": CELL.capacity_ah, "rating_a": CELL.rating_a},
        "resistance_by_temperature": table,
        "charge_at_2c_by_temperature": charge_at_2c(pulses),
        "growth_when_empty": growth_when_empty(pulses),
        "slow_discharge": slow_figures(slow),
        "discharges": discharge_figures(folder, slow, resistance_ohm),
    }


def main():
    text = json.dumps(made(Path(sys.argv[1])), indent=1, ensure_ascii=False)
    FIGURES.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
