"""Turn the discharge logs of a cell into its profile: the API judges them."""

import json
from datetime import date
from typing import Any

from percell_site.api import Api


class NoProfile(ValueError):
    """The logs show too little for a profile; the text says what is missing."""


def judge(api: Api, logs: list[dict[str, Any]], limits: dict[str, Any]) -> dict[str, Any]:
    """Ask the API what the logs say of the cell."""
    answer: dict[str, Any] = api.post("/v1/discharge-test", {"logs": logs} | limits)
    return answer


def profile_text(
    judged: dict[str, Any], *, name: str, chemistry: str, size: str, measured_on: date
) -> str:
    """Return the profile as TOML, from the API's answer to the logs.

    Raises:
        NoProfile: The logs show no rating or no resistance.
    """
    profile = judged["profile"]
    for figure, why in (
        ("cell_rating_a", "no current kept the limits"),
        ("cell_resistance_ohm", "no step of current shows a resistance"),
    ):
        if figure not in profile:
            raise NoProfile(f"the logs give no {figure}: {why}")
    values = {
        "name": name,
        "chemistry": chemistry,
        "cell_size": size,
        "cell_rating_a": profile["cell_rating_a"],
        "cell_capacity_ah": round(profile["cell_capacity_ah"], 4),
        "cell_resistance_ohm": round(profile["cell_resistance_ohm"], 6),
        "measured_on": measured_on.isoformat(),
        "note": f"Judged from {len(judged['logs'])} discharge logs.",
    }
    # JSON's strings and numbers are TOML's
    lines = [
        f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in values.items() if value
    ]
    lines += [
        "# what the label claims, if you like it judged:",
        "# claimed_rating_a = 20",
        "# claimed_capacity_ah = 3.0",
    ]
    return "\n".join(lines) + "\n"
