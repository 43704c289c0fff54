"""The last questions: how it runs, what lies in the drawer, what it is called, and whether to write it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from waitwright.intake.draft import Draft
from waitwright.intake.markings import chip_of, graded, speed_of
from waitwright.intake.modules import Modules, read_modules, size_words
from waitwright.intake.names import card_named
from waitwright.intake.processors import processor_named
from waitwright.intake.questions import NOTHING, Desk, Question, line_of_text
from waitwright.intake.readings import Reading, Refused, Taken, each, one_of, plain, shortened, then
from waitwright.intake.slots import spoken_fit
from waitwright.nearest import hint_behind
from waitwright.rulebook.domain import SYMPTOMS, Chip, Part, Rulebook, Symptom
from waitwright.rulebook.profiles import Proven, SpareDef

_HOURS = re.compile(r"^([0-9]{1,5}(?:[.,][0-9]{1,3})?)\s*(h|hours?|d|days?|weeks?|)$")
_MANY = re.compile(r"^\s*([0-9]{1,4})\s*(?:x|\*|\u00d7)\s+(?=\S)")
_UNIT_HOURS = {"d": 24, "w": 168}
_YES, _NO = {"yes", "y", "ok"}, {"no", "n"}


def closing_questions(desk: Desk, draft: Draft) -> Iterator[Question]:
    """What comes last for a new machine."""
    if draft.settings == "ask":
        yield proven_question(draft, "proven", "not known")
    yield _spares_question(desk, draft)
    yield _title_question(desk, draft)
    if not desk.file:
        yield _file_question(desk, draft)
    path = desk.file or draft.file
    if path and desk.standing(path) == "file":
        yield _overwrite_question(desk, draft, path)
    yield _write_question(desk, draft, path)


def proven_question(draft: Draft, key: str, default: str) -> Question:
    """What is known of the current settings."""
    return Question(
        key=key,
        text="Does it run with these settings? (hours without a fault, as 40 h, or how it fails, as hang)",
        help="What you know counts as the first entry of the evidence: 'ran for 100 hours' as '100 h' or "
        f"'5 days', or one or more of {', '.join(SYMPTOMS)}. 'not known' says nothing.",
        read=lambda line: read_proven(draft, line),
        default=default,
    )


def read_proven(draft: Draft, line: str) -> Reading[Draft]:
    """*draft* with what *line* says of the current settings."""
    said = plain(line)
    if said in NOTHING or said in {"not known", "unknown"}:
        return Taken(replace(draft, proven=None))
    timed = _HOURS.match(said)
    if timed:
        hours = Fraction(timed[1].replace(",", ".")) * _UNIT_HOURS.get(timed[2][:1], 1)
        if not 0 < hours <= 100_000:
            return Refused("expected more than 0, at most 100000 hours")
        return Taken(replace(draft, proven=Proven(hours.numerator if hours.denominator == 1 else hours)))
    words = [word for word in re.split(r"\s*,\s*|\s+and\s+", said) if word]
    known: dict[str, Symptom] = {name.replace("-", " "): name for name in SYMPTOMS}
    symptoms = []
    for word in words:
        name = known.get(word.replace("-", " "))
        if name is None:
            return Refused(f"no hours and no symptom: {shortened(word)!r}{hint_behind(word, SYMPTOMS)}")
        symptoms.append(name)
    return Taken(replace(draft, proven=Proven(None, tuple(dict.fromkeys(symptoms)))))


# -------------------------------------------------------------------------------------- spares


def _spares_question(desk: Desk, draft: Draft) -> Question:
    def read(line: str) -> Reading[Draft]:
        if plain(line) in NOTHING:
            return Taken(replace(draft, spares=()))
        spares = each(line.split(","), lambda text: read_spare(desk, text))
        return then(spares, told)

    def told(spares: tuple[SpareDef, ...]) -> Reading[Draft]:
        words = "; ".join(spare_words(desk.rulebook, spare) for spare in spares)
        return Taken(replace(draft, spares=spares), (f"in the drawer: {words}",))

    return Question(
        key="spares",
        text="Spare parts, with commas between them? (such as '9 x 61256-15, 386DX-40'; none)",
        help="'swap' then says which of them buys most. Chips by their marking, CPUs and cards by name, or "
        "any part by its id, as 'rules list' tells it.",
        read=read,
        default="none",
    )


def spare_words(rulebook: Rulebook, spare: SpareDef) -> str:
    """A kind of part in the drawer, as its owner would say it."""
    many = f"{spare.count} x " if spare.count > 1 else ""
    return f"{many}{rulebook.parts[spare.part].title}"


def read_spare(desk: Desk, text: str) -> Reading[SpareDef]:
    """One kind of part in the drawer."""
    found = _MANY.match(text)
    count = int(found[1]) if found else 1
    named = text[found.end() :] if found else text
    if not 1 <= count <= 9999:
        return Refused(f"{shortened(text)}: expected how many, such as 9 x 61256-15")
    modules = read_modules(named, 0, desk.rulebook.markings, room=0 if found else None)
    if not isinstance(modules, Refused):
        return then(modules, lambda one: _spare_modules(desk, one, one.count or count))
    return then(any_part(desk, named.strip()), lambda part: Taken(SpareDef(part.id, count)))


def _spare_modules(desk: Desk, one: Modules, count: int) -> Reading[SpareDef]:
    """Modules in the drawer; a profile keeps their grade and how many there are."""
    grades = [part for part in desk.parts_of_kind("dram") if part.family == (one.type or "fpm")]
    size = f"the profile keeps no size of spare modules ({size_words(one.size)})"
    graded_part = graded(grades, one.access, "row_access")
    return then(graded_part, lambda part: Taken(SpareDef(part.id, count), (size,)))


def any_part(desk: Desk, text: str) -> Reading[Part]:
    """The part of whatever kind that *text* names."""
    exact = desk.rulebook.parts.get(plain(text))
    if exact is not None:
        return Taken(exact)
    for kind, row in (("sram", "access"), ("dram", "row_access")):
        chip = chip_of(text, kind, desk.rulebook.markings)
        if chip is not None:
            able = [part for part in desk.parts_of_kind(kind) if part.family == chip.families[0]]
            return _marked(text, chip, able, row, desk)
    readings = [
        processor_named(text, desk.parts_of_kind("cpu"), desk.rulebook.markings),
        processor_named(text, desk.parts_of_kind("coprocessor"), desk.rulebook.markings),
        card_named(text, desk.parts_of_kind("card"), desk.rulebook),
    ]
    for reading in readings:
        if not isinstance(reading, Refused):
            return reading
    titled = [
        part for part in desk.rulebook.parts.values() if plain(text) and plain(text) in plain(part.title)
    ]
    if 0 < len(titled) <= 12:
        return one_of(f"{shortened(text)} fits several: which?", [(part.title, part) for part in titled])
    return Refused(f"{shortened(text)}: no such part{hint_behind(text, desk.rulebook.parts)}")


def _marked(text: str, chip: Chip, able: list[Part], row: str, desk: Desk) -> Reading[Part]:
    speed = speed_of(text, chip.kind, desk.rulebook.markings, chip)
    return then(speed, lambda access: graded(able, access, row))


# ------------------------------------------------------------------------------- name and file


def _title_question(desk: Desk, draft: Draft) -> Question:
    cpu = desk.part(draft.cpu)
    return Question(
        key="title",
        text="What do you call this machine?",
        help="One line, shown above every answer.",
        read=lambda line: then(line_of_text(line, "a title"), lambda text: Taken(replace(draft, title=text))),
        default=cpu.title.replace(", ", "-").removesuffix(" MHz") if cpu is not None else "machine",
    )


def _file_question(desk: Desk, draft: Draft) -> Question:
    slug = "-".join(re.findall(r"[a-z0-9]+", draft.title.casefold()))[:40].strip("-")
    return Question(
        key="file",
        text="Into which file?",
        help="A path, .toml at its end. The logbook will stand beside it.",
        read=lambda line: read_file(desk, draft, line),
        default=f"{slug or 'machine'}.toml",
    )


def read_file(desk: Desk, draft: Draft, line: str) -> Reading[Draft]:
    """*draft* with the path in *line*."""

    def look(text: str) -> Reading[Draft]:
        path = toml_name(text)
        standing = desk.standing(path)
        if "folder" in {standing, desk.standing(text)}:
            return Refused(f"{shortened(text)} is a folder")
        if standing == "no folder":
            return Refused(f"there is no folder for {shortened(path)}")
        return Taken(replace(draft, file=path, overwrite=""))

    return then(line_of_text(line, "a file name", most=200), look)


def toml_name(name: str) -> str:
    """*name* as the name of a TOML file."""
    return name if name.endswith(".toml") else f"{name}.toml"


def _overwrite_question(desk: Desk, draft: Draft, path: str) -> Question:
    def read(line: str) -> Reading[Draft]:
        said = plain(line)
        if said in _YES:
            return Taken(replace(draft, overwrite=path))
        if said in _NO and desk.file:
            return Refused(
                f"then {shortened(path)} stays; stop with Ctrl-C, or begin again with another name"
            )
        if said in _NO:
            return Refused("then give another name: 'back' goes to that question")
        return Refused("expected yes or no")

    return Question(
        key="overwrite",
        text=f"{shortened(path, 200)} exists already. Replace it? (yes, no)",
        help="What it holds now would be lost.",
        read=read,
    )


def _write_question(desk: Desk, draft: Draft, path: str) -> Question:
    return Question(
        key="write",
        text=f"{summary(desk, draft)}\nWrite this to {shortened(path, 200) or 'the file'}? (yes, back)",
        help="'back' goes to the question before, as often as you like. Nothing has been written so far.",
        read=lambda line: read_yes(draft, line),
        default="yes",
    )


def read_yes(draft: Draft, line: str) -> Reading[Draft]:
    """*draft*, agreed to."""
    if plain(line) in _YES:
        return Taken(replace(draft, agreed=True))
    return Refused("expected yes; 'back' corrects, Ctrl-C stops without writing")


def summary(desk: Desk, draft: Draft) -> str:
    """What was understood, slot by slot."""
    if draft.board is None:
        return ""
    fits = draft.in_board_order()
    rows = [
        f"  {slot.title}: {spoken_fit(desk.rulebook, fits[slot.id])}"
        for slot in draft.board.slots
        if slot.id in fits
    ]
    slow = "slow ones that should hold, to be entered first: the machine does not have them yet"
    rows.append(f"  settings: {slow if draft.settings == 'slow' else 'as entered'}")
    missing = [str(option.id) for option in draft.board.options if option.id in draft.absent]
    if missing:
        keep = " ".join(f"--fix {name}" for name in missing)
        rows.append(f"  not on your screen: {', '.join(missing)} ('rank {keep}' leaves them alone)")
    board = draft.board.title.partition(":")[0]
    return "\n".join([f"{draft.title}, on a board like {board}", *rows])
