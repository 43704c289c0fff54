"""Cautions that belong to some changes only."""

from __future__ import annotations

import pytest

from waitwright.api.check import cautions, touched_rooms
from waitwright.api.opening import Question, put_on_bench
from waitwright.machine import FactTable
from waitwright.rulebook.domain import Budget, Limit
from waitwright.timing.bind import Bound


@pytest.mark.parametrize("command", ["next", "reach"])
def test_the_disk_path_is_cautioned_about_where_it_is_touched(command: str) -> None:
    """A change that bears on the drive's timing brings its caution; one of the cache, or none, does not."""
    bench = put_on_bench(Question("tollgate-486dx2"))
    facts = FactTable(bench.machine, bench.machine.current)
    options = {option.id for option in bench.machine.options}
    bounds: list[Bound[Budget] | Bound[Limit]] = [*bench.rules.budgets, *bench.rules.limits]
    on_disk = {option for bound in bounds if bound.rule.room == "ata" for option in bound.scope}
    assert on_disk and options - on_disk

    def shown(changed: set[str]) -> bool:
        touched = touched_rooms(bench.rules, [option for option in options if option in changed])
        return "disk-path" in {one.id for one in cautions(bench.machine, facts, command, touched)}

    assert all(shown({option}) for option in on_disk)
    assert not any(shown({option}) for option in options - on_disk)
    assert not shown(set())
