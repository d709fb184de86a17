"""The chemistries of the positive electrode, as ``data/chemistries.toml`` lists them."""

from typing import NamedTuple

from percell.physics.entries import DATA, DataError, read_entries


class ChemistryEntry(NamedTuple):
    """What is known of one chemistry. The data file says what each field means."""

    name: str
    short_name: str
    charged_v: float
    charged_from: str
    nominal_v: float
    nominal_from: str
    printed_nominal_v: float
    printed_nominal_from: str
    device_cutoffs_v: tuple[float, ...]
    cutoff_from: str
    time_cutoff_v: float
    end_v: float
    end_from: str
    specific_heat_j_kgk: float | None = None
    specific_heat_from: str | None = None
    curve: str | None = None
    curve_from: str | None = None
    time_curve: str | None = None
    simulated_sag: bool = False

    @property
    def cutoff_v(self) -> float:
        """Default cut-off voltage: the lowest at which devices stop."""
        return min(self.device_cutoffs_v)


def _read() -> dict[str, ChemistryEntry]:
    entries = read_entries(name="chemistries", kind=ChemistryEntry)
    for key, entry in entries.items():
        if (entry.specific_heat_j_kgk is None) != (entry.specific_heat_from is None):
            raise DataError(f"chemistries.toml, {key}: a specific heat and its origin go together")
        if (entry.curve is None) != (entry.curve_from is None):
            raise DataError(f"chemistries.toml, {key}: a curve and its origin go together")
        if entry.time_curve is not None and not getattr(
            entries.get(entry.time_curve), "curve", None
        ):
            raise DataError(f"chemistries.toml, {key}: {entry.time_curve} has no curve")
        names = [f"{entry.curve}.json"] if entry.curve else []
        if entry.simulated_sag:
            names.append(f"{entry.curve}_under_load.json")
        for name in names:
            if not (DATA / name).is_file():
                raise DataError(f"chemistries.toml, {key}: the curve needs the file {name}")
    return entries


CHEMISTRIES = _read()
