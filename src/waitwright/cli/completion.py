"""``waitwright completion``: what a shell offers when the user asks it to go on typing for them.

The shell's side is a short script (:data:`SCRIPTS`).  It calls the program again with the words so far,
the last of them unfinished, and gets a line for each way to go on.  What a word stands for is told by
the metavar of its argument or option, so that a command needs to say nothing more to be completed.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any

import typer

VARIABLE = "_WAITWRIGHT_COMPLETE"
"""Environment variable by which the shell's script asks: the name of the shell."""

SCRIPTS = {
    "bash": r"""
_waitwright() {
  local -a words=()
  local i word glue= line
  # bash cuts words at "=": OPTION=CHOICE is put together again, and only what follows "=" is replaced.
  for ((i = 1; i <= COMP_CWORD; i++)); do
    word=${COMP_WORDS[i]}
    if [[ ${#words[@]} -gt 0 && ( $word == = || -n $glue ) ]]; then
      words[${#words[@]}-1]+=$word
    else
      words+=("$word")
    fi
    glue=
    if [[ $word == = ]]; then glue=1; fi
  done
  COMPREPLY=()
  while IFS= read -r line; do
    COMPREPLY+=("$line")
    case $line in *=|*/) compopt -o nospace 2>/dev/null ;; esac
  done < <(_WAITWRIGHT_COMPLETE=bash "$1" "${words[@]}" 2>/dev/null)
}
complete -o bashdefault -o default -F _waitwright waitwright
""",
    "zsh": r"""
#compdef waitwright
_waitwright() {
  local line
  local -a whole open
  while IFS= read -r line; do
    case ${line%%$'\t'*} in
      *=|*/) open+=("${line%%$'\t'*}") ;;
      *) whole+=("${${line%%$'\t'*}//:/\\:}:${line#*$'\t'}") ;;
    esac
  done < <(_WAITWRIGHT_COMPLETE=zsh "${words[1]}" "${(@)words[2,CURRENT]}" 2>/dev/null)
  (( $#open )) && compadd -S '' -- $open
  (( $#whole )) && _describe -V waitwright whole
  (( $#open + $#whole )) || _files
}
if [[ $zsh_eval_context[-1] == loadautofunc ]]; then _waitwright "$@"; else compdef _waitwright waitwright; fi
""",
    "fish": r"""
function __waitwright
    set -l words (commandline -opc) (commandline -ct)
    _WAITWRIGHT_COMPLETE=fish $words[1] $words[2..-1] 2>/dev/null
end
complete -c waitwright -f -a '(__waitwright)'
complete -c waitwright -n 'test -z "$(__waitwright)"' -F
""",
}
HOW = """\
Add one line to the file that your shell reads at its start:

bash  ~/.bashrc                   eval "$(waitwright completion bash)"
zsh   ~/.zshrc, behind compinit   eval "$(waitwright completion zsh)"
fish  ~/.config/fish/config.fish  waitwright completion fish | source
"""


def completion(
    shell: Annotated[
        str | None, typer.Argument(metavar="SHELL", help=f"One of {', '.join(SCRIPTS)}.")
    ] = None,
) -> int:
    """Print what makes a shell complete words.

    Commands, machines, options of the setup screen with their choices, slots with the parts that fit.
    Without SHELL: how to put it to use.
    """
    from waitwright.errors import UsageError

    if shell is None:
        sys.stdout.write(HOW)
        return 0
    if shell not in SCRIPTS:
        raise UsageError(f"completion {shell}: expected one of {', '.join(SCRIPTS)}")
    sys.stdout.write(SCRIPTS[shell].lstrip("\n"))
    return 0


# ---------------------------------------------------------------------------------- the shell's questions


@dataclass(frozen=True, slots=True)
class Candidate:
    """A way to go on, and what it means in a few words."""

    value: str
    meaning: str = ""


@dataclass(slots=True)
class _Typed:
    """What stands before the unfinished word.

    Attributes:
        command: The command that the words have led to.
        awaited: Metavar of the option whose value comes next, if any.
        places: How many arguments the command has got.
        given: Metavar to the values given so far.
    """

    command: Any
    awaited: str | None = None
    places: int = 0
    given: dict[str, list[str]] = field(default_factory=dict)
    only_arguments: bool = False

    def take(self, word: str) -> None:
        """Go one word further."""
        if self.awaited is not None:
            self.given.setdefault(self.awaited, []).append(word)
            self.awaited = None
        elif word == "--" and not self.only_arguments:
            self.only_arguments = True
        elif word.startswith("-") and not self.only_arguments:
            name, equals, value = word.partition("=")
            option = self._option(name)
            if option is not None and not option.is_flag:
                self.awaited = _metavar(option)
                if equals:
                    self.take(value)
        elif (commands := getattr(self.command, "commands", None)) is not None:
            self.command = commands.get(word, self.command)
        else:
            argument = self.argument()
            if argument is not None:
                self.given.setdefault(_metavar(argument), []).append(word)
            self.places += 1

    def last(self, metavar: str) -> str | None:
        """The last word that stands for *metavar*."""
        return self.given[metavar][-1] if metavar in self.given else None

    def argument(self) -> Any | None:
        """The argument that comes next."""
        arguments = [one for one in self.command.params if one.param_type_name == "argument"]
        return arguments[self.places] if self.places < len(arguments) else None

    def _option(self, name: str) -> Any | None:
        return next((one for one in self.options() if name in one.opts), None)

    def options(self) -> Iterator[Any]:
        """The options that the command takes."""
        for one in self.command.params:
            if one.param_type_name == "option" and not getattr(one, "hidden", False):
                yield one


def answer(command: Any, shell: str, words: list[str]) -> str:
    """The lines that *shell* asked for, where *words* stand on its line; none when anything is wrong."""
    *before, partial = words or [""]
    try:
        found = [one for one in candidates(command, before, partial) if one.value.startswith(partial)]
    except Exception:  # noqa: BLE001 -- a user who is still typing must not be told of errors
        return ""
    if shell == "bash":
        cut = partial.rfind("=") + 1
        return "".join(f"{one.value[cut:]}\n" for one in found)
    return "".join(f"{one.value}\t{one.meaning}\n" for one in found)


def candidates(command: Any, before: Iterable[str], partial: str) -> Iterator[Candidate]:
    """Ways to go on after *before*, some of which do not begin as *partial* does."""
    typed = _Typed(command)
    for word in before:
        typed.take(word)
    if typed.awaited is not None:
        yield from _values(typed.awaited, partial, typed)
    elif partial.startswith("-") and not typed.only_arguments:
        yield from _options(typed, partial)
    elif (commands := getattr(typed.command, "commands", None)) is not None:
        for name, one in commands.items():
            yield Candidate(name, one.get_short_help_str(60))
    elif (argument := typed.argument()) is not None:
        yield from _values(_metavar(argument), partial, typed)


def _options(typed: _Typed, partial: str) -> Iterator[Candidate]:
    name, equals, value = partial.partition("=")
    for option in typed.options():
        if equals and name in option.opts and not option.is_flag:
            for one in _values(_metavar(option), value, typed):
                yield Candidate(f"{name}={one.value}", one.meaning)
        for word in option.opts:
            yield Candidate(word, (option.help or "").partition(".")[0])
    yield Candidate("--help", "Show help and exit")


def _metavar(parameter: Any) -> str:
    return str(parameter.metavar or parameter.name).strip("[]'.")


def _values(metavar: str, partial: str, typed: _Typed) -> Iterable[Candidate]:
    from waitwright.cli import completing  # what it loads, only those need who press the key

    machine, rules = typed.last("MACHINE") or typed.last("FILE"), typed.last("DIR")
    asked = completing.Asked(partial, machine, Path(rules) if rules else None)
    return [Candidate(*pair) for pair in completing.VALUES.get(metavar, completing.nothing)(asked)]
