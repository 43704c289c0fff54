"""Start-up times of whole processes, beside a bare interpreter started in the same run.

    python benchmarks/startup.py [--runs N] [--machine MACHINE]

Runs each command N times in turn (so that a busy moment hits all of them alike) with the interpreter that
runs this file, and prints the median in milliseconds, the ratio to the bare interpreter, and the goal.
The goals hold for an idle two-core machine of the year 2020 or later with warm file caches; on others the
ratios tell more.  This is a report: it fails only if a command does.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
import time

BARE = "bare interpreter"


def commands(machine: str) -> dict[str, tuple[list[str], int | None]]:
    """Name of each measured process -> its command line, and its goal in milliseconds."""
    waitwright = [sys.executable, "-m", "waitwright"]
    return {
        BARE: ([sys.executable, "-c", "pass"], None),
        "--version": ([*waitwright, "--version"], 100),
        "--help": ([*waitwright, "--help"], 160),
        "check --rated": ([*waitwright, "check", machine, "--rated"], 400),
        "check": ([*waitwright, "check", machine], None),
        "rank --rated": ([*waitwright, "rank", machine, "--rated"], 700),
    }


def milliseconds(command: list[str]) -> float:
    """Wall time of one process."""
    started = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return 1000 * (time.perf_counter() - started)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Start-up times of whole processes.")
    parser.add_argument("--runs", type=int, default=15)
    parser.add_argument("--machine", default="tollgate-386dx33")
    wanted = parser.parse_args()

    measured = commands(wanted.machine)
    for command, _ in measured.values():
        milliseconds(command)  # once, to warm the file caches
    times: dict[str, list[float]] = {name: [] for name in measured}
    for _ in range(wanted.runs):
        for name, (command, _) in measured.items():
            times[name].append(milliseconds(command))

    bare = statistics.median(times[BARE])
    print(f"{'process':<18}{'ms':>7}{'ratio':>8}{'goal':>7}   median of {wanted.runs}")
    for name, (_, goal) in measured.items():
        median = statistics.median(times[name])
        met = "" if goal is None else "met" if median <= goal else "missed"
        print(f"{name:<18}{median:>7.0f}{median / bare:>8.1f}{goal or '-':>7}   {met}")


if __name__ == "__main__":
    main()
