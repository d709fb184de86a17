"""The highest power of a converter, by hand, and where none is left."""

import pytest

from percell.questions.vocabulary.usual_spread import KEPT

CELL = {"layout": "1S1P", "cell_rating_a": 20, "cell_cutoff_voltage_v": 3.2, "efficiency": 0.8}
# at rest at 4 V behind 0.1 ohm: at most 40 W, U²/4R
WEAK = {
    "layout": "1S1P",
    "cell_cutoff_voltage_v": 4.0,
    "cutoff_basis": "at_rest",
    "efficiency": 1,
    "cell_resistance_ohm": 0.08,
    "contact_resistance_ohm": 0.02,
}
POWER = "P = U·I by hand"


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        pytest.param(
            CELL | {"idle_power_w": 4},
            {
                "highest_power_w": 48,
                "pack_current_limit_a": 20,
                "pack_lowest_voltage_v": 3.2,
                "input_power_w": 64,
            },
            id=f"{POWER}: 3.2 V × 20 A less 4 W, of which four fifths arrive",
        ),
        pytest.param(
            CELL | {"layout": "2S2P", "sharing": "even"},
            {
                "highest_power_w": 204.8,
                "pack_current_limit_a": 40,
                "pack_lowest_voltage_v": 6.4,
                "input_power_w": 256,
            },
            id=f"{POWER}: 6.4 V × 2 × 20 A at 0.8, if both cells share evenly",
        ),
        pytest.param(
            CELL | {"layout": "2S2P", "sharing": "allowance"},
            {
                "highest_power_w": 153.6,
                "pack_current_limit_a": 30,
                "pack_current_a": 30,
                "input_power_w": 192,
            },
            id="common practice, no published source: 6.4 V × (2 − ½) × 20 A at 0.8",
        ),
        pytest.param(
            CELL | {"cell_cutoff_voltage_tolerance_v": 0.2, "efficiency_tolerance": 0.05},
            {"highest_power_w": 45, "pack_lowest_voltage_v": 3.0, "input_power_w": 60},
            id=f"{POWER}, worst corner: 3.0 V × 20 A at 0.75",
        ),
        pytest.param(
            WEAK | {"cell_rating_a": 10},
            {"highest_power_w": 30, "pack_current_limit_a": 10, "pack_current_a": 10},
            id=f"{POWER}, at rest: 10 A take 1 V off 4 V, and 3 V × 10 A are 30 W",
        ),
        *(
            pytest.param(
                WEAK | {"cell_rating_a": rating_a},
                {"highest_power_w": 40, "pack_current_limit_a": rating_a, "pack_current_a": 20},
                id=f"{POWER}, at rest: with {rating_a} A to give, still U²/4R = 40 W at 20 A",
            )
            for rating_a in (20, 30)
        ),
        pytest.param(
            CELL | {"idle_power_w": 50, "cell_rating_a": 10},
            {"highest_power_w": 0, "input_power_w": 32},
            id=f"{POWER}: 32 W do not feed a converter that needs 50 W for itself",
        ),
    ],
)
def test_by_hand(ask, asked, expected):
    """The power at which the worst-case cell is at its rating, or the pack at its most."""
    got = ask("highest-power", **asked)
    assert {name: getattr(got, name) for name in expected} == pytest.approx(expected)


@pytest.mark.parametrize(("layout", "shared"), [("1S1P", False), ("1S3P", True)])
def test_each_way_of_sharing_is_named_if_power_is_left(ask, layout, shared):
    """If no power is left, a finding says so, and no limit by sharing is named."""
    asked = CELL | {"layout": layout, "cell_rating_a": 0.1}
    some = {f.rule for f in ask("highest-power", **asked).findings}
    assert ("uneven-share" in some) is shared
    assert "no-power-left" not in some
    none = {f.rule: f.sentence for f in ask("highest-power", **asked, idle_power_w=50).findings}
    assert "no-power-left" in none
    assert "50 W" in none["no-power-left"]
    assert "uneven-share" not in none


def test_the_limits_by_each_way_of_sharing(ask):
    """By hand: 3.2 V × 20 A for 3, 2.5 and 1 / 0.4157 cells, rounded down to a tenth of a watt."""
    asked = CELL | {"layout": "1S3P", "efficiency": 1}
    found = {f.rule: f.sentence for f in ask("highest-power", **asked).findings}
    for watts in ("192 W", "160 W", "153.9 W"):
        assert watts in found["uneven-share"]
    # the careful share is the computed one, and it is the figure of the answer
    assert ask("highest-power", **asked).highest_power_w == pytest.approx(64 / KEPT[3][0])


@pytest.mark.parametrize("sharing", ["careful", "even", {"spread": 0.1}])
def test_the_working_is_the_figures(ask, sharing):
    """Each step ends in a figure of the answer; a computed share shows how many cells it counts as."""
    got = ask("highest-power", **CELL | {"layout": "2S3P", "sharing": sharing})
    assert [step.result for step in got.working] == pytest.approx(
        [
            *([got.pack_current_limit_a / 20] if sharing != "even" else []),
            got.pack_current_limit_a,
            got.pack_lowest_voltage_v,
            got.input_power_w,
            got.highest_power_w,
        ]
    )


def test_limits_are_told_of_what_arrives(ask):
    """By hand: 3.2 V × 20 A × 3 × 0.8 is 153.6 W, by 2½ cells 128 W, and by 1/0.4157 cells 123.1 W."""
    got = ask("highest-power", **CELL | {"layout": "1S3P"})
    said = {finding.rule: finding.sentence for finding in got.findings}
    assert said["uneven-share"].startswith(
        "For 3 cells in parallel the converter must be set to 123.1 W or less in 99 % of groups"
    )
    assert said["uneven-share"].endswith(
        "128 W or less by the P − ½ rule, and 153.6 W or less only if all share evenly."
    )


@pytest.mark.parametrize(("layout", "trade_w"), [("1S4P", 190.4), ("1S2P", 95.2), ("2S3P", 285.6)])
def test_the_limit_is_that_of_unequal_cells(ask, layout, trade_w):
    """By hand: 2.8 V × 20 A × 0.85 are 47.6 W a cell evenly shared; the careful share allows less."""
    body = {"layout": layout, "cell_rating_a": 20}
    got = ask("highest-power", **body)
    even = ask("highest-power", **body, sharing="even")
    parallel = int(layout[2])
    assert even.highest_power_w == pytest.approx(trade_w)
    assert got.highest_power_w == pytest.approx(trade_w / parallel / KEPT[parallel][0])
    assert (got.attention, even.attention) == ("note", "caution")
    assert "an even share between cells in parallel" in even.headline


def test_the_current_that_flows_is_not_the_limit_at_the_most_power(ask):
    """By hand: 3.75 V, above 0.4 of the charge, behind 35 mΩ gives at most 100.4 W, at 53.6 A and not at 100 A."""
    got = ask("highest-power", layout="1S1P", cell_rating_a=100, cutoff_basis="at_rest",
              cell_cutoff_voltage_v=3.75, cell_resistance_ohm=0.03)  # fmt: skip
    assert got.input_power_w == pytest.approx(3.75**2 / 0.14)
    assert got.pack_current_a == pytest.approx(3.75 / 0.07)
    assert got.pack_current_limit_a == 100
    # there the limits besides the rating are not kept
    assert (got.verdict, got.attention) == ("over_limit", "warning")
    said = {finding.rule: finding.sentence for finding in got.findings}
    assert "would draw 100 W" in said["near-collapse"]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({}, {"end_voltage": "within_limit", "available_power": "within_limit"}),
        ({"cell_cutoff_voltage_v": 2.4}, {"end_voltage": "over_limit"}),
        ({"cell_resistance_ohm": 0.3}, {"available_power": "over_limit"}),
    ],
)
def test_the_other_limits_at_the_highest_power(ask, more, words):
    """The rating is what was asked for; the end voltage and the power of a full pack are looked at."""
    got = ask("highest-power", layout="1S1P", cell_rating_a=20, **more)
    assert [one.name for one in got.limits] == ["end_voltage", "available_power"]
    verdicts = {one.name: one.verdict for one in got.limits}
    assert verdicts | words == verdicts
    assert got.verdict == ("over_limit" if more else "within_limit")


def test_an_unknown_cutoff_is_named_with_the_power_at_the_end(ask):
    """By hand: 2.8 V × 20 A × 0.85 are 47.6 W; with a device that goes down to 2.5 V it is 42.5 W."""
    got = ask("highest-power", layout="1S1P", cell_rating_a=20)
    assert got.highest_power_w == pytest.approx(47.6)
    (said,) = [f.sentence for f in got.findings if f.rule == "cutoff-assumed"]
    assert "set it to 42.5 W at most" in said
    assert "cut-off at 2.8 V per cell" in got.headline


def test_a_power_over_another_limit_is_not_offered(ask):
    """At −15 °C the pack collapses at the power that its rating allows: the headline says not to set it."""
    got = ask("highest-power", layout="1S1P", cell_rating_a=20, cell_temperature_c=-15)
    assert got.headline.startswith("Over the limit: available power. ")
    assert "do not set 47.6 W, the most that the rating alone would allow" in got.headline
    assert "at most 47.6 W" not in got.headline


@pytest.mark.parametrize(
    ("device", "said"),
    [
        ({"cell_cutoff_voltage_v": 3.7}, "3.7 V per cell. With the usual 2.8 V, set it to 47.6 W"),
        ({"efficiency": 0.95}, "95 %. With the usual 85 %, set it to 47.6 W"),
        ({"cell_cutoff_voltage_v": 2.8, "efficiency": 0.85}, ""),
        ({"cell_cutoff_voltage_v": 3.7, "cutoff_basis": "at_rest"}, ""),
    ],
)
def test_a_device_given_as_easier_on_its_cells_than_usual_is_a_caution(ask, device, said):
    """The caution says the power of a usual device; the verdict stays."""
    got = ask("highest-power", layout="1S1P", cell_rating_a=20, **device)
    told = [one for one in got.findings if one.rule == "device-above-usual"]
    assert [said in one.sentence for one in told] == ([True] if said else [])
    if told:
        assert (got.verdict, got.attention) == ("within_limit", "caution")
        assert "set it to 47.6 W at most" in got.headline
