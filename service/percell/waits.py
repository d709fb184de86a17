"""How long a client may keep the server waiting. The environment carries the times to every worker."""

from collections.abc import Mapping
from typing import NamedTuple

LONGEST_S = 86400.0


class Waits(NamedTuple):
    """The longest times, in seconds."""

    head_s: float = 10.0
    body_s: float = 60.0
    idle_s: float = 30.0


# the variable of the environment for each time
VARIABLES = {
    field: f"PERCELL_{field.removesuffix('_s').upper()}_TIMEOUT_S" for field in Waits._fields
}


def waits_from(environment: Mapping[str, str]) -> Waits:
    """Return the times that an environment configures.

    Raises:
        ValueError: One of them is no number of seconds.
    """
    found = {}
    for field, name in VARIABLES.items():
        text = environment.get(name, "")
        try:
            found[field] = float(text) if text else Waits._field_defaults[field]
        except ValueError:
            found[field] = 0.0
        if not 0.0 < found[field] <= LONGEST_S:
            raise ValueError(f"{name} is {text!r}: give a number of seconds, at most {LONGEST_S:g}")
    return Waits(**found)
