"""What the trials so far have taught, in sentences."""

from __future__ import annotations

from waitwright.api.trial_room import TrialRoom
from waitwright.belief.likelihood import Outcome

_WORTH_NAMING = 0.15
_MOST_NAMED = 3
_HARDLY = 0.15
"""Share of the blame below which timing is said to explain little."""


def lessons(room: TrialRoom) -> tuple[str, ...]:
    """One sentence for the last failure, if any, and one for each suspect that has become likely."""
    told = []
    failures = [outcome for outcome in room.standing.outcomes if not outcome.stable]
    if failures:
        told.append(_blamed(room, failures[-1]))
    told += _suspected(room)
    return tuple(told)


def _blamed(room: TrialRoom, outcome: Outcome) -> str:
    """Where the blame for a failure lies."""
    shown = f" ({', '.join(outcome.symptoms)})" if outcome.symptoms else ""
    blame = room.standing.blame(outcome)
    timed = {rule.id for rule in room.bench.rules.deciding}
    hardly = sum(share for name, share in blame if name in timed) < _HARDLY
    aside = " Timing hardly explains it." if hardly else ""
    shares = [(name, share) for name, share in blame if share >= _WORTH_NAMING]
    if not shares:
        return f"The last failure{shown} fits no single cause well.{aside}"
    causes = "; ".join(f"{_title(room, name)} ({100 * share:.0f} %)" for name, share in shares[:_MOST_NAMED])
    return f"The last failure{shown} is most likely due to: {causes}.{aside}"


def _suspected(room: TrialRoom) -> list[str]:
    told = []
    suspects = room.machine.rulebook.suspects
    for name, chance in sorted(room.standing.suspicion().items(), key=lambda pair: (-pair[1], pair[0])):
        if chance >= _WORTH_NAMING and chance > 2 * suspects[name].prior:
            told.append(f"{_capital(suspects[name].title)} is suspected with {100 * chance:.0f} %.")
    return told[:_MOST_NAMED]


def _title(room: TrialRoom, name: str) -> str:
    suspects = room.machine.rulebook.suspects
    if name in suspects:
        return suspects[name].title
    return next((f"'{rule.title}'" for rule in room.bench.rules.deciding if rule.id == name), name)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
