"""Mutation testing: change the code in one small place at a time, and see whether its tests notice.

    python .ci/mutate.py service/percell/physics                  # all mutants of these files or folders
    python .ci/mutate.py --sample 500 --seed 8 service generator  # so many of them, drawn with a seed

Cosmic Ray makes the mutants: operators of arithmetic, comparisons, logic, numbers and loops. Strings stay as
they are. The tests of a module are those of the same place under tests/, its doctests, and what
tests/mutation/tests.toml adds. They run in a copy of the tree, in a fork of this process, which has the
libraries loaded already.

A mutant that no test notices has to stand in tests/mutation/survivors.toml with the reason why none can. The
exit status is 1 where one does not, where an entry is out of date, or where less than 90 % were killed.
"""

import argparse
import ast
import gc
import importlib
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import cosmic_ray.plugins
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code

ROOT = Path(__file__).resolve().parents[1]
MUTATION = ROOT / "tests/mutation"
LEAST_KILLED = 0.9
# one wrong operator for each right one: the others are noticed by the same tests
OPERATORS = re.compile(
    r"core/(NumberReplacer|AddNot|ZeroIterationForLoop|ExceptionReplacer|Replace("
    r"TrueWithFalse|FalseWithTrue|AndWithOr|OrWithAnd|BreakWithContinue|ContinueWithBreak"
    r"|UnaryOperator_(USub_UAdd|Delete_Not|Delete_Invert)"
    r"|BinaryOperator_(Add_Sub|Sub_Add|Mul_Div|Div_Mul|FloorDiv_Mul|Mod_Mul|Pow_Mul"
    r"|BitAnd_BitOr|BitOr_BitAnd|BitXor_BitAnd|LShift_RShift|RShift_LShift)"
    r"|ComparisonOperator_(Lt_LtE|LtE_Lt|Gt_GtE|GtE_Gt|Lt_GtE|GtE_Lt|Gt_LtE|LtE_Gt"
    r"|Eq_NotEq|NotEq_Eq|Is_IsNot|IsNot_Is|In_NotIn|NotIn_In)"
    r"))"
)
# loaded before the forks, where installed
LIBRARIES = [
    *("numpy", "scipy.integrate", "scipy.optimize", "scipy.sparse", "hypothesis.extra.numpy"),
    *("pytest", "_pytest.assertion", "_pytest.doctest", "msgspec", "httpx", "litestar", "click"),
]


class Mutant(NamedTuple):
    """One change of one module."""

    module: str
    line: int
    was: str
    now: str
    code: str

    @property
    def key(self) -> tuple[str, str, str]:
        """What an entry of survivors.toml names: it stays true when lines move."""
        return self.module, self.was, self.now


def one_space(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def mutants_of(module: str) -> Iterator[Mutant]:
    """Make all mutants of a module, but for those of annotations, which say nothing at run time."""
    source = (ROOT / module).read_text("utf-8")
    lines = source.splitlines()
    silent = set()
    for node in ast.walk(ast.parse(source)):
        for part in (getattr(node, "annotation", None), getattr(node, "returns", None)):
            if isinstance(part, ast.expr):
                silent.add((part.lineno, part.col_offset, part.end_lineno, part.end_col_offset))
    tree = get_ast(source)
    for name in cosmic_ray.plugins.operator_names():
        if not OPERATORS.fullmatch(name):
            continue
        operator = cosmic_ray.plugins.get_operator(name)()
        places = [
            (node, start)
            for node in ast_nodes(tree)
            for start, _ in operator.mutation_positions(node)
        ]
        for occurrence, (node, start) in enumerate(places):
            # the star of parameters and arguments is taken for a product
            of = node.parent.type if node.parent is not None else ""
            if node.type == "operator" and of in {"parameters", "param", "argument"}:
                continue
            if any((a, b) <= start < (c, d) for a, b, c, d in silent):
                continue
            try:
                code = mutate_code(source, operator, occurrence)
            except AttributeError:  # Cosmic Ray replaces no exception with a dotted name
                continue
            if code is None or code == source:
                continue
            changed = code.splitlines()
            ahead = next(i for i, (a, b) in enumerate(zip(lines, changed, strict=False)) if a != b)
            behind = next(
                i
                for i, (a, b) in enumerate(zip(lines[::-1], changed[::-1], strict=False))
                if a != b
            )
            yield Mutant(
                module,
                ahead + 1,
                one_space(lines[ahead : len(lines) - behind]),
                one_space(changed[ahead : len(changed) - behind]),
                code,
            )


def tests_of(module: str, added: dict[str, list[str]]) -> list[str]:
    """Name the tests that hold a module."""
    inside = Path(*Path(module).parts[2:])
    beside = Path("tests") / inside.parent / f"test_{inside.stem}.py"
    tests = [str(beside)] if (ROOT / beside).exists() else []
    tests += added.get(module, [])
    if ">>> " in (ROOT / module).read_text("utf-8"):
        tests.insert(0, module)
    return tests or [str(beside.parent)]


class Quick:
    """A plugin of pytest: the shortest tests come first, and an example that fails is not made smaller."""

    def __init__(self, durations: Path) -> None:
        self.durations = durations
        self.took_s: dict[str, float] = {}

    def pytest_collectstart(self) -> None:
        from hypothesis import Phase, settings

        phases = [Phase.explicit, Phase.generate]
        settings.register_profile("mutate", settings.get_profile("default"), phases=phases,
            derandomize=True, deadline=None, database=None, report_multiple_bugs=False)  # fmt: skip
        settings.load_profile("mutate")

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        if self.durations.exists():
            known = json.loads(self.durations.read_text("utf-8"))
            items.sort(key=lambda item: known.get(item.nodeid, 0.0))

    def pytest_runtest_logreport(self, report: Any) -> None:
        self.took_s[report.nodeid] = self.took_s.get(report.nodeid, 0.0) + report.duration

    def pytest_sessionfinish(self) -> None:
        if not self.durations.exists():
            self.durations.write_text(json.dumps(self.took_s), "utf-8")


def tested(copy: Path, tests: list[str], limit_s: float) -> bool | None:
    """Run tests in a fork. Tell whether they pass; None if they take longer than the limit."""
    child = os.fork()
    if child == 0:
        code = 2
        try:
            os.setsid()
            to = os.open(copy / "log", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(to, 1)
            os.dup2(to, 2)
            os.chdir(copy)
            sys.path[:0] = [str(copy / "service"), str(copy / "generator")]
            os.environ["PYTHONPATH"] = os.pathsep.join(sys.path[:2])
            # half of the time would go into plugins that no test here uses
            os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
            import pytest

            options = ["-x", "-q", "--tb=short", "-p", "no:cacheprovider"]
            options += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
            code = int(pytest.main([*options, *tests], plugins=[Quick(copy / "durations")]))
            sys.stdout.flush()
        except BaseException:
            os.write(2, traceback.format_exc().encode())
        finally:
            os._exit(code)
    ends = time.monotonic() + limit_s
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status) == 0
        if time.monotonic() > ends:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return None
        time.sleep(0.002)


def survivors_of(
    module: str, mutants: list[Mutant], copy: Path, tests: list[str], told: Callable[[str], None]
) -> list[Mutant]:
    """Return the mutants of a module with which its tests pass."""
    file = copy / module
    source = file.read_bytes()
    began = time.monotonic()
    (copy / "durations").unlink(missing_ok=True)
    if not tested(copy, tests, 3600.0):
        sys.exit(f"{module}: its tests fail without a mutant\n{(copy / 'log').read_text('utf-8')}")
    sys.dont_write_bytecode = True
    limit_s = 5.0 + 5.0 * (time.monotonic() - began)
    alive = []
    for at, mutant in enumerate(mutants, 1):
        for compiled in file.parent.glob(f"__pycache__/{file.stem}.*"):
            compiled.unlink()
        file.write_text(mutant.code, "utf-8")
        if tested(copy, tests, limit_s):
            alive.append(mutant)
        told(f"\r{module}: {at} of {len(mutants)}, {len(alive)} alive ")
    file.write_bytes(source)
    sys.dont_write_bytecode = False
    took_s = time.monotonic() - began
    print(f"\r{module}: {len(mutants)} mutants, {len(alive)} alive, {took_s:.0f} s", flush=True)
    return alive


def copied(to: Path) -> None:
    """Copy the tree, without what git ignores."""
    listed = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    done = subprocess.run(listed, cwd=ROOT, capture_output=True, check=True)  # noqa: S603 - git with our own arguments
    for name in done.stdout.split(b"\0"):
        path = ROOT / os.fsdecode(name)
        if name and path.is_file():
            (to / os.fsdecode(name)).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, to / os.fsdecode(name))


def read(name: str) -> Any:
    return tomllib.loads((MUTATION / name).read_text("utf-8"))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("paths", nargs="+", help="modules or folders of them")
    parser.add_argument("--sample", type=int, help="try only so many mutants")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    modules = sorted(
        {
            file.resolve().relative_to(ROOT).as_posix()
            for path in asked.paths
            for file in (Path(path).rglob("*.py") if Path(path).is_dir() else [Path(path)])
        }
    )
    mutants = [mutant for module in modules for mutant in mutants_of(module)]
    if asked.sample is not None:
        mutants = sorted(random.Random(asked.seed).sample(mutants, asked.sample))  # noqa: S311 - a sample, no secret
    for library in LIBRARIES:
        try:
            importlib.import_module(library)
        except ImportError:
            print(f"{library} is not installed")
    gc.freeze()
    added = read("tests.toml")
    show = sys.stdout.isatty()
    alive = []
    with tempfile.TemporaryDirectory() as scratch:
        copied(Path(scratch))
        for module in modules:
            if own := [mutant for mutant in mutants if mutant.module == module]:
                alive += survivors_of(
                    module, own, Path(scratch), tests_of(module, added),
                    lambda text: print(text, end="", flush=True) if show else None,
                )  # fmt: skip
    known = {(one["module"], one["was"], one["now"]) for one in read("survivors.toml")["survivor"]}
    new = [mutant for mutant in alive if mutant.key not in known]
    for mutant in new:
        print(f"\n# {mutant.module}:{mutant.line}\n[[survivor]]")
        for name in ("module", "was", "now"):
            print(f"{name} = '''{getattr(mutant, name)}'''")
    tried = {mutant.key for mutant in mutants}
    stale = sorted((known & tried) - {mutant.key for mutant in alive})
    if asked.sample is None:
        stale += sorted(key for key in known - tried if key[0] in modules)
    for key in stale:
        print("\nno survivor any more:", *key, sep="\n  ")
    part = 1.0 - len(alive) / len(mutants)
    print(f"\n{len(mutants)} mutants, {len(mutants) - len(alive)} killed ({part:.1%}), "
          f"{len(alive)} alive, {len(new)} of them unexplained")  # fmt: skip
    return int(bool(new or stale) or part < LEAST_KILLED)


if __name__ == "__main__":
    sys.exit(main())
