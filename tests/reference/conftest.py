"""Keeps the scripts that make reference values out of the run: PyBaMM lives in an environment of its own."""

collect_ignore_glob = ["make_*.py", "cell_simulation.py"]
