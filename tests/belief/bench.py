"""A small rulebook and machine of the tests' own, whose odds can be worked out by hand or by quadrature."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from waitwright.api.opening import open_machine
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine import Machine, build_machine
from waitwright.rulebook.boards import load_board
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.load import Source, build_rulebook, load_rulebook
from waitwright.rulebook.machines import load_machine
from waitwright.timing.bind import BoundRules, bind

DELAY_RATIO, DELAY_SIGMA = 0.7, 0.08
ABILITY_RATIO, ABILITY_SIGMA = 1.2, 0.07

_SPREADS = f"""
[family.delay]
ratio = {DELAY_RATIO}
sigma = {DELAY_SIGMA}
source = "made up"
basis = "practice"
[family.ability]
ratio = {ABILITY_RATIO}
sigma = {ABILITY_SIGMA}
source = "made up"
basis = "practice"
"""

_RULE = """
room = "l2"
advice = "Slow down."
source = "made up"
basis = "practice"
"""


def _family(name: str, kind: str, rows: str, spreads: str = _SPREADS) -> str:
    return f"""
[[family]]
id = "{name}"
kind = "{kind}"
title = "{name}"
source = "made up"
basis = "practice"
rows = {{ {rows} }}
{spreads}
"""


_FILES = {
    "words/roles.toml": """
[cpu]
kind = "cpu"
title = "CPU"
["l2.data"]
kind = "sram"
title = "cache data RAM"
[dram]
kind = "dram"
title = "memory modules"
""",
    "words/rows.toml": """
[cpu]
top_clock = { unit = "MHz", title = "highest clock", worst = "min" }
low_clock = { unit = "MHz", title = "lowest clock" }
output = { unit = "ns", title = "output delay" }
supply_min = { unit = "V", title = "lowest supply" }
supply_max = { unit = "V", title = "highest supply", worst = "min" }
[sram]
access = { unit = "ns", title = "access time" }
top_clock = { unit = "MHz", title = "highest clock", worst = "min" }
[dram]
width = { unit = "ns", title = "width" }
refresh_row_time = { unit = "us", title = "time for one row", worst = "min" }
[refresh]
refresh_rows = { unit = "count", title = "rows" }
refresh_interval = { unit = "ms", title = "interval" }
""",
    "words/parameters.toml": """
[host_clock]
unit = "MHz"
title = "host clock"
""",
    "words/counted.toml": """
["memory.size"]
unit = "MB"
title = "installed memory"
""",
    "facts/period.toml": """
[[fact]]
name = "period"
unit = "ns"
title = "host period"
expr = "1 / host_clock"
source = "definition"
basis = "practice"
""",
    "parts/all.toml": _family(
        "cpu",
        "cpu",
        """
  top_clock = { value = 33, unit = "MHz" }, low_clock = { value = 20, unit = "MHz" },
  output = { value = 20, unit = "ns" },
  supply_min = { value = 4.75, unit = "V" }, supply_max = { value = 5.25, unit = "V" }
""".replace("\n", " "),
    )
    + _family(
        "cpu-cool",
        "cpu",
        'output = { value = 20, unit = "ns" }, supply_min = { value = 3.0, unit = "V" }, '
        'supply_max = { value = 3.6, unit = "V" }',
    )
    + _family(
        "ram-15",
        "sram",
        'access = { value = 15, unit = "ns" }, top_clock = { value = 40, unit = "MHz" }',
    )
    + _family(
        "ram-20",
        "sram",
        'access = { value = 20, unit = "ns" }, top_clock = { value = 33, unit = "MHz" }',
    )
    + _family("module", "dram", 'width = { value = 20, unit = "ns" }')
    + _family("plain", "dram", 'width = { value = 20, unit = "ns" }', "")
    + _family(
        "rows",
        "refresh",
        'refresh_rows = { value = 1024, unit = "count" }, refresh_interval = { value = 16, unit = "ms" }',
        _SPREADS.replace(f"ratio = {ABILITY_RATIO}", "ratio = 50").replace(
            f"sigma = {ABILITY_SIGMA}", "sigma = 0.8"
        ),
    ),
    "rules.toml": f"""
[[budget]]
id = "read"
title = "read"
available = [{{ name = "clock", time = "period" }}]
spend = [
  {{ name = "output", part = "cpu", time = "cpu.output" }},
  {{ name = "access", part = "l2.data", time = "l2.data.access" }},
]
symptoms = ["hang", "reboot"]
{_RULE}
[[budget]]
id = "access"
title = "access"
available = [{{ name = "half a clock", time = "period / 2" }}]
spend = [{{ name = "access", part = "l2.data", time = "l2.data.access" }}]
symptoms = ["memory-error"]
{_RULE}
[[budget]]
id = "output"
title = "output"
available = [{{ name = "half a clock", time = "period / 2" }}]
spend = [{{ name = "output", part = "cpu", time = "cpu.output" }}]
symptoms = ["no-start"]
{_RULE}
[[budget]]
id = "advice"
title = "advice"
advisory = true
available = [{{ name = "nothing", time = "0 * period" }}]
spend = [{{ name = "output", part = "cpu", time = "cpu.output" }}]
symptoms = ["no-start"]
{_RULE}
[[limit]]
id = "cpu.top"
title = "highest clock"
value = "host_clock"
rating = "cpu.top_clock"
sense = "at most"
unit = "MHz"
part = "cpu"
symptoms = ["hang"]
{_RULE}
[[limit]]
id = "cpu.low"
title = "lowest clock"
value = "host_clock"
rating = "cpu.low_clock"
sense = "at least"
unit = "MHz"
part = "cpu"
symptoms = ["hang"]
{_RULE}
[[limit]]
id = "ram.top"
title = "highest clock of the cache"
value = "host_clock"
rating = "l2.data.top_clock"
sense = "at most"
unit = "MHz"
part = "l2.data"
symptoms = ["hang"]
{_RULE}
[[limit]]
id = "board.top"
title = "a rating that no part bears"
value = "host_clock"
rating = "MHz(40)"
sense = "at most"
unit = "MHz"
symptoms = ["hang"]
{_RULE}
[[limit]]
id = "refresh"
title = "time between two rows"
value = "us(60)"
rating = "dram.refresh_row_time"
sense = "at most"
unit = "us"
part = "dram"
symptoms = ["memory-error"]
{_RULE}
""",
}

CLOCKS = ("17", "20", "25", "28", "30", "32", "33", "34", "36", "38", "40", "42", "66")
"""Choices of the one option: the host clock in MHz."""

_BOARD = """
schema = 1
title = "board"
[[slot]]
id = "cpu"
role = "cpu"
title = "socket"
[[slot]]
id = "cache"
role = "l2.data"
title = "cache"
chips = 4
[[slot]]
id = "memory"
role = "dram"
title = "memory"
chips = 4
[[option]]
id = "clock"
label = "Clock"
kind = "jumper"
""" + "".join(
    f'[[option.choice]]\nid = "{clock}"\nlabel = "{clock} MHz"\nset = {{ host_clock = {clock} }}\n'
    for clock in CLOCKS
)


@cache
def small_rulebook() -> Rulebook:
    """The tests' own rules."""
    return build_rulebook([Source(name, text) for name, text in _FILES.items()])


def small_machine(
    *,
    cpu: str = "cpu",
    cache: str = '"ram-20"',
    memory: str = "",
    clock: str = "25",
    more: str = "",
    what_if: dict[str, str] | None = None,
) -> tuple[Machine, BoundRules]:
    """A machine under the small rulebook; *cache*, *memory* and *more* are as in a profile's text."""
    rulebook = small_rulebook()
    board = load_board(_BOARD, rulebook)
    filled = f"memory = {memory}\n" if memory else ""
    text = f"""
schema = 1
title = "machine"
board = "board"
[fit]
cpu = "{cpu}"
cache = {cache}
{filled}
[current]
clock = "{clock}"
{more}
"""
    profile = load_machine(text, rulebook, lambda _: board)
    machine = build_machine("machine", profile, board, rulebook, what_if)
    return machine, bind(machine)


def at(clock: str) -> Settings:
    """The small machine's settings."""
    return {OptionId("clock"): ChoiceId(clock)}


@cache
def packed_machine(name: str) -> tuple[Machine, BoundRules]:
    """A packed machine of which nothing is proven."""
    machine = open_machine(name, load_rulebook())
    machine = replace(machine, profile=replace(machine.profile, proven=None))
    return machine, bind(machine)
