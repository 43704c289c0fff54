"""Profile and rulebook joined: what is fitted, what can be set, and the facts that follow."""

from waitwright.machine.build import build_machine, parse_settings
from waitwright.machine.constants import Member
from waitwright.machine.facts import FactTable
from waitwright.machine.fitting import Fitted, parse_what_if
from waitwright.machine.machine import Machine

__all__ = [
    "FactTable",
    "Fitted",
    "Machine",
    "Member",
    "build_machine",
    "parse_settings",
    "parse_what_if",
]
