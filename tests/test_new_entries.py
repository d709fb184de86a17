"""A chemistry, an alloy, a size is one entry of one data file: all that names it follows."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
DATA = "service/percell/physics/data"
ENTRY = """
[lnm]
name = "lithium nickel trial oxide"
short_name = "nickel trial"
charged_v = 4.1
charged_from = "a trial, charged"
nominal_v = 3.5
nominal_from = "a trial, nominal"
printed_nominal_v = 3.6
printed_nominal_from = "a trial, printed"
device_cutoffs_v = [3.1, 2.9]
cutoff_from = "a trial, cut-off"
time_cutoff_v = 3.0
end_v = 2.6
end_from = "a trial, end"
specific_heat_j_kgk = 777
specific_heat_from = "a trial, heat"
curve = "lnm_trial2030"
curve_from = "Trial et al. (2030)"
time_curve = "lnm"
simulated_sag = true
"""
OTHERS = {
    "alloys": """
[trial_alloy]
name = "Trial alloy"
family = "trial by its year"
resistivity_ohmm = [9e-7, 1e-6, 1.1e-6]
resistivity_source = "a trial"
spread_source = "a trial"
per_k = 1e-4
linear_to_c = 120
temperature_source = "a trial"
density_kgm3 = 8000
density_source = "a trial"
specific_heat_j_kgk = 450
specific_heat_source = "a trial"
""",
    "sizes": """
[14500]
mass_kg = 0.019
mass_source = "a trial"
lowest_resistance_ohm = 0.03
lowest_resistance_source = "a trial"
""",
}
SEEN = """
import json
from percell.questions.registry import QUESTIONS
from percell.web import openapi
from percell.web.resource import encode
import msgspec
from percell_site.api import connect
from percell_site.book import Book
from percell_site.changelog import History
from percell_site.profiles import Profile

cell = Profile(id="new", name="New", chemistry="lnm", cell_rating_a=10, cell_capacity_ah=2.5,
               cell_resistance_ohm=0.02, measured_on="2030-01-01")
book = Book(connect("percell.web.asgi:app"), "https://tables.example", "2030-01-01", [cell], History("", [], []))
ask = {"layout": "1S1P", "output_power_w": 10, "cell_capacity_ah": 2.5, "cell_rating_a": 10, "chemistry": "lnm"}
heat = {"cell_current_a": 10, "cell_size": "18650", "chemistry": "lnm"}
def answer(name, asked):
    question = QUESTIONS[name]
    return json.loads(encode(question.answer(msgspec.convert(asked, question.asked))))
schemas = openapi.document()["components"]["schemas"]
files = book.files()
print(json.dumps({
    "words": {name: schemas[name]["enum"] for name in ("Chemistry", "Alloy", "CellSize")},
    "sentence": schemas["Chemistry"]["description"],
    "alloys": schemas["Alloy"]["description"],
    "known": book.reference["chemistries"]["lnm"],
    "method": book.filled("{{ chemistries: tables }} {{ chemistries: with-curve }}", "method.md"),
    "cell": files["cells/new.md"],
    "run": answer("running-time", ask),
    "heat": answer("temperature-rise", heat),
}))
"""


@pytest.fixture
def copy(tmp_path):
    """A scratch copy of what is needed to answer and to make pages."""
    for folder in ("service", "generator", "site/tables"):
        shutil.copytree(
            ROOT / folder, tmp_path / folder, ignore=shutil.ignore_patterns("__pycache__")
        )
    return tmp_path


def run(copy, code):
    paths = os.pathsep.join(str(copy / folder) for folder in ("service", "generator"))
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=copy,
        env=os.environ | {"PYTHONPATH": paths},
        capture_output=True,
        text=True,
        timeout=120,
    )


def test_one_entry_and_its_data_are_enough(copy):
    """Without a line of Python: the document, the catalogue, the answers and the pages know it."""
    data = copy / DATA
    with (data / "chemistries.toml").open("a", encoding="utf-8") as file:
        file.write(ENTRY)
    for name, entry in OTHERS.items():
        with (data / f"{name}.toml").open("a", encoding="utf-8") as file:
            file.write(entry)
    for ending in ("", "_under_load"):
        content = json.loads((data / f"nmc_chen2020{ending}.json").read_text("utf-8"))
        content |= {"name": "a trial cell", "source": "Trial et al. (2030), in full"}
        (data / f"lnm_trial2030{ending}.json").write_text(json.dumps(content), "utf-8")
    done = run(copy, SEEN)
    assert done.returncode == 0, done.stderr
    seen = json.loads(done.stdout)
    assert "lnm" in seen["words"]["Chemistry"]
    assert "trial_alloy" in seen["words"]["Alloy"]
    assert "14500" in seen["words"]["CellSize"]
    assert seen["alloys"].endswith(", trial by its year.")
    assert seen["sentence"].endswith(", `lnm` nickel trial. Default: nmc.")
    assert seen["known"]["charged_v"] == 4.1
    assert seen["known"]["cutoff_v"] == 2.9
    assert "**lithium nickel trial oxide** (`lnm`)" in seen["method"]
    assert "and nickel trial (`lnm`)" in seen["method"]
    assert "lithium nickel trial oxide" in seen["cell"]
    assert "down to 3 V" in seen["cell"]
    assumed = {a["name"]: a for a in seen["run"]["assumptions"]}
    assert assumed["cell_cutoff_voltage_v"]["value"] == 3.0
    assert assumed["cell_cutoff_voltage_v.current"]["origin"] == "a trial, cut-off"
    stand_in = assumed["measured_discharge"]
    assert stand_in["value"] == "none: a simulated cell of a trial cell"
    assert stand_in["origin"] == "Trial et al. (2030), in full"
    assert any("Trial et al. (2030), in full" in str(found) for found in seen["run"]["findings"])
    heat = {a["name"]: (a["value"], a["origin"]) for a in seen["heat"]["assumptions"]}
    assert heat["specific_heat_j_kgk"] == (777, "a trial, heat")


def test_an_entry_that_lacks_a_field_is_said_in_one_line(copy):
    """The service does not start, and its last line says which entry lacks which field."""
    with (copy / DATA / "chemistries.toml").open("a", encoding="utf-8") as file:
        file.write(ENTRY.replace("end_v = 2.6\n", ""))
    done = run(copy, "import percell.web.asgi")
    assert done.returncode == 1
    assert done.stderr.splitlines()[-1] == (
        "percell.physics.entries.DataError: chemistries.toml, lnm: the field end_v is missing"
    )
