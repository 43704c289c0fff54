"""A small rulebook, board and machine of the tests' own, and ways to break them."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest

from waitwright.errors import FileProblems
from waitwright.rulebook.boards import load_board
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.load import OWN, Source, build_rulebook
from waitwright.rulebook.machines import load_machine
from waitwright.rulebook.profiles import BoardProfile, MachineProfile

FILES = {
    "words/roles.toml": """\
[cpu]
kind = "cpu"
title = "CPU"
["l2.data"]
kind = "sram"
title = "cache data RAM"
[dram]
kind = "dram"
title = "memory modules"
[drive]
kind = "drive"
title = "drive"
each = true
""",
    "words/rows.toml": """\
[cpu]
family = { unit = "text", title = "family" }
core_clock = { unit = "MHz", title = "rated clock", worst = "min" }
address_valid = { unit = "ns", title = "address valid" }
data_setup = { unit = "ns", title = "data setup" }
burst = { unit = "flag", title = "bursts" }
[sram]
access = { unit = "ns", title = "access time" }
[dram]
row_access = { unit = "ns", title = "access from RAS" }
width_loss = { unit = "ns", title = "narrower by" }
[refresh]
refresh_rows = { unit = "count", title = "rows" }
[drive]
pio_mode = { unit = "count", title = "fastest mode" }
[card]
buses = { unit = "text", title = "bus" }
""",
    "words/parameters.toml": """\
[host_clock]
unit = "MHz"
title = "host clock"
least = 4
most = 66.7
[read_clocks]
unit = "clocks"
title = "clocks of a read"
least = 2
most = 6
[automatic]
unit = "flag"
title = "automatic"
default = "false"
[bus_source]
unit = "text"
title = "source of the bus clock"
values = ["clk2", "fixed"]
default = "'fixed'"
""",
    "words/counted.toml": """\
["memory.size"]
unit = "MB"
title = "installed memory"
["drive.bus"]
unit = "text"
title = "bus of the drive's port"
""",
    "words/traits.toml": """\
[reads]
unit = "ratio"
title = "reads per instruction"
""",
    "facts/clocks.toml": """\
[[fact]]
name = "host_period"
unit = "ns"
title = "host period"
expr = "1 / host_clock"
source = "definition"
basis = "practice"
""",
    "parts/cpu.toml": """\
[[family]]
id = "386dx"
kind = "cpu"
title = "386DX"
grades = ["25", "33"]
grade_titles = ["25 MHz", "33 MHz"]
source = "data sheet 231630"
basis = "published"
note = "a note"
[family.rows]
family = { value = "386dx", unit = "text" }
core_clock = { value = [25, "100/3"], unit = "MHz" }
address_valid = { min = [4, 4], max = [21, 15], unit = "ns" }
data_setup = { value = ["-", 5], unit = "ns", source = "hearsay", basis = "memory" }
burst = { value = false, unit = "flag" }
[family.delay]
ratio = 0.64
sigma = 0.086
source = "logic data book"
basis = "published"
""",
    "parts/memory.toml": """\
[[family]]
id = "sram"
kind = "sram"
title = "static RAM"
grades = ["15", "20"]
source = "data sheet"
basis = "published"
rows = { access = { value = [15, 20], unit = "ns" } }
[[family]]
id = "fpm"
kind = "dram"
title = "memory module"
grades = ["60", "70"]
source = "data sheet"
basis = "published"
rows = { row_access = { value = [60, 70], unit = "ns" }, width_loss = { value = -3, unit = "ns" } }
[[family]]
id = "refresh-1024"
kind = "refresh"
title = "1024 rows"
source = "data sheet"
basis = "published"
rows = { refresh_rows = { value = 1024, unit = "count" } }
""",
    "parts/other.toml": """\
[[family]]
id = "drive"
kind = "drive"
title = "ATA drive"
source = "standard"
basis = "published"
rows = { pio_mode = { value = 2, unit = "count" } }
[[family]]
id = "card-vl"
kind = "card"
title = "display card"
source = "practice"
basis = "practice"
rows = { buses = { value = "vl", unit = "text" } }
[[family]]
id = "card-isa8"
kind = "card"
title = "port card"
source = "practice"
basis = "practice"
rows = { buses = { value = "isa8", unit = "text" } }
""",
    "budgets/l2.toml": """\
[[budget]]
id = "l2.first"
title = "first word"
room = "l2"
when = "not automatic"
available = [{ name = "clocks", time = "read_clocks * host_period" }]
spend = [
  { name = "address", part = "cpu", time = "cpu.address_valid_max" },
  { name = "access", part = "l2.data", time = "l2.data.access" },
  { name = "setup", part = "cpu", time = "cpu.data_setup", when = "cpu.burst" },
]
symptoms = ["hang"]
advice = "Add a clock."
source = "data sheet"
basis = "published"
""",
    "limits/cpu.toml": """\
[[limit]]
id = "cpu.clock"
title = "CPU clock"
room = "cpu"
value = "host_clock"
rating = "cpu.core_clock"
sense = "at most"
unit = "MHz"
part = "cpu"
symptoms = ["hang"]
advice = "Lower the clock."
source = "data sheet"
basis = "published"
""",
    "logic/drive.toml": """\
[[rule]]
id = "drive.mode"
title = "drive mode"
each = "drive"
require = "drive.pio_mode >= 1 and drive.bus != 'pci' and memory.size > MB(0) and bus_source == 'fixed'"
symptoms = ["disk-error"]
advice = "Set a slower mode."
source = "practice"
basis = "practice"
""",
    "workloads/work.toml": """\
[[event]]
id = "read"
title = "read"
rate = "1000 * work.reads"
time = "2 * host_period"
source = "practice"
basis = "practice"
[[workload]]
id = "integer"
title = "integer work"
source = "practice"
basis = "practice"
traits = { reads = { value = 0.3, unit = "ratio" } }
""",
    "cautions/heat.toml": """\
[[caution]]
id = "heat"
text = "Mind the heat."
when = "host_clock > MHz(33.4)"
commands = ["check", "next"]
""",
    "suspects/supply.toml": """\
[[measurement]]
id = "voltage"
title = "supply voltage"
how = "Measure at the CPU."
unit = "MHz"
kind = "number"
relative_to = "host_clock"
healthy = { shape = "normal", centre = 1, sigma = 0.02, source = "guide", basis = "published" }
faulty = { shape = "lognormal", centre = 0.9, sigma = 0.1, source = "practice", basis = "practice" }
judge = [{ at_most = 0.95, says = "fault", text = "low" }, { says = "sound", text = "as it should be" }]
minutes = 5
cautions = ["heat"]
source = "practice"
basis = "practice"
[[measurement]]
id = "swap"
title = "better with another supply?"
how = "Swap it."
unit = "flag"
kind = "answer"
healthy = { shape = "chance", centre = 0.05, source = "practice", basis = "practice" }
faulty = { shape = "chance", centre = 0.8, source = "practice", basis = "practice" }
judge = [{ at_most = 0, says = "sound", text = "no" }, { says = "fault", text = "yes" }]
minutes = 60
source = "practice"
basis = "practice"
[[suspect]]
id = "tired"
title = "tired supply"
signs = "Reboots."
prior = 0.05
when = "not automatic"
only_with = "drive"
rate = "2 * drive.pio_mode * host_clock / MHz(33.3)"
spread = 1.2
warmth = "cold"
symptoms = { reboot = 3, hang = 1 }
measurements = ["voltage", "swap"]
remedy = "Use another one."
cautions = ["heat"]
source = "practice"
basis = "practice"
""",
}

BOARD = """\
schema = 1
title = "Test board"
note = "invented"
[fixed]
bus_source = "fixed"
[[slot]]
id = "cpu"
role = "cpu"
title = "CPU socket"
accepts = ["386dx"]
[[slot]]
id = "cache-0"
role = "l2.data"
title = "cache bank 0"
chips = 4
[[slot]]
id = "simm-0"
role = "dram"
title = "memory bank 0"
chips = 4
[[slot]]
id = "vl-1"
bus = "vl"
title = "local-bus slot"
[[slot]]
id = "disk"
role = "drive"
title = "drive"
on = "vl-1"
[[slot]]
id = "board-disk"
role = "drive"
title = "drive on the board"
soldered = "drive"
on = "board-isa"
[[option]]
id = "clock"
label = "Host clock"
kind = "jumper"
help = "in MHz"
[[option.choice]]
id = "25"
label = "25 MHz"
set = { host_clock = 25 }
[[option.choice]]
id = "33"
label = "33 MHz"
set = { host_clock = "100/3" }
[[option]]
id = "read"
label = "Read clocks"
kind = "setup"
[[option.choice]]
id = "2"
label = "2"
set = { read_clocks = 2 }
[[option.choice]]
id = "3"
label = "3"
set = { read_clocks = 3 }
[[automatic]]
when = "automatic"
set = { read_clocks = "3 if host_clock > MHz(30) else 2" }
[[rule]]
id = "board.clock"
title = "board clock"
require = "host_clock <= MHz(33.4)"
symptoms = ["no-start"]
advice = "Slow down."
source = "invented"
basis = "practice"
"""

MACHINE = """\
schema = 1
title = "Test machine"
note = "teaches nothing"
board = "test-board"
[fit]
cpu = "386dx-33"
cache-0 = [{ part = "sram-20", count = 3 }, { part = "sram-15", count = 1 }]
simm-0 = { part = "fpm-70", size_mb = 0.25, refresh = "refresh-1024" }
vl-1 = "card-vl"
disk = "drive"
[current]
clock = "33"
read = "3"
[labels]
"clock" = "Speed"
"clock.33" = "fast"
[environment]
supply_v = 4.92
[proven]
hours = 40
[[spare]]
part = "sram-15"
count = 9
[[measured]]
name = "cpu-ripple"
value = "100/3"
unit = "mV"
where = "at the socket"
"""

Build = Callable[..., Rulebook]
Lines = Callable[..., list[str]]


def build_of(files: Mapping[str, str], own: Mapping[str, str] | None = None) -> Rulebook:
    """A rulebook of the small *files*, with *own* ones over them."""
    sources = [Source(f"rules/{name}", text) for name, text in files.items()]
    return build_rulebook(sources + [Source(f"mine/{name}", text, OWN) for name, text in (own or {}).items()])


@pytest.fixture
def files() -> dict[str, str]:
    """The small rule files, by name, free to change."""
    return dict(FILES)


@pytest.fixture(scope="session")
def rule_files() -> Mapping[str, str]:
    """The small rule files, by name, shared."""
    return FILES


@pytest.fixture
def build() -> Build:
    """Builds a rulebook of named texts, and of the user's own over them."""
    return build_of


@pytest.fixture(scope="session")
def small() -> Rulebook:
    """The small rulebook."""
    return build_of(FILES)


@pytest.fixture
def edited(files: dict[str, str]) -> Lines:
    """Replaces text in one small rule file and returns the problems that loading then ends with."""

    def problems(name: str, old: str, new: str, *more: tuple[str, str, str]) -> list[str]:
        for file, before, after in ((name, old, new), *more):
            assert before in files[file]
            files[file] = files[file].replace(before, after, 1)
        with pytest.raises(FileProblems) as caught:
            build_of(files)
        return [str(problem) for problem in caught.value.problems]

    return problems


@pytest.fixture
def read_board(small: Rulebook) -> Callable[[str], BoardProfile]:
    """Loads a board from text."""
    return lambda text: load_board(text, small, "board.toml")


@pytest.fixture
def read_machine(small: Rulebook) -> Callable[[str], MachineProfile]:
    """Loads a machine on the test board from text."""
    board = load_board(BOARD, small, "board.toml")
    return lambda text: load_machine(text, small, lambda name: board, "machine.toml")


@pytest.fixture(scope="session")
def board_text() -> str:
    """A sound board profile."""
    return BOARD


@pytest.fixture(scope="session")
def machine_text() -> str:
    """A sound machine profile."""
    return MACHINE
