"""Coverage-guided fuzzing of every border where text of a stranger comes in.

    python -m tests.fuzz.run [--runs N] [--seed N] [--keep DIR] [TARGET]...

Needs ``pip install atheris``.  Runs each target (all unless named) for its share of N inputs in a process
of its own, begins with sound inputs and a dictionary of the words that such files are made of, and prints
how many inputs ran.  Exit status 1 tells that a promise was broken: the input is left in DIR, and belongs
into ``tests/fuzz/crashes/`` as ``TARGET-NAME`` once the defect is mended.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.fuzz.targets import FACTS, TARGETS, crashes, seeds

SHARES = {"expression": 42, "toml": 42, "rules": 2, "words": 2, "board": 4, "machine": 4, "logbook": 4}
"""Percent of all inputs: most for what is quick to run."""
LONGEST = {"expression": 700, "toml": 3000, "rules": 2500, "words": 2000}
"""Most bytes of an input; 4000 for the rest."""
SLOW_S = 20
"""An input that takes longer is a defect."""
MEMORY_MB = 2048

LANGUAGE = """
    + - * / ( ) , < <= > >= == != and or not in if else true false 0.5 100/3 999999999999
    min( max( ceil( floor( abs( percent( ns( MHz( us( MB( 'clk2' '486'
    ** // % : = . .. __class__ lambda [ ] { } "
"""


def dictionary(target: str) -> list[str]:
    """Words that inputs of *target* are made of."""
    if target == "expression":
        return [*LANGUAGE.split(), *FACTS]
    text = b"\n".join(seeds(target)).decode()
    words = re.findall(r'\[+[a-z."-]+\]+|"[^"\n]*"|[a-z_]+ = |[0-9./]+|\{|\}|"""|\'\'\'', text)
    odd = [
        "nan",
        "inf",
        "-0",
        "1e999",
        "1979-05-27T07:32:00Z",
        '"100/0"',
        "true",
        "[]",
        "{}",
        "[[",
        "\\u0000",
    ]
    return sorted({*words, *odd, *LANGUAGE.split()[:20]})


def quoted(word: str) -> str:
    """A word as the dictionary's file has it."""
    return '"' + "".join(f"\\x{byte:02x}" for byte in word.encode()) + '"'


def work(target: str, arguments: list[str]) -> None:
    """The process that runs one target."""
    import atheris

    with atheris.instrument_imports(include=["waitwright", "tomli"], enable_loader_override=False):
        import importlib

        for name in [name for name in sys.modules if name.split(".")[0] in {"waitwright", "tomli"}]:
            del sys.modules[name]
        sys.modules.pop("tests.fuzz.targets", None)
        sys.modules.pop("tests.rulebook.conftest", None)
        targets = importlib.import_module("tests.fuzz.targets")
    atheris.Setup([sys.argv[0], *arguments], targets.TARGETS[target])
    atheris.Fuzz()


def fuzz(target: str, runs: int, seed: int, keep: Path) -> int:
    """Run one target; how many inputs ran, or -1 where one broke a promise."""
    with tempfile.TemporaryDirectory() as folder:
        corpus = Path(folder) / "corpus"
        corpus.mkdir()
        for position, content in enumerate((*seeds(target), *crashes(target))):
            (corpus / f"seed-{position}").write_bytes(content)
        words = Path(folder) / "words"
        words.write_text("".join(f"{quoted(word)}\n" for word in dictionary(target)), "utf-8")
        done = subprocess.run(
            [
                *(sys.executable, "-m", "tests.fuzz.run", "--work", target),
                f"-runs={runs}",
                f"-seed={seed}",
                f"-dict={words}",
                f"-max_len={LONGEST.get(target, 4000)}",
                f"-timeout={SLOW_S}",
                f"-rss_limit_mb={MEMORY_MB}",
                f"-artifact_prefix={keep}/{target}-",
                "-print_final_stats=1",
                "-verbosity=0",
                str(corpus),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            check=False,
        )
        found = re.search(r"stat::number_of_executed_units:\s*(\d+)", done.stdout)
        if done.returncode:
            print(done.stdout[-4000:])
            return -1
        grown = len(list(corpus.iterdir()))
    if found is None:
        print(done.stdout[-4000:])
        return -1
    print(f"{target:<12}{int(found[1]):>10} inputs, {grown} that reach new ground", flush=True)
    return int(found[1])


def main() -> int:
    """Share the inputs out and run all targets."""
    if sys.argv[1:2] == ["--work"]:
        work(sys.argv[2], sys.argv[3:])
        return 0
    parser = argparse.ArgumentParser(description="Fuzz every border where text of a stranger comes in.")
    parser.add_argument("targets", nargs="*", choices=[[], *TARGETS], metavar="TARGET")
    parser.add_argument("--runs", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=Path("fuzz-found"))
    wanted = parser.parse_args()
    targets = wanted.targets or list(TARGETS)
    wanted.keep.mkdir(parents=True, exist_ok=True)
    whole = sum(SHARES[target] for target in targets)
    counts = [
        fuzz(target, -(-wanted.runs * SHARES[target] // whole), wanted.seed, wanted.keep.resolve())
        for target in targets
    ]
    print(f"{'all':<12}{sum(count for count in counts if count > 0):>10} inputs")
    return 1 if -1 in counts else 0


if __name__ == "__main__":
    sys.exit(main())
