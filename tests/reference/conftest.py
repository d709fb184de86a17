"""Keeps the scripts that make reference values out of the run: they start by themselves, where they lie.

PyBaMM lives in an environment of its own, and what runs ngspice knows nothing of this project.
"""

collect_ignore_glob = ["make_*.py", "cell_simulation.py", "ngspice_*.py"]
