"""What to run, what to watch for and how to get back, for any settings of a machine under trial."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from waitwright.api.trial_room import TrialRoom
from waitwright.ids import OptionId, Settings
from waitwright.trials.advice import soak_plan, watch_list, way_back


@dataclass(frozen=True, slots=True)
class TrialNotes:
    """Sentences for the bench: the soak test, what would show a failure, the way back."""

    soak: tuple[str, ...]
    watch: tuple[str, ...]
    recover: tuple[str, ...]


def trial_notes(room: TrialRoom, settings: Settings, changed: Iterable[OptionId], hours: float) -> TrialNotes:
    """Notes for *settings*, of which *changed* have to be entered, run for *hours*."""
    odds = room.standing.outlook.rule_odds(settings)
    bound = {rule.id: rule for rule in room.bench.rules.deciding}
    risky = sorted(
        ((bound[name], value) for name, value in odds.items() if name in bound),
        key=lambda pair: (pair[1], pair[0].id),
    )
    return TrialNotes(soak_plan(risky, hours), watch_list(risky), way_back(map(room.machine.option, changed)))
