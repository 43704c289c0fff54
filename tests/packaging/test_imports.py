"""Start-up is a promise: what the quick answers may load, whatever is fitted later."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

HEAVY = {"annotated_types", "constraint", "jinja2", "markdown_it", "numpy", "ortools", "pandas", "pydantic",
         "pydantic_core", "pygments", "rich", "scipy", "tomli_w", "tomllib"}  # fmt: skip
OWN_FOR_HELP = {
    "waitwright",
    "waitwright.cli",
    "waitwright.cli.app",
    "waitwright.cli.common",
    "waitwright.cli.main",
    "waitwright.errors",
}
SPY = """
import json, sys
before = set(sys.modules)
from waitwright.cli.main import run
code = run(sys.argv[1:])
print(json.dumps([code, sorted(set(sys.modules) - before)]), file=sys.stderr)
"""


def loaded_by(*words: str) -> set[str]:
    """Names of the modules that a fresh process loads to answer *words*."""
    done = subprocess.run([sys.executable, "-c", SPY, *words], capture_output=True, text=True, check=True)
    code, modules = json.loads(done.stderr)
    assert code == 0
    return set(modules)


def test_version_loads_nothing_beyond_its_own() -> None:
    """``--version`` is answered without the command-line library and without any dependency."""
    own = {name for name in loaded_by("--version") if name.split(".")[0] not in sys.stdlib_module_names}

    assert own == {"waitwright", "waitwright.cli", "waitwright.cli.main"}


def test_help_loads_no_heavy_library() -> None:
    """``--help`` needs no console, no schemas, no arrays and no solver."""
    assert not {name.split(".")[0] for name in loaded_by("--help")} & HEAVY


@pytest.mark.parametrize("command", ["check", "rank", "why", "rules"])
def test_help_of_a_command_loads_only_schemas(command: str) -> None:
    """Help of one command loads, of all heavy libraries, at most the one that typer itself loads for it."""
    heavy = {name.split(".")[0] for name in loaded_by(command, "--help")} & HEAVY

    assert heavy <= {"pydantic", "pydantic_core", "annotated_types"}


def test_help_loads_no_engine() -> None:
    """Of the package itself, ``--help`` loads the command line and the errors, and nothing of the engine."""
    own = {name for name in loaded_by("--help") if name.split(".")[0] == "waitwright"}

    assert own >= OWN_FOR_HELP
    assert {name for name in own if not name.startswith("waitwright.cli")} == {
        "waitwright",
        "waitwright.errors",
    }


def test_commands_never_load_second_opinions() -> None:
    """A whole ``check`` runs without the libraries that only tests use."""
    roots = {name.split(".")[0] for name in loaded_by("check", "tollgate-386dx33", "--json")}

    assert not roots & {"scipy", "ortools", "pandas", "hypothesis", "pytest", "jinja2"}
