"""What the trials so far have taught, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from waitwright.api.trial_room import TrialRoom
from waitwright.belief.likelihood import Outcome
from waitwright.explain.figures import plain

_WORTH_NAMING = 0.15
_MOST_NAMED = 3
_HARDLY = 0.15
"""Share of the blame below which timing is said to explain little."""


def lessons(room: TrialRoom) -> tuple[str, ...]:
    """One sentence for the last failure, if any, and one for each suspect that has become likely."""
    told = []
    outcomes = room.standing.outcomes
    failures = [outcome for outcome in outcomes if not outcome.stable]
    if failures:
        told.append(_blamed(room, failures[-1]))
    told += _at_odds(outcomes)
    told += _suspected(room)
    return tuple(told)


def _blamed(room: TrialRoom, outcome: Outcome) -> str:
    """Where the blame for a failure lies."""
    shown = f" ({', '.join(outcome.symptoms)})" if outcome.symptoms else ""
    blame = room.standing.blame(outcome)
    timed = {rule.id for rule in room.ground.formers(outcome.fit).rules.deciding}
    hardly = sum(share for name, share in blame if name in timed) < _HARDLY
    aside = " Timing hardly explains it." if hardly else ""
    if not room.standing.same_parts(outcome):
        aside += " It ran on other parts than these."
    shares = [(name, share) for name, share in blame if share >= _WORTH_NAMING]
    if not shares:
        return f"The last failure{shown} fits no single cause well.{aside}"
    causes = "; ".join(
        f"{_title(room, outcome, name)} ({100 * share:.0f} %){_mended(room, outcome, name)}"
        for name, share in shares[:_MOST_NAMED]
    )
    return f"The last failure{shown} is most likely due to: {causes}.{aside}"


def _mended(room: TrialRoom, outcome: Outcome, name: str) -> str:
    """A word where a suspect was mended after *outcome*."""
    return ", mended since" if room.standing.repairs.get(name, 0) > outcome.repairs.get(name, 0) else ""


def _at_odds(outcomes: Sequence[Outcome]) -> list[str]:
    """A word where the settings last tried passed, and had failed on the same machine before."""
    last = outcomes[-1] if outcomes else None
    if last is None or not last.stable:
        return []
    same = [
        one
        for one in outcomes
        if (one.settings, one.fit, one.repairs) == (last.settings, last.fit, last.repairs)
    ]
    failed = [place for place, one in enumerate(same) if not one.stable]
    if not failed:
        return []
    hours = sum(one.soak if one.hours is None else one.hours for one in same[failed[-1] :] if one.stable)
    shown = ", ".join(same[failed[-1]].symptoms) or "no symptom told"
    told = (
        f"The settings last tried failed before ({shown}) and have run for {plain(hours)} hours since: "
        "something comes and goes, or a margin is at its very edge. They do not count as proven unless "
        "something was mended between; then record it with --repaired."
    )
    return [told]


def _suspected(room: TrialRoom) -> list[str]:
    told = []
    suspects = room.machine.rulebook.suspects
    for name, chance in sorted(room.standing.suspicion().items(), key=lambda pair: (-pair[1], pair[0])):
        if chance >= _WORTH_NAMING and chance > 2 * suspects[name].prior:
            told.append(f"{_capital(suspects[name].title)} is suspected with {100 * chance:.0f} %.")
    return told[:_MOST_NAMED]


def _title(room: TrialRoom, outcome: Outcome, name: str) -> str:
    suspects = room.machine.rulebook.suspects
    if name in suspects:
        return suspects[name].title
    rules = room.ground.formers(outcome.fit).rules.deciding
    return next((f"'{rule.title}'" for rule in rules if rule.id == name), name)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
