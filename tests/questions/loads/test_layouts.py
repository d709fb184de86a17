"""The options are those of a search by single questions."""

from collections import Counter
from itertools import pairwise
from math import ceil, isfinite

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import UNSET

from percell.physics.errors import NoSolution
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.usual_spread import KEPT
from percell.questions.vocabulary.verdict import Verdict

LAMP = QUESTIONS["layouts"].example


def by_force(ask, body):
    """Return by single questions which layouts fit, and why others do not."""
    cells = {n: v for n, v in body.items() if n not in ("most_cells", "needed_time_s")}
    of_assessment = {
        n: v for n, v in cells.items() if n in QUESTIONS["assessment"].asked.__struct_fields__
    }
    fits, rejected = {}, Counter()
    for series in range(1, body["most_cells"] + 1):
        for parallel in range(1, body["most_cells"] // series + 1):
            layout = f"{series}S{parallel}P"
            try:
                judged = ask("assessment", **of_assessment, layout=layout)
                ran = ask("running-time", **cells, layout=layout)
            except NoSolution:
                judged = None
            if judged is None or judged.verdict == Verdict.OVER:
                rejected["over_limit_count"] += 1
            elif ran.running_time_s == 0:
                rejected["cutoff_at_once_count"] += 1
            elif ran.running_time_s < body.get("needed_time_s", 0):
                rejected["too_short_count"] += 1
            else:
                fits[layout] = (judged, ran)
    return fits, rejected


@st.composite
def searches(draw):
    """Draw loads and cells for which only some layouts fit."""
    load = draw(st.sampled_from(["coil", "power"]))
    body = {
        "most_cells": draw(st.integers(1, 8)),
        "cell_rating_a": draw(st.floats(2, 40)),
        "cell_capacity_ah": draw(st.floats(0.5, 5)),
        "cell_health": draw(st.floats(0.5, 1)),
        "chemistry": draw(st.sampled_from(["nmc", "nca", "lfp"])),
        "cell_resistance_ohm": draw(st.floats(0, 0.1)),
    }
    if load == "coil":
        body["coil_resistance_ohm"] = draw(st.floats(0.05, 5))
    else:
        body["output_power_w"] = draw(st.floats(1, 300))
    if draw(st.booleans()):
        body["needed_time_s"] = draw(st.floats(10, 7200))
    if draw(st.booleans()):
        body["sharing"] = draw(st.sampled_from(["even", "allowance", "careful"]))
    return body


@settings(max_examples=40)
@given(body=searches())
def test_by_force(ask, body):
    """Layouts, figures, verdicts and counts equal those of single questions."""
    fits, rejected = by_force(ask, body)
    got = ask("layouts", **body)
    assert {option.layout for option in got.layouts} == fits.keys()
    assert msgspec.to_builtins(got.rejected) == {
        name: rejected[name] for name in got.rejected.__struct_fields__
    }
    assert got.considered_count == len(fits) + rejected.total()
    for option in got.layouts:
        judged, ran = fits[option.layout]
        assert option.verdict == judged.verdict
        assert option.worst_cell_current_a == pytest.approx(judged.worst_cell_current_a)
        assert option.headroom == pytest.approx(judged.headroom, abs=1e-9)
        assert option.running_time_s == pytest.approx(ran.running_time_s, rel=1e-12)
        assert option.used_capacity == pytest.approx(ran.used_capacity, rel=1e-12)


@given(body=searches())
def test_order(ask, body):
    """Fewest cells come first, then most headroom; and no option is over its rating or too short."""
    got = ask("layouts", **body)
    keys = [(option.cell_count, -option.headroom) for option in got.layouts]
    for one, other in pairwise(keys):
        assert one[0] < other[0] or (one[0] == other[0] and one[1] <= other[1] + 1e-9)
    for option in got.layouts:
        assert option.verdict != Verdict.OVER
        assert option.running_time_s >= body.get("needed_time_s", 0) * (1 - 1e-9)


def test_like_ones_are_in_series_first(ask):
    """Behind a converter, with an even share, the wiring with fewer cells in parallel comes first."""
    got = ask("layouts", **LAMP | {"needed_time_s": 60, "sharing": "even"})
    fours = [option.layout for option in got.layouts if option.cell_count == 4]
    assert fours == ["4S1P", "2S2P", "1S4P"]


def test_pack_figures_are_those_of_the_pack(ask):
    """Voltages and energy of an option are what the question about packs says."""
    for option in ask("layouts", **LAMP).layouts:
        pack = ask("pack", layout=option.layout, cell_rating_a=15, cell_capacity_ah=2.5)
        assert option.cell_count == pack.cell_count
        for name in ("pack_charged_voltage_v", "pack_nominal_voltage_v", "pack_energy_wh"):
            assert getattr(option, name) == pytest.approx(getattr(pack, name))


def test_more_cells_lose_no_option(ask):
    """More cells never lose an option, and up to twenty all layouts are searched."""
    before: set[str] = set()
    for most in range(1, 21):
        got = ask("layouts", **LAMP | {"most_cells": most})
        layouts = {option.layout for option in got.layouts}
        assert before <= layouts
        assert got.considered_count == sum(most // series for series in range(1, most + 1))
        before = layouts


def test_time_needed_at_its_threshold(ask):
    """A layout that runs exactly as long as needed fits; needed a little longer, it does not."""
    option = ask("layouts", **LAMP).layouts[0]
    for needed_s, fits in [
        (option.running_time_s, True),
        (option.running_time_s * (1 + 1e-6), False),
    ]:
        got = ask("layouts", **LAMP | {"needed_time_s": needed_s})
        assert (option.layout in {o.layout for o in got.layouts}) is fits


def rules(got):
    return {finding.rule for finding in got.findings}


def test_findings_of_a_search(ask):
    """No fit, cells in parallel and heavy packs each have their finding."""
    assert "no-layout-fits" not in rules(ask("layouts", **LAMP))
    none = ask("layouts", **LAMP | {"output_power_w": 2000})
    assert none.layouts == []
    assert none.layout_count == 0
    assert "no-layout-fits" in rules(none)
    assert "sharing-chosen" not in rules(ask("layouts", **LAMP))
    chosen = ask("layouts", **LAMP | {"sharing": "even"})
    assert "sharing-chosen" in rules(chosen)
    assert chosen.attention == "caution"
    # by hand: 2.5 Ah × 3.7 V, the highest printed, are 9.25 Wh a cell: ten are 92.5 Wh, eleven 101.75 Wh
    assert "transport-limit" not in rules(ask("layouts", **LAMP | {"most_cells": 10}))
    assert "transport-limit" in rules(ask("layouts", **LAMP | {"most_cells": 11}))
    for got in (chosen, ask("layouts", **LAMP | {"most_cells": 20})):
        assert len(rules(got)) == len(got.findings)


def test_defaults(ask):
    """Only the defaults of the given load are listed, with the curve and the way of sharing."""
    shared = {
        "chemistry",
        "cell_resistance_ohm",
        "cell_temperature_c",
        "contact_resistance_ohm",
        "cell_health",
        "state_of_charge",
        "measured_discharge",
        "sharing",
    }
    got = ask("layouts", **LAMP)
    assert {a.name for a in got.assumptions} == shared | {
        "efficiency",
        "idle_power_w",
        "cell_cutoff_voltage_v",
        "cell_cutoff_voltage_v.current",
    }
    coil = {n: v for n, v in LAMP.items() if n != "output_power_w"} | {"coil_resistance_ohm": 1}
    got = ask("layouts", **coil)
    assert {a.name for a in got.assumptions} == shared | {
        "device_resistance_ohm",
        "coil_resistance_tolerance_ohm",
        "cell_cutoff_voltage_v",
        "cell_charged_voltage_v",
    }


@pytest.mark.parametrize(
    "load", [("output_power_w", 0.1, 2000), ("coil_resistance_ohm", 0.001, 100)]
)
def test_finite_at_its_corners(ask, load):
    """From the smallest to the largest load, cell and pack all numbers are finite."""
    name, *ends = load
    for value in ends:
        for capacity_ah in (0.01, 100):
            for ohm in (0, 1):
                got = ask(
                    "layouts",
                    most_cells=20,
                    cell_rating_a=200,
                    cell_capacity_ah=capacity_ah,
                    cell_resistance_ohm=ohm,
                    **{name: value},
                )
                for option in got.layouts:
                    numbers = [
                        v for v in msgspec.to_builtins(option).values() if isinstance(v, float)
                    ]
                    assert all(isfinite(number) for number in numbers)
                assert got.layout_count == len(got.layouts)


def test_without_a_time_every_run_counts(ask):
    """Without a needed time, every layout fits that runs at all within rating."""
    got = ask("layouts", **{n: v for n, v in LAMP.items() if n != "needed_time_s"})
    assert got.rejected.too_short_count == 0
    assert got.layouts[0].cell_count < ask("layouts", **LAMP).layouts[0].cell_count


def test_a_layout_within_rating_by_an_even_share_only_is_no_option(ask):
    """By hand: 90 W at 85 % from 2.8 V is 37.8 A: in 1S3P 12.6 A each, but 15.72 A in the worst-case cell."""
    asked = {"most_cells": 4, "cell_capacity_ah": 2.5, "output_power_w": 90}
    worst_a = 90 / 0.85 / 2.8 * KEPT[3][0]
    for rating_a, fits in ((worst_a * (1 + 1e-6), True), (worst_a * (1 - 1e-6), False)):
        got = ask("layouts", **asked, cell_rating_a=rating_a)
        assert ("1S3P" in {option.layout for option in got.layouts}) is fits
        even = ask("layouts", **asked, cell_rating_a=rating_a, sharing="even")
        assert "1S3P" in {option.layout for option in even.layouts}
        assert "By default percell allows for unequal cells" in even.headline


@pytest.mark.parametrize("most", [1, 3, 4, 20])
def test_the_working_can_be_worked_out(ask, most):
    """The layouts considered are a sum over the cells in series; those that fit are the rest."""
    got = ask("layouts", **LAMP | {"most_cells": most})
    considered, fitting, *_ = got.working
    terms = [int(term) for term in considered.with_numbers.split(" + ")]
    assert terms == [most // series for series in range(1, most + 1)]
    assert sum(terms) == considered.result == got.considered_count
    out = got.rejected
    rejected = out.over_limit_count + out.cutoff_at_once_count + out.too_short_count
    assert fitting.with_numbers == f"{got.considered_count} − {rejected}"
    assert fitting.result == got.layout_count == got.considered_count - rejected


def test_each_reason_is_counted_by_hand(ask):
    """60 W at 85 % from 2.8 V is 25.2 A over the cells; a coil of 0.1 Ω on one cell gives 42 A."""
    cells = {"most_cells": 2, "cell_capacity_ah": 2.5}
    # 25.2 A in one cell is too much for 15 A, 12.6 A in each of two is not
    over = ask("layouts", **cells, cell_rating_a=15, output_power_w=60)
    assert (over.rejected.over_limit_count, over.layout_count) == (1, 2)
    # no cell rests above 4.2 V, so at that cut-off none runs
    load = {"cell_rating_a": 26, "output_power_w": 60}
    at_once = ask("layouts", **cells, **load, cell_cutoff_voltage_v=4.2)
    assert (at_once.rejected.cutoff_at_once_count, at_once.layout_count) == (3, 0)
    assert [f.rule for f in at_once.findings] == ["no-layout-fits"]
    assert at_once.verdict == "not_judged"
    assert {one.reason for one in at_once.limits} == {"no layout meets the load"}
    # three cells' worth of charge is gone long before a day
    short = ask("layouts", **cells, **load, needed_time_s=86400)
    assert (short.rejected.too_short_count, short.layout_count) == (3, 0)


def test_a_finding_of_a_layout_names_it(ask):
    """The first layout that a finding is about stands before its numbers."""
    asked = {"cell_capacity_ah": 2.5, "cell_rating_a": 15, "most_cells": 4, "sharing": "even"}
    got = ask("layouts", **asked, output_power_w=90)
    (said,) = [f.sentence for f in got.findings if f.rule == "sharing-chosen"]
    first = next(o.layout for o in got.layouts if not o.layout.endswith("S1P"))
    assert said.startswith(f"{first}: Calculated with an even share")
    (said,) = [f.sentence for f in got.findings if f.rule == "running-time-estimate"]
    assert said.startswith("The running time is calculated from the curve of")


def test_those_at_their_cutoff_are_taken_off(ask):
    """Three layouts of two cells, and none runs: three are considered and three fell out."""
    asked = {"most_cells": 2, "cell_capacity_ah": 2.5, "cell_rating_a": 100, "output_power_w": 60}
    got = ask("layouts", **asked, cell_cutoff_voltage_v=4.2)
    assert [step.with_numbers for step in got.working] == ["2 + 1", "3 − 3"]


@pytest.mark.parametrize(
    ("sharing", "fit"),
    [({}, ["1S4P"]), ({"sharing": "allowance"}, ["1S4P"]), ({"sharing": "even"}, ["1S3P", "1S4P"])],
)
def test_a_coil_is_judged_carefully_unless_another_sharing_is_asked(ask, sharing, fit):
    """By hand: 42 A of 1S3P are 14 A each, but 16.8 A over 2.5; 1S4P is within 15 A either way."""
    asked = {"most_cells": 4, "cell_capacity_ah": 2.5, "cell_rating_a": 15}
    got = ask("layouts", **asked, coil_resistance_ohm=0.1, **sharing)
    assert [one.layout for one in got.layouts] == fit
    assert ("sharing-chosen" in rules(got)) is bool(sharing)


def test_the_worst_of_those_recommended_is_on_top(ask):
    """By hand: of 37.8 A 2S2P has 11.2 A in a cell, 93 % of 12 A: the list as a whole has little headroom."""
    asked = {"most_cells": 4, "cell_capacity_ah": 2.5, "cell_rating_a": 12, "output_power_w": 90}
    got = ask("layouts", **asked)
    words = {one.layout: one.verdict for one in got.layouts}
    assert words == {"4S1P": "within_limit", "2S2P": "little_headroom"}
    assert (got.verdict, got.attention) == ("little_headroom", "caution")
    assert (
        "2S2P: The worst-case cell carries 11.2 A of its continuous rating of 12 A" in got.headline
    )
    rating = next(one for one in got.limits if one.name == "continuous_rating")
    assert rating.figure == pytest.approx(90 / 0.85 / 5.6 * KEPT[2][0])


def test_the_first_heavy_pack_is_named_with_its_energy(ask):
    """By hand: 11 cells of 2.5 Ah, printed with up to 3.7 V, hold 101.75 Wh, and one of them 9.25 Wh."""
    asked = {"most_cells": 13, "cell_capacity_ah": 2.5, "cell_rating_a": 30, "output_power_w": 10}
    (said,) = [f.sentence for f in ask("layouts", **asked).findings if f.rule == "transport-limit"]
    assert said.startswith("11S1P, built in, counts as one battery of 102 Wh, above the 100 Wh of")
    assert said.endswith("A loose cell then counts as 9.25 Wh.")


def test_a_run_of_less_than_a_second_is_one(ask):
    """By hand: 36 As at more than 100 A are gone in a third of a second; without a time needed they count."""
    asked = {"most_cells": 1, "cell_capacity_ah": 0.01, "cell_rating_a": 200, "output_power_w": 400}
    got = ask("layouts", **asked, cell_resistance_ohm=0, contact_resistance_ohm=0)
    (option,) = got.layouts
    assert 0 < option.running_time_s < 0.36


@pytest.mark.parametrize("load", [{"output_power_w": 90}, {"coil_reading_ohm": 0.6}])
def test_without_a_rating_each_layout_tells_the_one_that_it_needs(ask, load):
    """A load and a number of cells alone: each layout with the careful rating, by the inverse questions."""
    got = ask("layouts", most_cells=4, **load)
    assert got.layout_count > 3
    for option in got.layouts:
        question = "needed-rating" if "output_power_w" in load else "needed-rating-for-coil"
        needed = ask(question, layout=option.layout, **load)
        assert option.worst_cell_current_a == pytest.approx(needed.needed_rating_a)
        assert option.headroom is option.running_time_s is option.pack_energy_wh is UNSET
        rating = next(one for one in option.limits if one.name == "continuous_rating")
        assert (rating.verdict, rating.missing) == ("not_judged", "cell_rating_a")
        assert rating.figure is UNSET
    # what the question is about was not looked at, so nothing is called within
    assert got.verdict == "not_judged"
    assert "continuous rating, because the continuous rating per cell was not given" in got.headline
    first = got.layouts[0]
    up_a = ceil(first.worst_cell_current_a * 10 - 1e-9) / 10
    assert (
        f"in the first, {first.layout}, each cell needs a continuous rating of at least {up_a:g} A"
        in (got.headline)
    )


def test_without_a_rating_other_limits_still_rule_layouts_out(ask):
    """A full cell of 0.1 Ω and 5 mΩ gives at most 42 W, so one cell is not offered for 45 W."""
    got = ask("layouts", most_cells=2, output_power_w=45 * 0.85, cell_resistance_ohm=0.1)
    assert [option.layout for option in got.layouts] == ["2S1P", "1S2P"]
    assert got.rejected.over_limit_count == 1
    low = ask("layouts", most_cells=2, output_power_w=10, cell_cutoff_voltage_v=2.4)
    assert low.layouts == []
    assert "exceed a limit (end voltage)" in low.headline


def test_without_a_capacity_there_is_no_time(ask):
    """A rating alone is judged; a time that is needed needs the capacity too."""
    got = ask("layouts", most_cells=4, output_power_w=60, cell_rating_a=18)
    assert got.verdict == "within_limit"
    assert all(option.running_time_s is UNSET for option in got.layouts)
    assert "running-time-estimate" not in rules(got)
    assert "open_circuit_curve" not in {a.name for a in got.assumptions}
    assert "cut-off at 2.8 V per cell for the currents" in got.headline
    assert "3.2 V" not in got.headline
    with pytest.raises(Refused) as refused:
        ask("layouts", most_cells=4, output_power_w=60, needed_time_s=60)
    assert refused.value.pointer == "/needed_time_s"
    # a capacity does not change the current
    timed = ask("layouts", most_cells=4, output_power_w=60, cell_rating_a=18, cell_capacity_ah=2.5)
    amps = {option.layout: option.worst_cell_current_a for option in got.layouts}
    assert {o.layout: o.worst_cell_current_a for o in timed.layouts}.items() <= amps.items()


def test_no_layout_needs_more_than_any_cell_is_rated_for(ask):
    """By hand: 1,000 W at 85 % from 2.8 V are 420 A, and over 200 A of a cell there is no rating to look for."""
    body = {"output_power_w": 1000, "cell_resistance_ohm": 0, "contact_resistance_ohm": 0}
    got = ask("layouts", most_cells=2, **body)
    assert got.layouts == []
    assert "exceed a limit (continuous rating)" in got.headline
    got = ask("layouts", most_cells=3, **body)
    assert [option.layout for option in got.layouts] == ["3S1P", "1S3P"]
    assert got.attention == "note"


def test_no_rating_is_told_that_nobody_gave(ask):
    """Without a rating the answer calculates with the highest there is, and no sentence says so."""
    got = ask("layouts", output_power_w=150, most_cells=4)
    assert any(one.rule == "cutoff-assumed" for one in got.findings)
    assert not any("200 A" in one.sentence for one in got.findings)
