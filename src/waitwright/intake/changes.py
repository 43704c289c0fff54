"""The course of questions for a machine that has a profile: what changes, one thing after another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from waitwright.intake.closing import proven_question, read_spare, read_yes, spare_words
from waitwright.intake.draft import Draft
from waitwright.intake.options import KEEP, option_question, renamed
from waitwright.intake.questions import Desk, Question, line_of_text
from waitwright.intake.readings import Reading, Refused, Taken, Way, choose, plain, shortened, then
from waitwright.intake.slots import read_slot, spoken_fit
from waitwright.intake.sockets import slot_question
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.profiles import MachineProfile, OptionDef, Proven, SlotDef, SpareDef
from waitwright.units import Exact

DONE = frozenset({"done", "no", "none", "nothing", "that is all"})
OTHERS = {
    "spares": "parts in the drawer",
    "proven": "what is known of the current settings",
    "title": "what the machine is called",
}
"""What can change besides slots and options."""


def draft_of(profile: MachineProfile) -> Draft:
    """*profile* as a draft in which all is answered already."""
    cpus = [profile.fit.get(slot.id, ()) for slot in profile.board.slots if slot.role == "cpu"]
    cpu = next((fits[0].part for fits in cpus if fits), None)
    soldered = next((slot.soldered for slot in profile.board.slots if slot.role == "cpu"), None)
    return Draft(
        cpu=cpu or soldered,
        board_name=profile.board_name,
        board=profile.board,
        fit=dict(profile.fit),
        current=dict(profile.current),
        labels=dict(profile.labels),
        proven=profile.proven,
        spares=profile.spares,
        title=profile.title,
    )


def profile_after(before: MachineProfile, draft: Draft) -> MachineProfile:
    """*before* with what *draft* says now."""
    return replace(
        before,
        title=draft.title,
        fit={slot: fits for slot, fits in draft.fit.items() if fits},
        current=dict(draft.current),
        labels=dict(draft.labels),
        proven=draft.proven,
        spares=draft.spares,
    )


def edit_course(desk: Desk, before: MachineProfile, draft: Draft) -> Iterator[Question]:
    """What changes? The thing named, and again; then whether to write it."""
    for number, target in enumerate(draft.targets, start=1):
        yield _menu(before, draft, number)
        yield _target_question(desk, draft, target, f"change.{number}")
    yield _menu(before, draft, len(draft.targets) + 1)
    if draft.finished:
        lines = [
            str(change) for change in changes_between(before, profile_after(before, draft), desk.rulebook)
        ]
        if lines:
            yield Question(
                key="write",
                text="\n".join([*lines, "Write these changes? (yes, or back to correct)"]),
                help="Comments, order and everything else in the file stay as they are.",
                read=lambda line: read_yes(draft, line),
                default="yes",
            )


def _slots(before: MachineProfile) -> list[SlotDef]:
    return [slot for slot in before.board.slots if not slot.soldered]


def _menu(before: MachineProfile, draft: Draft, number: int) -> Question:
    options = [renamed(option, draft.labels) for option in before.board.options]
    ways = [
        *(Way(str(slot.id), str(slot.id), (slot.title,)) for slot in _slots(before)),
        *(Way(str(option.id), str(option.id), (option.label,)) for option in options),
        *(Way(name, name) for name in OTHERS),
    ]

    def read(line: str) -> Reading[Draft]:
        if plain(line) in DONE:
            return Taken(replace(draft, finished=True))
        named = choose(line, ways, "slot or option", lettered=False)
        return then(named, lambda target: Taken(replace(draft, targets=(*draft.targets, target))))

    slots = ", ".join(str(slot.id) for slot in _slots(before))
    names = ", ".join(str(option.id) for option in options)
    others = ", ".join(f"{name} ({what})" for name, what in OTHERS.items())
    everything = f"Slots: {slots}\nOptions: {names}\nOthers: {others}"
    return Question(
        key=f"menu.{number}",
        text=f"{everything}\nWhat changes? (Enter if nothing)" if number == 1 else "What else changes?",
        help="Name one of them, by its id or in your own words." + ("" if number == 1 else f"\n{everything}"),
        read=read,
        default="done",
        shown_default="no more",
    )


def _target_question(desk: Desk, draft: Draft, target: str, key: str) -> Question:
    board = draft.board
    slots = {str(slot.id): slot for slot in board.slots} if board is not None else {}
    options = {str(option.id): option for option in board.options} if board is not None else {}
    if target in options:
        option: OptionDef = options[target]
        return option_question(draft, option, draft.current[option.id], key, keep=True)
    if target in slots:
        return _slot_question(desk, draft, slots[target], key)
    if target == "spares":
        return _spares_question(desk, draft, key)
    if target == "proven":
        return replace(
            proven_question(draft, key, ""), default=KEEP, read=lambda line: _read_proven(draft, line)
        )
    return Question(
        key=key,
        text="What do you call this machine?",
        help="One line, shown above every answer.",
        read=lambda line: then(line_of_text(line, "a title"), lambda text: Taken(replace(draft, title=text))),
        default=draft.title,
    )


def _slot_question(desk: Desk, draft: Draft, slot: SlotDef, key: str) -> Question:
    now = spoken_fit(desk.rulebook, draft.fit.get(slot.id, ()))
    asked = slot_question(desk, draft, slot, key, KEEP, f"{KEEP}: {now}")

    def read(line: str) -> Reading[Draft]:
        if plain(line) == KEEP:
            return Taken(draft)
        found = read_slot(desk, draft, slot, line)
        return then(found, lambda after: Taken(_with_cpu(after, slot)))

    return replace(asked, read=read)


def _with_cpu(draft: Draft, slot: SlotDef) -> Draft:
    """What a new CPU tells of banks counts from now on."""
    fits = draft.fit.get(slot.id, ())
    return replace(draft, cpu=fits[0].part) if slot.role == "cpu" and fits else draft


def _read_proven(draft: Draft, line: str) -> Reading[Draft]:
    if plain(line) == KEEP:
        return Taken(draft)
    return proven_question(draft, "", "").read(line)


def _spares_question(desk: Desk, draft: Draft, key: str) -> Question:
    now = "; ".join(spare_words(desk.rulebook, spare) for spare in draft.spares) or "nothing"

    def read(line: str) -> Reading[Draft]:
        said = plain(line)
        if said == KEEP:
            return Taken(draft)
        away = said.startswith("remove ")
        named = read_spare(desk, line.strip()[7:] if away else line)
        if away:
            return then(named, lambda spare: _removed(draft, spare))
        return then(named, lambda spare: Taken(replace(draft, spares=(*draft.spares, spare))))

    return Question(
        key=key,
        text=f"In the drawer: {now}\nWhich part is new ('9 x 61256-15'), or gone ('remove 386DX-40')?",
        help="A new one by its marking, name or id, with how many; a gone one behind the word 'remove'.",
        read=read,
        default=KEEP,
    )


def _removed(draft: Draft, gone: SpareDef) -> Reading[Draft]:
    for place, spare in enumerate(draft.spares):
        if spare.part == gone.part:
            return Taken(replace(draft, spares=(*draft.spares[:place], *draft.spares[place + 1 :])))
    return Refused(f"no {shortened(str(gone.part))} in the drawer")


# ------------------------------------------------------------------------------------- changes


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that changed: what, from, to, in words."""

    what: str
    before: str
    after: str

    def __str__(self) -> str:
        return f"  {self.what}: {self.before} -> {self.after}"


def changes_between(before: MachineProfile, after: MachineProfile, rulebook: Rulebook) -> list[Change]:
    """What differs between two profiles of one board, in the board's order."""
    found: list[Change] = []

    def note(what: str, old: str, new: str) -> None:
        if old != new:
            found.append(Change(what, old, new))

    note("title", before.title, after.title)
    for slot in before.board.slots:
        old, new = before.fit.get(slot.id, ()), after.fit.get(slot.id, ())
        if old != new:
            found.append(Change(slot.title, spoken_fit(rulebook, old), spoken_fit(rulebook, new)))
    for option in before.board.options:
        old_words, new_words = renamed(option, before.labels), renamed(option, after.labels)
        note(f"words for {option.id}", old_words.label, new_words.label)
        for was, now in zip(old_words.choices, new_words.choices, strict=True):
            note(f"words for {option.id} {was.id}", was.label, now.label)
        old_choice, new_choice = before.current[option.id], after.current[option.id]
        note(
            new_words.label,
            old_words.choice(old_choice).label if old_choice != new_choice else "",
            new_words.choice(new_choice).label if old_choice != new_choice else "",
        )
    note("known of these settings", _proven_words(before.proven), _proven_words(after.proven))
    note("spare parts", _spares_words(rulebook, before.spares), _spares_words(rulebook, after.spares))
    return found


def _proven_words(proven: Proven | None) -> str:
    if proven is None:
        return "nothing"
    return ", ".join(proven.symptoms) if proven.hours is None else f"ran {_number(proven.hours)} hours"


def _number(value: Exact) -> str:
    return f"{float(value):g}"


def _spares_words(rulebook: Rulebook, spares: Sequence[SpareDef]) -> str:
    return "; ".join(spare_words(rulebook, spare) for spare in spares) or "none"
