"""Turn the discharge logs of a cell into its profile: the API judges them."""

import json
from datetime import date
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from typing import Any

from percell_site.api import Api
from percell_site.profiles import ProfileError, read

# finding of the API that says why logs prove no rating
_NO_RATING = "test-proves-no-rating"
# and the one about tests that were allowed to become too hot
_STOP_RAISED = "test-stop-raised"


class NoProfile(ValueError):
    """The logs show nothing that a profile could hold; the text says what is missing."""


def judge(api: Api, logs: list[dict[str, Any]], limits: dict[str, Any]) -> dict[str, Any]:
    """Ask the API what the logs say of the cell."""
    answer: dict[str, Any] = api.post("/v1/discharge-test", {"logs": logs} | limits)
    return answer


def profile_text(
    judged: dict[str, Any],
    *,
    about: dict[str, Any],
    limits: dict[str, Any],
    bench: dict[str, Any],
    files: list[dict[str, str]],
    command: str,
    measured_on: date,
) -> str:
    """Return the profile as TOML, from the API's answer to the logs.

    Args:
        judged: The API's answer.
        about: What the tester says of the cell: name, chemistry, size.
        limits: The limits that the API was asked with.
        files: Name and SHA-256 of each log's file.
        command: The command that makes this profile again.
        bench: What the tester says of the bench: ambient temperature, cooling.
        measured_on: Day of the profile.

    Raises:
        NoProfile: The logs show neither a rating nor a capacity nor a resistance, or what the tester says
            cannot be in a profile.
    """
    profile = judged["profile"]
    missing = _said(judged, _NO_RATING)
    if not profile:
        full = any("start_near_full" in log["missing_for_rating"] for log in judged["logs"])
        hint = " If the cells were fully charged, say so with --started-full." if full else ""
        raise NoProfile(f"the logs show no rating, capacity or resistance. {missing}{hint}")
    cell = about | {
        "measured_on": measured_on.isoformat(),
        "cell_rating_a": profile.get("cell_rating_a"),
        "cell_capacity_ah": two_digits(profile.get("cell_capacity_ah"), ROUND_FLOOR),
        "cell_resistance_ohm": two_digits(profile.get("cell_resistance_ohm"), ROUND_HALF_EVEN),
        "cell_resistance_lowest_ohm": two_digits(
            judged.get("cell_resistance_lowest_ohm"), ROUND_FLOOR
        ),
        "cell_resistance_highest_ohm": two_digits(
            judged.get("cell_resistance_highest_ohm"), ROUND_CEILING
        ),
        "cell_resistance_after_s": _rounded(profile.get("cell_resistance_after_s")),
    }
    rating = judged.get("rating", {})
    test = bench | {
        "stop_temperature_c": _limit(judged, limits, "stop_temperature_c"),
        # not lower than the end of discharge of the chemistry, whatever was asked
        "stop_voltage_v": next(
            one["value"] for one in judged["limits"] if one["name"] == "end_voltage"
        ),
        "logs": len(judged["logs"]),
        "repeats": rating.get("repeats"),
        "start_temperature_c": _rounded(rating.get("start_temperature_c")),
        "peak_temperature_c": _rounded(rating.get("peak_temperature_c")),
        "missing": missing,
        "caution": _said(judged, _STOP_RAISED),
    }
    test |= {"command": command}
    asked = {name: value for name, value in limits.items() if value is not None}
    runs = [_run(log, file) for log, file in zip(judged["logs"], files, strict=True)]
    failed = [
        {
            "current_a": log["test_current_a"],
            "peak_temperature_c": _rounded(log.get("peak_temperature_c")),
            "lowest_voltage_v": _rounded(log["lowest_voltage_v"]),
        }
        for log in judged["logs"]
        if log.get("kept_limits") is False
    ]
    lines = [
        *_lines(cell),
        "# what the label claims:",
        "# claimed_rating_a = 20",
        "# claimed_capacity_ah = 3.0",
        *_own_discharge(profile.get("measured_discharge")),
        "",
        "[test]",
        *_lines(test),
        "",
        "# what the API was asked with the logs",
        "[test.asked]",
        *_lines(asked),
    ]
    for run in failed:
        lines += ["", "[[test.failed]]", *_lines(run)]
    for run in runs:
        lines += ["", "[[test.runs]]", *_lines(run)]
    text = "\n".join(lines) + "\n"
    try:
        read(text, "profile")
    except ProfileError as error:
        raise NoProfile(f"the profile would not be usable: {error}") from error
    return text


def _own_discharge(measured: dict[str, Any] | None) -> list[str]:
    """Return the section of the discharge that the running times rest on, if a log shows one."""
    if measured is None:
        return []
    shown = {
        "current_a": measured["current_a"],
        "charge_ah": [round(charge, 4) for charge in measured["charge_ah"]],
        "voltage_v": [round(volts, 4) for volts in measured["voltage_v"]],
    }
    return ["", "# on it rest the running times", "[measured_discharge]", *_lines(shown)]


def _run(log: dict[str, Any], file: dict[str, str]) -> dict[str, Any]:
    """Return what a profile holds of one log."""
    return file | {
        "rows": log["rows"],
        "read": reading(log["read_as"]),
        "current_a": log["test_current_a"],
        "charge_ah": round(log["delivered_charge_ah"], 3),
        "energy_wh": round(log["delivered_energy_wh"], 2),
        "start_temperature_c": _rounded(log.get("start_temperature_c")),
        "peak_temperature_c": _rounded(log.get("peak_temperature_c")),
        "lowest_voltage_v": _rounded(log["lowest_voltage_v"]),
        "kept_limits": log.get("kept_limits"),
        "proves": not log["missing_for_rating"] and log.get("kept_limits"),
        "curve_ah": [round(point["delivered_charge_ah"], 4) for point in log["curve"]],
        "curve_v": [round(point["voltage_v"], 4) for point in log["curve"]],
    }


def reading(read: dict[str, Any]) -> str:
    """Return how a log was read from its file, in words."""
    words = ("time", "voltage", "current", "temperature")
    columns = [
        f"{word} “{one['column']}” in {one['unit']}" + ("" if one["certain"] else " (guessed)")
        for word in words
        if (one := read.get(f"{word}_column"))
    ]
    said = [
        f"{', '.join(columns)}; {read['separator']} between columns, decimal {read['decimal_mark']}",
        *(["discharge negative"] if read["discharge_negative"] else []),
        *([f"other lines skipped: {read['skipped_lines']:g}"] if read["skipped_lines"] else []),
        *([f"not used: {', '.join(read['ignored_columns'])}"] if read["ignored_columns"] else []),
    ]
    return "; ".join(said)


def _said(judged: dict[str, Any], rule: str) -> str:
    """Return the sentence of a rule's finding; empty if there is none."""
    said = (found["sentence"] for found in judged["findings"] if found["rule"] == rule)
    return next(said, "")


def _limit(judged: dict[str, Any], limits: dict[str, Any], name: str) -> float:
    """Return a limit of the tests: as given, or else the default that the answer names."""
    taken = {one["name"]: one["value"] for one in judged["assumptions"]}
    value: float = limits[name] if name in limits else taken[name]
    return value


def two_digits(value: float | None, rounding: str) -> float | None:
    """Return a figure with two significant digits: a measurement at a bench deserves no more."""
    if value is None:
        return None
    # a few digits first, so that floating-point noise does not round up
    exact = Decimal(f"{value:.6g}")
    return float(exact.quantize(Decimal(1).scaleb(exact.adjusted() - 1), rounding))


def _rounded(value: float | None) -> float | None:
    """Return a reading without the noise of another unit."""
    return None if value is None else round(value, 3)


def _lines(values: dict[str, Any]) -> list[str]:
    # JSON's strings and numbers are TOML's
    return [
        f"{key} = {json.dumps(value, ensure_ascii=False)}"
        for key, value in values.items()
        if value is not None and value != ""
    ]
