"""Puts small faults into packages of waitwright, one at a time, and runs the tests of that package on each.

    python -m tests.mutation.run [--count N] [--seed N] [--report FILE] [--again REPORT] [PACKAGE]...

Of each package (timing, expr, search and belief unless named) COUNT faults are drawn by SEED.  Each is
tried in a process of its own, on a copy of the working tree; with --again, what survived in an earlier
report is tried once more.  A fault is found when a test fails, or takes
five times the processor time that it should.  What survives is listed; faults that change nothing that
anybody could see stand in ``equivalents.toml`` with the reason, and do not count.  Exit status 1 tells
that a package let a tenth or more survive.
"""

from __future__ import annotations

import argparse
import ast
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import tomllib
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from types import CodeType, ModuleType

from tests.mutation.faults import Fault, faults_of, with_fault

CHECKOUT = Path(__file__).resolve().parents[2]
NEEDED = ("src", "rules", "profiles", "tests", "docs", "pyproject.toml")
OTHER_MACHINES = " or ".join(
    path.stem for path in (CHECKOUT / "profiles" / "machines").glob("*.toml") if "tollgate" not in path.stem
)
"""Packed machines that tell nothing here beyond the first two."""
TESTS: dict[str, tuple[tuple[str, ...], ...]] = {
    "timing": (("tests/timing",), ("tests/published",)),
    "expr": (("tests/expr",),),
    "search": (
        (
            "tests/search/test_enumerate.py",
            "tests/search/test_effort.py",
            "tests/search/test_counting.py",
            "tests/search/test_budget.py",
            "tests/search/test_worthwhile.py",
            "tests/search/test_frontier.py",
            "tests/search/test_fastest.py",
            *("-k", "not large"),
        ),
        (
            *(
                "tests/search/test_structure.py",
                "tests/search/test_menu.py",
                "tests/search/test_optimiser.py",
            ),
            "tests/explain_conflicts/test_feasible.py",
        ),
        ("tests/search/test_fastest.py", "tests/search/test_machines.py", "-k", "large or machine"),
    ),
    "belief": (
        (
            "tests/belief/test_normal.py",
            "tests/belief/test_sobol.py",
            "tests/belief/test_hazard.py",
            "tests/belief/test_latents.py",
            "tests/belief/test_defaults.py",
            "tests/belief/test_readings_alone.py",
            "tests/belief/test_survival.py",
            "tests/belief/test_typical.py",
            *("-k", f"not settle and not ({OTHER_MACHINES})"),
        ),
        ("tests/belief/test_evidence.py", "-k", f"not ({OTHER_MACHINES})"),
        ("tests/trials_belief",),
        ("tests/belief/test_calibration.py",),
    ),
}
"""The tests of each package for pytest, quick ones first: what survives one group meets the next."""

MOST = 0.10
"""Share of faults that may survive."""
PATIENCE = 5
LONGEST_S = 1800
PRELOADED = (
    "pytest",
    "hypothesis",
    "numpy",
    "pydantic",
    "tomli",
    "tomli_w",
    "typer",
    "rich.console",
    "constraint",
)


class _Loader(importlib.machinery.SourceFileLoader):
    """Loads one module with a fault in it."""

    def __init__(self, name: str, path: str, tree: ast.Module) -> None:
        super().__init__(name, path)
        self._tree = tree

    def get_code(self, fullname: str) -> CodeType | None:
        """The faulty code; never from a cache."""
        return compile(self._tree, self.get_filename(fullname), "exec", dont_inherit=True)


class _Finder(importlib.abc.MetaPathFinder):
    """Finds the faulty module before the sound one is."""

    def __init__(self, name: str, path: Path, tree: ast.Module) -> None:
        self._name, self._path, self._tree = name, str(path), tree

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """The spec of the faulty module."""
        if fullname != self._name:
            return None
        return importlib.util.spec_from_loader(fullname, _Loader(fullname, self._path, self._tree))


def modules(package: str, top: Path) -> dict[str, Path]:
    """Name to source of every module of *package*."""
    folder = top / "src" / "waitwright" / package
    return {
        f"waitwright.{package}" + ("" if path.stem == "__init__" else f".{path.stem}"): path
        for path in sorted(folder.glob("*.py"))
    }


def tested(
    top: Path, tests: tuple[str, ...], fault: Fault | None, path: Path | None, limit: int
) -> tuple[bool, float]:
    """Whether *tests* pass with *fault* in place, and the processor time that they took."""
    process = os.fork()
    if not process:
        code = 70
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 1))
            signal.alarm(LONGEST_S)
            code = _test(top, tests, fault, path)
        finally:
            os._exit(code)
    _, status, used = os.wait4(process, 0)
    return os.waitstatus_to_exitcode(status) == 0, used.ru_utime + used.ru_stime


def _test(top: Path, tests: tuple[str, ...], fault: Fault | None, path: Path | None) -> int:
    import pytest

    os.chdir(top)
    sys.path[:0] = [str(top / "src"), str(top)]
    os.environ["PYTHONPATH"] = str(top / "src")
    for name in [name for name in sys.modules if name.split(".")[0] in {"tests", "waitwright"}]:
        del sys.modules[name]
    if fault is not None and path is not None:
        tree = with_fault(path.read_text("utf-8"), fault)
        sys.meta_path.insert(0, _Finder(fault.module, path, tree))
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 1)
    os.dup2(nothing, 2)
    options = ["-x", "-q", "--tb=no", "-p", "no:randomly", "-p", "no:cacheprovider", "-p", "no:xdist"]
    options += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # plugins are loaded already
    return int(pytest.main([*options, *tests]))


def excused() -> dict[tuple[str, ...], str]:
    """Faults that change nothing: module, place, line, before and after, to the reason."""
    told = tomllib.loads(Path(__file__).with_name("equivalents.toml").read_text("utf-8"))
    return {
        (one["module"], one["within"], one["text"], one["before"], one["after"]): one["reason"]
        for one in told.get("fault", [])
    }


def survey(package: str, top: Path, count: int, seed: int, again: frozenset[str] | None) -> dict[str, object]:
    """Try a sample of the faults of *package*, or those told *again*."""
    sources = modules(package, top)
    known = excused()
    faults = [fault for name, path in sources.items() for fault in faults_of(path.read_text("utf-8"), name)]
    drawn = random.Random(f"{package} {seed}").sample(faults, min(count, len(faults)))
    if again is not None:
        drawn = [fault for fault in faults if str(fault) in again]
    usual = []
    for tests in TESTS[package]:
        passed, used = tested(top, tests, None, None, LONGEST_S)
        if not passed:
            raise SystemExit(f"{package}: {' '.join(tests)} fails without any fault")
        usual.append(used)
    times = " + ".join(f"{used:.0f}" for used in usual)
    print(f"{package}: {len(faults)} faults, {len(drawn)} drawn; tests take {times} s", flush=True)
    survivors, equivalents, killed = [], [], 0
    for position, fault in enumerate(sorted(drawn, key=lambda one: (one.module, one.number)), start=1):
        if (fault.module, fault.within, fault.text, fault.before, fault.after) in known:
            equivalents.append(str(fault))
            continue
        for tests, used in zip(TESTS[package], usual, strict=True):
            passed, _ = tested(top, tests, fault, sources[fault.module], int(used * PATIENCE) + 10)
            if not passed:
                killed += 1
                print(f"  {position}/{len(drawn)} found", flush=True)
                break
        else:
            survivors.append(str(fault))
            print(f"  {position}/{len(drawn)} survives: {fault}", flush=True)
    tried = killed + len(survivors)
    print(f"{package}: {len(survivors)} of {tried} survive, {len(equivalents)} change nothing", flush=True)
    return {
        "package": package,
        "faults": len(faults),
        "tried": tried,
        "killed": killed,
        "survivors": survivors,
        "equivalents": equivalents,
    }


def main() -> int:
    """Survey the packages and write the report."""
    parser = argparse.ArgumentParser(
        description="Put small faults into packages, and see whether tests find them."
    )
    parser.add_argument("packages", nargs="*", choices=[[], *TESTS], metavar="PACKAGE")
    parser.add_argument("--count", type=int, default=80)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--report", type=Path)
    parser.add_argument("--again", type=Path)
    wanted = parser.parse_args()
    for name in PRELOADED:
        with suppress(ImportError):
            importlib.import_module(name)
    again: frozenset[str] | None = None
    if wanted.again is not None:
        reports = json.loads(wanted.again.read_text("utf-8"))
        again = frozenset(fault for report in reports for fault in report["survivors"])
    started = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        top = Path(folder)
        for name in NEEDED:
            source = CHECKOUT / name
            if source.is_dir():
                shutil.copytree(
                    source, top / name, ignore=shutil.ignore_patterns("__pycache__", "*.egg-info")
                )
            elif source.exists():
                shutil.copy(source, top / name)
        found = [
            survey(package, top, wanted.count, wanted.seed, again) for package in wanted.packages or TESTS
        ]
    print(f"{time.monotonic() - started:.0f} s in all")
    if wanted.report is not None:
        wanted.report.write_text(json.dumps(found, indent=2) + "\n", "utf-8")
    shares = [len(one["survivors"]) / max(1, one["tried"]) for one in found]  # type: ignore[arg-type, call-overload]
    return 0 if all(share < MOST for share in shares) else 1


if __name__ == "__main__":
    sys.exit(main())
