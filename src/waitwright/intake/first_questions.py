"""The first questions: CPU, slots, cache, memory modules, and the board that comes closest."""

from __future__ import annotations

from dataclasses import replace

from waitwright.errors import InputError
from waitwright.intake.boards_near import BUSES, NearBoard, takes
from waitwright.intake.draft import Draft
from waitwright.intake.processors import processor_named
from waitwright.intake.questions import NOTHING, Desk, Question, fitted
from waitwright.intake.readings import Reading, Refused, Taken, Way, choose, plain, shortened, then
from waitwright.rulebook.profiles import BoardProfile, FitDef

SHOWN_BOARDS = 5


def cpu_question(desk: Desk, draft: Draft) -> Question:
    """Which CPU."""

    def read(line: str) -> Reading[Draft]:
        named = processor_named(line, desk.parts_of_kind("cpu"), desk.rulebook.markings)
        return then(named, lambda part: Taken(replace(draft, cpu=part.id), (part.title,)))

    return Question(
        key="cpu",
        text="Which CPU? (as printed on it, such as 486DX2-66 or 386SX-16)",
        help="Type and speed: 'i386DX-33', 'dx4 100', '386-40'. The figure behind the dash is MHz. "
        "Letters of the maker and the package do not matter; a V behind it means 3.3 V. Only CPUs that the "
        "catalogue has figures for can be taken.",
        read=read,
    )


def bus_question(draft: Draft) -> Question:
    """Which card slots."""
    words = {
        "isa": ("isa", "at"),
        "vl": ("vl", "vlb", "vesa", "local", "local-bus", "vl-bus"),
        "pci": ("pci",),
    }

    def read(line: str) -> Reading[Draft]:
        said = set(plain(line).replace(",", " ").replace("+", " ").split()) - {
            "and",
            "bus",
            "slots",
            "only",
            "8-bit",
            "16-bit",
        }
        unknown = [one for one in said if not any(one in names for names in words.values())]
        if unknown or not said:
            return Refused(f"expected slots of {', '.join(words)}, found {shortened(line)!r}")
        return Taken(
            replace(draft, buses=frozenset(bus for bus, names in words.items() if said & set(names)))
        )

    return Question(
        key="buses",
        text="Which card slots has the board? (isa, isa vl, isa pci ...)",
        help=f"All kinds of slots on it: {', '.join(f'{key} for {title}' for key, title in BUSES.items())}. "
        "A local-bus slot has a third connector in line with the ISA slot; PCI slots are short, white and "
        "set back.",
        read=read,
        default="isa",
    )


def cache_question(draft: Draft) -> Question:
    """How much cache."""

    def read(line: str) -> Reading[Draft]:
        said = plain(line).removesuffix("b").removesuffix("k").strip()
        if said in NOTHING or said == "0":
            return Taken(replace(draft, cache_kb=0))
        if said in {"not known", "unknown", "?"}:
            return Taken(replace(draft, cache_kb=None))
        if said.isascii() and said.isdigit() and len(said) < 5:
            return Taken(replace(draft, cache_kb=int(said)))
        return Refused(f"expected KB such as 64, 128 or 256, or none, found {shortened(line)!r}")

    return Question(
        key="cache",
        text="How much cache is on the board, in KB? (none, 64, 128, 256 ...)",
        help="The chips in sockets near the CPU: eight of 32Kx8 (61256 and kin) and a tag chip make 256 KB, "
        "four make 128. Chips without sockets count too.",
        read=read,
        default="not known",
    )


def pins_question(draft: Draft) -> Question:
    """Which memory modules."""

    def read(line: str) -> Reading[Draft]:
        said = plain(line).replace("-pin", "").replace("pin", "").strip()
        answers = {"30": {30}, "72": {72}, "both": {30, 72}, "30 and 72": {30, 72}, "30 72": {30, 72}}
        if said not in answers:
            return Refused(f"expected 30, 72 or both, found {shortened(line)!r}")
        return Taken(replace(draft, pins=frozenset(answers[said])))

    return Question(
        key="pins",
        text="Memory modules with 30 contacts or with 72? (30, 72, both)",
        help="30-pin modules are about 9 cm long and 8 bits wide; a 32-bit CPU needs four at a time, a 386SX "
        "two. 72-pin modules are about 11 cm long with a notch in the middle; a 486 takes them singly.",
        read=read,
        default="30",
    )


def board_question(desk: Desk, draft: Draft) -> Question:
    """Which packed board is closest."""
    near = desk.near(draft)
    shown = near[:SHOWN_BOARDS]

    def read(line: str) -> Reading[Draft]:
        if line.strip().endswith(".toml"):
            return _own_board(desk, draft, line.strip())
        ways = [Way(_told(one), one, (one.name, one.board.title)) for one in shown]
        named = choose(line, ways, "board")
        if isinstance(named, Refused):
            named = choose(
                line, [Way(one.name, one, (one.board.title,)) for one in near], "board", lettered=False
            )
        return then(named, lambda one: _with_board(desk, draft, one.name, one.board))

    return Question(
        key="board",
        text="Which of these boards is closest to yours? (what speaks against it in brackets)",
        help="The packed boards are invented; take one that works as yours does, by CPU, buses and cache. "
        "You can call its settings by your own screen's words later. A path that ends in .toml names a "
        f"board profile of your own. All: {', '.join(desk.boards)}.",
        read=read,
        default=near[0].name if near else "",
        shown_default="the first",
        ways=tuple(_told(one) for one in shown),
    )


def _own_board(desk: Desk, draft: Draft, path: str) -> Reading[Draft]:
    try:
        return _with_board(desk, draft, path, desk.read_board(path))
    except InputError as error:
        return Refused(str(error).splitlines()[0])


def _told(one: NearBoard) -> str:
    against = "; ".join(one.unlike)
    return f"{one.board.title} ({against or 'as yours, as far as is known'})"


def _with_board(desk: Desk, draft: Draft, name: str, board: BoardProfile) -> Reading[Draft]:
    cpu = desk.part(draft.cpu)
    sockets = [slot for slot in board.slots if slot.role == "cpu"]
    able = [slot for slot in sockets if cpu is not None and takes(slot, cpu, desk.rulebook)]
    if sockets and not able:
        title = cpu.title if cpu is not None else "such CPU"
        return Refused(f"{board.title} takes no {title}; take another board, or go back to the CPU")
    chosen = replace(
        draft,
        board_name=name,
        board=board,
        fit={},
        notes={},
        current={},
        absent=frozenset(),
        cards=0,
        cards_done=False,
    )
    if able and not able[0].soldered and cpu is not None:
        chosen = fitted(chosen, able[0], (FitDef(cpu.id),))
    return Taken(chosen)
