"""The combinations that a trial could be about: the fastest for every degree of caution and of luck."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import prior_cloud, widened
from waitwright.belief.evidence import joint_survivals
from waitwright.belief.outlook import Outlook
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.search.compile import choice_numbers, compile_likely, logic_constraints, settings_of
from waitwright.search.menu import Menu
from waitwright.search.problem import Constraint
from waitwright.trials.ground import Ground
from waitwright.workload.concession import WORTH, Concessions
from waitwright.workload.model import EventTable

_MENU_DRAWS = 512
_SURPRISE = 1.25
"""The menu reckons with parts farther from the usual than the catalogue says, by this factor."""

_LEAST_ON_MENU = 0.005
_LEAST_ODDS = 0.05
_LUCKS = 128
"""Draws whose own best combination is considered."""

_HOLDS = 0.98
"""Least survival of each rule in the best combination of one draw."""


class Shortlist:
    """What could be tried on one machine, for one kind of work and length of soak; belief comes later."""

    def __init__(self, ground: Ground, events: Sequence[EventTable], *, hours: float) -> None:
        """Nothing is enumerated before it is asked for."""
        self._machine, self._rules, self._ground = ground.machine, ground.rules, ground
        self._events, self._hours = tuple(events), hours

    @cached_property
    def _menu(self) -> Menu:
        """The machine's choices, enumerated once."""
        cloud = widened(prior_cloud(self._machine, draws=_MENU_DRAWS), _SURPRISE)
        tables = self._ground.situations.survivals(cloud, hours=self._hours)
        full = compile_likely(self._machine, self._rules, self._events, tables, cloud)
        return Menu(full, least=_LEAST_ON_MENU)

    @cached_property
    def _concessions(self) -> Concessions:
        return Concessions(self._machine, self._events)

    @cached_property
    def _requirements(self) -> tuple[Constraint, ...]:
        return tuple(logic_constraints(self._machine, self._rules))

    def far(self, outlook: Outlook) -> list[Settings]:
        """The frontier of speed against odds, and what would be best in each of many draws."""
        full = compile_likely(self._machine, self._rules, self._events, outlook.tables, outlook.cloud)
        menu = self._menu.priced(full)
        found = menu.frontier(_LEAST_ODDS)
        found += menu.optima(_heaviest(outlook.cloud.weights), _HOLDS)
        unique = dict.fromkeys(map(self._menu.values, found))
        return self._unconceded([settings_of(self._machine, values) for values in unique], outlook)

    def _unconceded(self, wishes: list[Settings], outlook: Outlook) -> list[Settings]:
        """*wishes* without concessions that bring next to no odds; each combination once."""

        def odds(wished: Sequence[Settings]) -> NDArray[np.float64]:
            cloud = outlook.cloud
            return joint_survivals(self._machine, outlook.tables, wished, cloud.draws) @ cloud.weights

        least = odds(wishes) - WORTH
        for option in self._concessions.options:
            backs = [(place, self._concessions.without(wish, option)) for place, wish in enumerate(wishes)]
            legal = [(place, back) for place, back in backs if back is not None and self.legal(back)]
            for (place, back), found in zip(legal, odds([back for _, back in legal]), strict=True):
                if found >= least[place]:
                    wishes[place] = back
        return list({choice_numbers(self._machine, wish): wish for wish in wishes}.values())

    def near(self, proven: Mapping[OptionId, ChoiceId]) -> list[Settings]:
        """All legal combinations that differ from *proven* in one option."""
        near: list[Settings] = []
        for option in self._machine.options:
            for choice in option.choices:
                wish: Settings = {**proven, option.id: choice.id}
                if choice.id != proven[option.id] and self.legal(wish):
                    near.append(wish)
        return near

    def legal(self, settings: Mapping[OptionId, ChoiceId]) -> bool:
        """Whether the board can be set so at all."""
        values = choice_numbers(self._machine, settings)
        return all(
            constraint.allowed[tuple(values[place] for place in constraint.scope)]
            for constraint in self._requirements
        )


def _heaviest(weights: NDArray[np.float64]) -> NDArray[np.intp]:
    """Evenly spaced draws by weight, each once."""
    points = (np.arange(_LUCKS) + 0.5) / _LUCKS
    return np.unique(np.searchsorted(np.cumsum(weights), points).clip(max=len(weights) - 1))
