"""Entry point: the one place that turns errors into a line and an exit code.

Exit codes: 0 answer given; 1 the answer is "none"; 2 bad input; 70 a defect of waitwright itself;
130 interrupted.  Nothing is imported before it is needed, so that ``--version`` answers at once, and that
whoever presses Ctrl-C early on is heard.
"""

from __future__ import annotations

import os
import sys

from waitwright import __version__

PROGRAM = "waitwright"
DEBUG = "WAITWRIGHT_DEBUG"
"""Environment variable: set to anything, it lets a defect show its traceback."""

_CALM = 200_000
"""Objects made between two looks for garbage."""

OK, NONE, BAD_INPUT, DEFECT, INTERRUPTED = 0, 1, 2, 70, 130


def main() -> int:
    """The whole process: runs its command line and returns the exit code.

    Once the answer is out, Ctrl-C has nothing left to stop: else it would strike the interpreter while it
    tidies up, and make a failure of an answer that has been given.
    """
    try:
        code = run()
        import signal

        signal.signal(signal.SIGINT, signal.SIG_IGN)
    except KeyboardInterrupt:
        return INTERRUPTED
    return code


def run(arguments: list[str] | None = None) -> int:
    """Run one command line and return its exit code.

    Args:
        arguments: The words after the program's name; those of the process if None.
    """
    words = sys.argv[1:] if arguments is None else arguments
    code = OK  # also where the reader has seen enough: that says nothing about the answer
    try:
        _open_closed_streams()
        code = _answer(words)
        sys.stdout.flush()
    except BrokenPipeError:
        _leave_stdout()
    except OSError as error:  # the answer is there, and cannot be shown: a full disk behind ">"
        _leave_stdout()
        return _complain(_told(error), BAD_INPUT)
    except KeyboardInterrupt:
        return INTERRUPTED
    return code


def _answer(words: list[str]) -> int:
    if words == ["--version"]:
        sys.stdout.write(f"{PROGRAM} {__version__}\n")
        return OK
    for stream in (sys.stdout, sys.stderr):
        if reconfigure := getattr(stream, "reconfigure", None):
            reconfigure(errors="replace")  # a terminal without "µ" shows "?" rather than nothing
    from waitwright.cli.interrupts import noting_interrupts
    from waitwright.errors import NoAnswer, WaitwrightError, place_of

    with noting_interrupts() as interrupts:
        try:
            return _command(words)
        except NoAnswer as none:
            return _complain(str(none), NONE)
        except WaitwrightError as error:
            return _complain(str(error), BAD_INPUT)
        except BrokenPipeError:
            raise
        except OSError as error:
            return _complain(_told(error), BAD_INPUT)
        except Exception as error:  # the last resort: a user is never shown a traceback
            if interrupts:
                return INTERRUPTED
            if DEBUG in os.environ:
                raise
            return _complain(f"{place_of(error)}; please report this with the command you gave", DEFECT)


def _command(words: list[str]) -> int:
    import gc

    # One command makes many objects that live to its end: looking for garbage among them is lost time.
    gc.set_threshold(_CALM)
    # pydantic looks for plugins among all installed packages; none is used here.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

    import typer

    from waitwright.cli.app import command
    from waitwright.cli.completion import VARIABLE, answer

    if shell := os.environ.get(VARIABLE):
        sys.stdout.write(answer(command(), shell, words))
        return OK
    try:
        return int(command()(words or ["--help"], prog_name=PROGRAM, standalone_mode=False) or OK)
    except typer.TyperException as error:
        return _complain(_usage(error), BAD_INPUT)
    except typer.Abort:
        return INTERRUPTED
    except SystemExit:  # so typer ends, and only then, where the reader has gone
        raise BrokenPipeError from None


def _complain(text: str, code: int) -> int:
    try:
        for line in text.splitlines() or [""]:
            sys.stderr.write(f"{PROGRAM}: {line}\n")
        sys.stderr.flush()
    except OSError:
        pass  # where nobody listens, the exit code still tells
    return code


def _usage(error: Exception) -> str:
    """A usage error as one line that also says where help is."""
    context = getattr(error, "ctx", None)
    path = PROGRAM if context is None else context.command_path
    said = getattr(error, "format_message", error.__str__)()
    return f"{' '.join(said.split()).rstrip('.')} (see: {path} --help)"


def _told(error: OSError) -> str:
    reason = error.strerror or type(error).__name__
    return f"{error.filename or 'standard output'}: {reason}"


def _open_closed_streams() -> None:
    """Whoever starts a program may close its streams (``>&-``): it writes into nothing then."""
    if sys.stdout is None or sys.stderr is None:
        nothing = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115 -- open to the end
        sys.stdout, sys.stderr = sys.stdout or nothing, sys.stderr or nothing


def _leave_stdout() -> None:
    """Nobody takes what is left to say: let the interpreter flush into nothing at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
