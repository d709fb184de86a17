"""Profiles of measured cells: one TOML file a cell."""

import tomllib
from pathlib import Path
from typing import Annotated

from msgspec import Meta, Struct, ValidationError, convert

# no number of a profile may be infinite, or none at all
Positive = Annotated[float, Meta(gt=0, lt=1e6)]
Celsius = Annotated[float, Meta(ge=-60, le=300)]
RoomCelsius = Annotated[float, Meta(ge=-20, le=60)]
Name = Annotated[str, Meta(min_length=1, pattern=r"\S")]
# where a load must stop, as the API's questions have it unless another is given
STOP_C = 60.0


class ProfileError(ValueError):
    """A profile cannot be used; the text names the file and the field."""


class FailedRun(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A discharge that did not keep the limits."""

    current_a: Positive
    lowest_voltage_v: Positive
    peak_temperature_c: Celsius | None = None


class Run(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One log of a test: its file, what it came to, and its voltage over charge."""

    file: Name
    sha256: Annotated[str, Meta(pattern="^[0-9a-f]{64}$")]
    rows: int
    read: str
    current_a: Positive
    charge_ah: Positive
    energy_wh: Positive
    lowest_voltage_v: Positive
    curve_ah: Annotated[list[Annotated[float, Meta(ge=0, lt=1e6)]], Meta(min_length=2)]
    curve_v: Annotated[list[Positive], Meta(min_length=2)]
    start_temperature_c: Celsius | None = None
    peak_temperature_c: Celsius | None = None
    kept_limits: bool | None = None
    proves: bool | None = None


class BenchTest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a cell was tested: its limits, the bench, and what failed."""

    stop_temperature_c: Celsius
    logs: int
    stop_voltage_v: Positive | None = None
    ambient_c: RoomCelsius | None = None
    cooling: str = ""
    repeats: int | None = None
    start_temperature_c: Celsius | None = None
    peak_temperature_c: Celsius | None = None
    missing: str = ""
    caution: str = ""
    failed: list[FailedRun] = []
    runs: list[Run] = []
    asked: dict[str, str | float] = {}
    command: str = ""


class MeasuredDischarge(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The discharge that shows best how the cell runs, as the API's questions take it."""

    current_a: Positive
    charge_ah: list[Annotated[float, Meta(ge=0, lt=1e3)]]
    voltage_v: list[Positive]


class Profile(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A measured cell. The rating is the highest current that repeated tests prove, if any does."""

    name: Name
    chemistry: str
    measured_on: str
    cell_rating_a: Positive | None = None
    cell_capacity_ah: Positive | None = None
    cell_resistance_ohm: Positive | None = None
    cell_resistance_lowest_ohm: Positive | None = None
    cell_resistance_highest_ohm: Positive | None = None
    cell_resistance_after_s: Positive | None = None
    measured_discharge: MeasuredDischarge | None = None
    cell_size: str = ""
    claimed_rating_a: Positive | None = None
    claimed_capacity_ah: Positive | None = None
    note: str = ""
    invented: bool = False
    test: BenchTest | None = None
    id: str = ""

    @property
    def used_rating_a(self) -> float | None:
        """Rating that every table uses: the lower of test and label. A label alone proves nothing."""
        return _lower(self.cell_rating_a, self.claimed_rating_a)

    @property
    def used_capacity_ah(self) -> float | None:
        """Capacity that every table uses: the lower of test and label."""
        return _lower(self.cell_capacity_ah, self.claimed_capacity_ah)

    @property
    def used_resistance_ohm(self) -> float | None:
        """Resistance that running times use: the highest measured."""
        return self.cell_resistance_highest_ohm or self.cell_resistance_ohm


def _lower(tested: float | None, claimed: float | None) -> float | None:
    return tested if tested is None or claimed is None else min(tested, claimed)


def load(folder: Path) -> list[Profile]:
    """Return the profiles of a folder, by file name.

    Raises:
        ProfileError: A file is no profile.
    """
    found = []
    for path in sorted(folder.glob("*.toml")):
        try:
            found.append(read(path.read_text("utf-8"), path.stem))
        except (OSError, UnicodeDecodeError, ProfileError) as error:
            raise ProfileError(f"{path.name}: {error}") from error
    return found


def read(text: str, cell_id: str) -> Profile:
    """Return the profile that a text holds.

    Raises:
        ProfileError: It holds none.
    """
    try:
        profile = convert(tomllib.loads(text) | {"id": cell_id}, Profile)
    except (ValidationError, tomllib.TOMLDecodeError) as error:
        raise ProfileError(str(error)) from error
    for run in profile.test.runs if profile.test else []:
        if len(run.curve_ah) != len(run.curve_v):
            raise ProfileError(f"{run.file}: curve_ah and curve_v have different lengths")
    return profile
