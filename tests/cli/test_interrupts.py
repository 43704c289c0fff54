"""Ctrl-C where it hits a library or a finalizer."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading

import pytest

from waitwright.cli import check
from waitwright.cli.interrupts import noting_interrupts
from waitwright.cli.main import run

posix = pytest.mark.skipif(os.name != "posix", reason="sends itself a signal")

SPY = """
import signal
from waitwright.cli.interrupts import noting_interrupts

class Dying:
    def __init__(self, deed):
        self.deed = deed
    def __del__(self):
        self.deed()

def fail():
    raise ValueError("told as ever")

with noting_interrupts() as noted:
    Dying(lambda: signal.raise_signal(signal.SIGINT))
    print(noted)
    Dying(fail)
"""


@posix
def test_dropped_without_a_word() -> None:
    """Pressed inside a finalizer, which drops it, Ctrl-C is noted and not told; defects are."""
    done = subprocess.run([sys.executable, "-c", SPY], capture_output=True, text=True, check=True)

    assert done.stdout == f"[{int(signal.SIGINT)}]\n"
    assert "KeyboardInterrupt" not in done.stderr
    assert "told as ever" in done.stderr


@posix
def test_error_of_a_library(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """A library that turns Ctrl-C into an error of its own is no defect of the program."""

    def fail(*_: object) -> None:
        try:
            signal.raise_signal(signal.SIGINT)
        except KeyboardInterrupt:
            raise RuntimeError("could not build") from None

    monkeypatch.setattr(check, "question", fail)

    assert run(["check", "tollgate-386dx33"]) == 130
    assert capsys.readouterr().err == ""


def test_what_was_there_before_comes_back() -> None:
    """Outside of the block signals and dropped errors are handled as before."""
    before = signal.getsignal(signal.SIGINT), sys.unraisablehook
    with noting_interrupts() as noted:
        assert signal.getsignal(signal.SIGINT) is not before[0]

    assert noted == []
    assert (signal.getsignal(signal.SIGINT), sys.unraisablehook) == before


def test_other_threads_do_without() -> None:
    """A thread that is not the main one runs commands too, though it hears of no signals."""
    found: list[int] = []
    thread = threading.Thread(target=lambda: found.append(run(["--version"]) + run(["completion"])))
    thread.start()
    thread.join()

    assert found == [0]
