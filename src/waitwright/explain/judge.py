"""Odds and verdicts of many combinations of one machine, from tables worked out once."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.evidence import log_survival
from waitwright.belief.outlook import Outlook
from waitwright.explain.verdicts import AnyBound, deciding, fails, verdict_of
from waitwright.ids import Settings
from waitwright.machine import Machine
from waitwright.timing.bind import BoundRules
from waitwright.timing.margins import margins

_CERTAIN = 1 - 1e-6
"""A rule with better odds than these is not what a combination fails for."""


class Judge:
    """Judges combinations of one machine by its outlook over all options.

    Attributes:
        bounds: The rules that decide, by id.
    """

    def __init__(self, machine: Machine, rules: BoundRules, view: Outlook) -> None:
        self.view = view
        self.bounds = deciding(rules)
        self._machine = machine
        self._rules = rules
        self._tables = {table.bound.id: table for table in view.tables}
        self._odds = {table.bound.id: table.draws @ view.cloud.weights for table in view.tables}
        self._logic = [bound for rule, bound in self.bounds.items() if rule not in self._tables]
        self._place = {
            option.id: {choice.id: place for place, choice in enumerate(option.choices)}
            for option in machine.options
        }

    def odds(self, settings: Settings) -> float:
        """Odds of the whole; zero where a logic rule is broken."""
        if any(fails(verdict_of(self._machine, bound, settings)) for bound in self._logic):
            return 0.0
        return self.view.odds(settings)

    def rule_odds(self, bound: AnyBound, settings: Settings) -> float | None:
        """Odds of one rule by itself; None for logic."""
        table = self._tables.get(bound.id)
        if table is None:
            return None
        row = table.rows[tuple(self._place[option][settings[option]] for option in table.scope)]
        return float(self._odds[bound.id][row])

    def eaters(self, settings: Settings) -> Iterator[AnyBound]:
        """Rules that take something from the odds."""
        for bound in self.bounds.values():
            odds = self.rule_odds(bound, settings)
            if odds is not None and odds < _CERTAIN:
                yield bound

    def stands(self, settings: Settings) -> bool:
        """Whether every data-sheet limit is kept."""
        return margins(self._machine, self._rules, settings).stands

    def ceiling(self, settings: Settings) -> Ceiling:
        """What the odds of *settings* could rise to if some rules were no danger."""
        logs = log_survival(self._machine, self.view.tables, settings)
        ids = [table.bound.id for table in self.view.tables]
        return Ceiling(self.view.cloud.weights, dict(zip(ids, logs, strict=True)))


class Ceiling:
    """Odds of one combination without some of its rules, draw by draw."""

    def __init__(self, weights: NDArray[np.float64], logs: dict[str, NDArray[np.float64]]) -> None:
        self._weights = weights
        self._logs = {rule: log for rule, log in logs.items() if log.any()}
        self._whole = np.sum([np.zeros(len(weights)), *self._logs.values()], axis=0)

    def without(self, rules: Collection[str]) -> float:
        """The odds if *rules* were sure to hold: nothing that bears on these alone brings more."""
        left = self._whole - sum((self._logs[rule] for rule in rules if rule in self._logs), start=0.0)
        return float(self._weights @ np.exp(left))
