"""The figures of a pack obey their laws, and contradictions are refused."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from percell.questions.vocabulary.refusal import Refused

BODY = {"layout": "2S2P", "cell_rating_a": 20, "cell_capacity_ah": 3}


@given(data=st.data())
def test_energy_is_capacity_times_voltage(ask, drawn, data):
    """The energy is capacity times nominal voltage of the pack, and the sum over its cells."""
    try:
        got = ask("pack", **data.draw(drawn("pack")))
    except Refused:
        assume(False)
    assert got.pack_energy_wh == pytest.approx(got.pack_capacity_ah * got.pack_nominal_voltage_v)
    assert got.pack_energy_wh == pytest.approx(got.cell_count * got.cell_energy_wh)
    assert got.pack_current_limit_a <= got.pack_current_limit_even_a * (1 + 1e-9)
    assert got.pack_cutoff_voltage_v <= got.pack_nominal_voltage_v <= got.pack_charged_voltage_v


@pytest.mark.parametrize(
    ("voltages", "accepted"),
    [
        ({"cell_nominal_voltage_v": 4.2}, True),
        ({"cell_nominal_voltage_v": 4.21}, False),
        ({"cell_cutoff_voltage_v": 3.6}, True),
        ({"cell_cutoff_voltage_v": 3.61}, False),
        ({"cell_charged_voltage_v": 3.6}, True),
        ({"cell_charged_voltage_v": 3.59}, False),
        ({"chemistry": "lfp", "cell_cutoff_voltage_v": 3.2}, True),
        ({"chemistry": "lfp", "cell_cutoff_voltage_v": 3.3}, False),
    ],
)
def test_voltages_in_order(ask, voltages, accepted):
    """The nominal voltage lies between cut-off and charged voltage, or equals one of them."""
    if accepted:
        assert ask("pack", **BODY, **voltages).cell_count == 4
    else:
        with pytest.raises(Refused, match="nominal"):
            ask("pack", **BODY, **voltages)


def test_capacity_by_hand(ask):
    """A 2S2P pack of 3 Ah cells, every figure by hand."""
    got = ask("pack", **BODY, cell_resistance_ohm=0.03, contact_resistance_ohm=0.01)
    assert (got.cell_count, got.layout) == (4, "2S2P")
    assert got.pack_capacity_ah == 6
    assert got.pack_charged_voltage_v == 8.4
    assert got.pack_nominal_voltage_v == 7.2
    assert got.pack_cutoff_voltage_v == 5.6
    assert got.pack_energy_wh == pytest.approx(43.2)
    assert got.pack_resistance_ohm == pytest.approx(0.04)
    assert got.cell_energy_wh == pytest.approx(10.8)
    assert (got.pack_current_limit_even_a, got.pack_current_limit_a) == (40, pytest.approx(30))
    # 8.4 V over 2 × 0.015 Ω / 2, half of the resistance after 10 s, the contacts left out
    assert got.prospective_short_circuit_a == pytest.approx(560)


@pytest.mark.parametrize(
    ("given", "charged_v", "nominal_v", "cutoff_v"),
    [
        ({}, 8.4, 7.2, 5.6),
        ({"chemistry": "lfp"}, 7.3, 6.4, 5.0),
        ({"cell_charged_voltage_v": 4.1}, 8.2, 7.2, 5.6),
        ({"cell_nominal_voltage_v": 3.7}, 8.4, 7.4, 5.6),
        ({"cell_cutoff_voltage_v": 3.0}, 8.4, 7.2, 6.0),
    ],
    ids=lambda value: "+".join(value) or "by chemistry" if isinstance(value, dict) else str(value),
)
def test_voltages_given_or_by_chemistry(ask, given, charged_v, nominal_v, cutoff_v):
    """Two cells in series have twice each voltage, the given ones before the chemistry's."""
    got = ask("pack", **BODY, **given)
    assert got.pack_charged_voltage_v == pytest.approx(charged_v)
    assert got.pack_nominal_voltage_v == pytest.approx(nominal_v)
    assert got.pack_cutoff_voltage_v == pytest.approx(cutoff_v)


@pytest.mark.parametrize(
    ("voltages", "field"),
    [
        ({"cell_nominal_voltage_v": 4.3}, "cell_nominal_voltage_v"),
        ({"cell_cutoff_voltage_v": 3.7}, "cell_cutoff_voltage_v"),
        ({"cell_charged_voltage_v": 3.5}, "cell_charged_voltage_v"),
        ({"cell_charged_voltage_v": 3.5, "cell_nominal_voltage_v": 3.6}, "cell_nominal_voltage_v"),
        ({"cell_charged_voltage_v": 3.5, "cell_cutoff_voltage_v": 3.0}, "cell_cutoff_voltage_v"),
    ],
)
def test_a_voltage_at_fault_is_one_that_was_given(ask, voltages, field):
    """The refusal names a voltage that the caller gave."""
    with pytest.raises(Refused) as refused:
        ask("pack", **BODY, **voltages)
    assert refused.value.pointer == f"/{field}"


def test_each_way_of_sharing_is_named(ask):
    """By hand: 20 A for 3, 2.5 and 1 / 0.4157 cells, the last rounded down to a tenth of an ampere."""
    got = ask("pack", **BODY | {"layout": "1S3P"})
    found = {f.rule: f.sentence for f in got.findings}
    for amps in ("60 A", "50 A", "48.1 A"):
        assert amps in found["uneven-share"]
    # the figure is the careful one
    assert got.pack_current_limit_a == pytest.approx(48.1, abs=0.05)


def test_a_heavy_pack_is_compared_with_its_cells(ask):
    """By hand: ten cells of 3 Ah and 3.7 V, the highest printed, are 111 Wh built in, and 11.1 Wh each."""
    got = ask("pack", **BODY | {"layout": "5S2P"})
    (said,) = [f.sentence for f in got.findings if f.rule == "transport-limit"]
    assert "111 Wh" in said
    assert "11.1 Wh" in said
    assert got.pack_energy_wh == pytest.approx(108)


@pytest.mark.parametrize(
    ("more", "spoken"),
    [
        # 4 × 2 × 3.45 Ah × 3.6 V are 99.36 Wh, and 102.1 Wh where 3.7 V is printed
        ({"layout": "4S2P", "cell_capacity_ah": 3.45}, "102 Wh, above the 100 Wh"),
        # makers print up to 3.8 V on cells of high voltage: 103.4 Wh
        (
            {"layout": "4S2P", "cell_capacity_ah": 3.4, "chemistry": "lco_high_voltage"},
            "above the 100 Wh",
        ),
        # 95 Wh / (8 × 3.7 V) are 3.2095 Ah
        ({"layout": "4S2P", "cell_capacity_ah": 3.21}, "close to the 100 Wh"),
        ({"layout": "4S2P", "cell_capacity_ah": 3.209}, ""),
        # what the caller reads on the label counts if it is higher still
        ({"layout": "2S2P", "cell_capacity_ah": 6.4, "cell_nominal_voltage_v": 4}, "102 Wh, above"),
    ],
)
def test_transport_goes_by_the_highest_voltage_printed(ask, more, spoken):
    """Watt-hours are capacity times nominal voltage as printed (49 CFR 171.8); from 95 Wh it is said."""
    got = ask("pack", **BODY | more)
    said = [f for f in got.findings if f.rule == "transport-limit"]
    assert bool(said) is bool(spoken)
    assert got.attention == ("caution" if spoken else "note")
    # it concerns no limit of a cell
    assert got.verdict == "within_limit"
    if spoken:
        assert spoken in said[0].sentence


@pytest.mark.parametrize(
    ("layout", "amps"), [("1S1P", 210), ("4S1P", 210), ("1S3P", 630), ("2S2P", 420)]
)
def test_a_short_circuit_takes_a_low_resistance(ask, layout, amps):
    """By hand: 4.2 V over 20 mΩ, as after 0.1 s, are 210 A; in series no more, P times in parallel."""
    got = ask("pack", **BODY | {"layout": layout})
    assert got.prospective_short_circuit_a == pytest.approx(amps)
    listed = {a.name: a.value for a in got.assumptions}
    assert listed["cell_resistance_ohm"] == 0.04
    assert listed["cell_resistance_ohm.short_circuit"] == 0.02
    given_one = ask("pack", **BODY | {"layout": layout}, cell_resistance_ohm=0.02)
    assert given_one.prospective_short_circuit_a == pytest.approx(2 * amps)
    listed = {a.name: a.value for a in given_one.assumptions}
    assert "cell_resistance_ohm" not in listed
    assert listed["cell_resistance_ohm.short_circuit"] == 0.01


@pytest.mark.parametrize(
    ("ohm", "after_s", "first_ohm"),
    [(0, 10, 1e-4), (0.0001, 10, 1e-4), (0.04, 10, 0.02), (0.032, 1, 0.02), (0.02, 0.1, 0.017)],
)
def test_a_short_circuit_is_that_of_the_first_moment(ask, ohm, after_s, first_ohm):
    """Half of the resistance after 10 s; a measured ratio after 0.1 s was 0.6 (Kollmeyer, 10.17632/wykht8y7tg.1).

    A cell without any resistance keeps the current finite.
    """
    got = ask("pack", **BODY | {"layout": "1S1P"}, cell_resistance_ohm=ohm,
              cell_resistance_after_s=after_s)  # fmt: skip
    assert got.prospective_short_circuit_a == pytest.approx(4.2 / first_ohm)
    assert first_ohm <= max(ohm, 1e-4)


@pytest.mark.parametrize(("rating_a", "ohm"), [(10, 0.06), (20, 0.055), (23, 0.0479), (30, 0.045)])
def test_the_default_resistance_follows_from_capacity_and_rating(ask, rating_a, ohm):
    """By hand for 2 Ah: 0.12 Ω·Ah / 2 Ah, less for a rating of more than 1.1 V over that, to 0.09 Ω·Ah / 2 Ah."""
    got = ask("pack", layout="1S1P", cell_rating_a=rating_a, cell_capacity_ah=2)
    listed = {a.name: a for a in got.assumptions}["cell_resistance_ohm"]
    assert listed.value == pytest.approx(ohm)
    assert "this capacity and rating" in listed.origin
    assert got.pack_resistance_ohm == pytest.approx(ohm + 0.005)


@pytest.mark.parametrize(
    ("more", "over"),
    [
        ({}, set()),
        ({"cell_cutoff_voltage_v": 2.4}, {"end_voltage"}),
        ({"cell_charged_voltage_v": 4.35}, {"charged_voltage"}),
        ({"cell_cutoff_voltage_v": 2.4, "cell_charged_voltage_v": 4.35}, {"end_voltage", "charged_voltage"}),
    ],
)  # fmt: skip
def test_voltages_outside_the_chemistry_are_over(ask, more, over):
    """A pack is held against the voltages of its chemistry, and nothing else."""
    got = ask("pack", **BODY, **more)
    assert [one.name for one in got.limits] == ["end_voltage", "charged_voltage"]
    assert {one.name for one in got.limits if one.verdict == "over_limit"} == over
    assert (got.verdict, got.attention) == (
        ("over_limit", "warning") if over else ("within_limit", "note")
    )


@pytest.mark.parametrize(("layout", "spoken"), [("14S1P", False), ("15S1P", True), ("20S1P", True)])
def test_touch_voltage(ask, layout, spoken):
    """By hand: 15 × 4.2 V are 63 V, above the customary 60 V d.c. (from memory)."""
    got = ask("pack", **BODY | {"layout": layout, "cell_capacity_ah": 1})
    assert ("touch-voltage" in {f.rule for f in got.findings}) is spoken
    assert got.verdict == "within_limit"
