"""Numbers as people type them into a form."""

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.web.ask_pages.numbers import number_in, why_no_number


@pytest.mark.parametrize(
    ("typed", "unit", "number"),
    [
        ("18 mΩ", "Ω", "0.018"),
        ("18mΩ", "Ω", "0.018"),  # with the sign for ohm, which is another character
        ("18 m Ω", "Ω", "0.018"),
        ("15 mOhm", "Ω", "0.015"),
        (",15 ohm", "Ω", "0.15"),
        ("0,5R", "Ω", "0.5"),
        ("2600mAh", "Ah", "2.6"),
        ("2,6 Ah", "Ah", "2.6"),
        ("3.62V", "V", "3.62"),
        ("4\N{NO-BREAK SPACE}180 mV", "V", None),
        ("4180 mV", "V", "4.18"),
        ("10 min", "s", "600"),
        ("1 h", "s", "3600"),
        ("95 %", "1", "0.95"),
        ("3 %", "", None),  # of a count
        ("77 °F", "°C", "25"),
        ("\N{MINUS SIGN}5 °C", "°C", "-5"),
        ("0.5 C", "1/h", "0.5"),
        ("45 g", "kg", "0.045"),
        ("0.3 cm", "mm", "3"),
        ("20", "A", "20"),
        ("1e-3", "Ω", "1e-3"),
        ("2,600 mAh", "Ah", None),
        ("18 mΩ", "Ah", None),
        ("5 kΩ", "Ω", None),
        ("1:30 h", "s", None),
        ("00:10:00", "s", None),
        ("1e400 mV", "V", None),
        ("9" * 400 + " mV", "V", None),
        ("1_000", "A", None),
        ("½", "A", None),
        ("1.2.3", "V", None),
        ("", "V", None),
    ],
)
def test_a_number_is_read_in_the_unit_that_is_written(
    typed: str, unit: str, number: str | None
) -> None:
    """A unit that people use for the field is counted; what could be read in two ways is not."""
    assert number_in(typed, unit, (-inf, inf)) == number


@pytest.mark.parametrize(
    ("typed", "unit", "bounds", "number"),
    [
        ("4,172", "V", (0.5, 5), "4.172"),
        ("4,172 V", "V", (0.5, 5), "4.172"),
        ("4,172 mV", "V", (0.5, 5), "4.172"),
        ("2,600", "Ah", (0.01, 100), "2.600"),
        ("2,600 mAh", "Ah", (0.01, 100), "2.6"),
        ("18,500 mΩ", "Ω", (0.0001, 1), "0.0185"),
        ("1,000 mΩ", "Ω", (0.0001, 1), None),  # 0.001 or 1
        ("1,500", "A", (0.1, 2000), None),
        ("9,000", "V", (0.5, 5), None),
        ("1,500", "W", (0.1, 1000), None),  # 1.5 W for who means 1500 W would be a bold answer
        ("1,200", "s", (0, 1000), None),
        ("1,000", "", (1, 100), None),
    ],
)
def test_three_decimals_after_a_comma_are_read_where_they_can_be_nothing_else(
    typed: str, unit: str, bounds: tuple[float, float], number: str | None
) -> None:
    """The bounds of the field tell a decimal comma from a separator of thousands, if only one of them fits."""
    assert number_in(typed, unit, bounds) == number


@pytest.mark.parametrize(
    ("typed", "unit", "says"),
    [
        ("2,600 mAh", "Ah", "“2,600 mAh” could mean 2.600 or 2600. Write one of these."),
        ("5 kΩ", "Ω", "percell does not know the unit “kΩ” here. Use Ω or mΩ, or no unit."),
        ("3 %", "", "percell does not know the unit “%” here. Leave it out."),
        ("2 days", "s", "“days” here. Use s or ms or min or h, or no unit."),
        ("many", "A", "“many” is not a number. Write it with a decimal point, such as 0.5."),
    ],
)
def test_what_is_no_number_is_told_with_what_to_write(typed: str, unit: str, says: str) -> None:
    """The sentence quotes what was typed and names the units that the field takes."""
    assert why_no_number(typed, unit).endswith(says)


@given(st.text(max_size=20), st.sampled_from(["Ω", "s", "°C", "1", "", "J/(kg·K)"]))
def test_any_text_is_a_number_or_has_a_reason(typed: str, unit: str) -> None:
    """Whatever is typed is read as a number that Python reads too, or is explained."""
    number = number_in(typed, unit, (0, 5))
    if number is None:
        assert why_no_number(typed, unit).endswith(".")
    else:
        float(number)
