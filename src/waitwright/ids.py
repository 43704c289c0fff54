"""Names of things, as distinct types so that a checker keeps them apart."""

from __future__ import annotations

from typing import NewType

OptionId = NewType("OptionId", str)
ChoiceId = NewType("ChoiceId", str)
ParameterName = NewType("ParameterName", str)
FactName = NewType("FactName", str)
RuleId = NewType("RuleId", str)
PartId = NewType("PartId", str)
SlotId = NewType("SlotId", str)
RoleName = NewType("RoleName", str)

Settings = dict[OptionId, ChoiceId]
"""One combination: the choice of every option."""
