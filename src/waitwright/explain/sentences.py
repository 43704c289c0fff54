"""Reasons in sentences, as a practitioner would say them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from waitwright.explain.figures import chance, percent, signed_percent
from waitwright.explain.reasons import Block, Change, Kept, MarginOf, relative_margin
from waitwright.explain.verdicts import AnyBound
from waitwright.timing.margins import BudgetMargin
from waitwright.units import Exact, words

WORTH_TELLING = Fraction(1, 2)
"""A rule is a price of a change where less than this share of the time or rating is left."""

_NEXT_TO_NOTHING = 0.0005


def change_sentence(change: Change) -> str:
    """What a change buys and costs, and why it goes no further."""
    parts = [_bought(change)]
    if change.tightest is not None and _worth_telling(change.tightest):
        parts.append(_cost(change.tightest, change.before, change.odds))
    if change.block is not None:
        parts.append(_stopped(change.block, back=change.block.choice.id == change.origin.id))
    return " ".join(parts)


def kept_sentence(kept: Kept) -> str:
    """Why an option is left alone."""
    return f"{kept.option.label} stays at '{kept.choice.label}'. {_stopped(kept.block)}"


def reach_sentence(
    reached: bool, fastest: float | None, closing: Sequence[float], needed: float, odds: float
) -> str:
    """Whether a target is within reach, and what would close the rest.

    Args:
        fastest: Gain of the fastest settings that may hold; None where nothing holds.
        closing: Gains that exchanges of parts lead to, the greatest first, at *odds* or more.
        needed: Gain that the target asks for.
    """
    if reached:
        return "Within reach; these are the least risky settings that should get there."
    if fastest is None:
        return "Out of reach: nothing holds with these parts."
    found = f"Out of reach with these parts: the fastest that may hold is {signed_percent(fastest)}."
    if not closing:
        return f"{found} Nothing in the spares box brings more."
    if closing[0] >= needed:
        these = "This exchange" if len(closing) == 1 else "These exchanges"
        return f"{found} {these} from the spares box would get there, at odds of {chance(odds)} or more."
    return f"{found} The spares box does not get there either; this exchange from it would come nearest."


def incurable_sentence(rules: Sequence[AnyBound]) -> str:
    """What stands in the way of every combination of choices, and what to do about it; empty for nothing."""
    if not rules:
        return ""
    told = " ".join(f"'{bound.title}'. {bound.rule.advice}".strip() for bound in rules)
    what = "a rule that no setting cures" if len(rules) == 1 else "rules that no setting cures"
    return f"The parts as fitted break {what}: {told}"


def _bought(change: Change) -> str:
    if change.share > _NEXT_TO_NOTHING:
        return f"Buys {percent(change.share)}."
    if change.share < -_NEXT_TO_NOTHING:
        return f"Costs {percent(-change.share)}, which makes room for the rest."
    return "No speed of its own; it is safer, or makes room for the rest."


def _worth_telling(margin: MarginOf) -> bool:
    return margin.margin is not None and relative_margin(margin) < WORTH_TELLING


def _cost(margin: MarginOf, before: Exact | None, odds: float | None) -> str:
    """What a change costs: the budget or limit that it endangers most."""
    left, unit = margin.margin or 0, _unit(margin)
    was = f" (before: {_state(before, unit)})" if before is not None else ""
    alone = f", odds {chance(odds)}" if odds is not None and left < 0 else ""
    if left < 0:
        return f"Leaves '{margin.bound.title}' {_state(left, unit)} by data sheet{alone}{was}."
    return f"Leaves {_state(left, unit)} in '{margin.bound.title}'{was}."


def _state(margin: Exact, unit: str) -> str:
    if margin < 0:
        return f"{words(-margin, unit)} short"
    return words(margin, unit) if margin > 0 else "nothing to spare"


def _unit(margin: MarginOf) -> str:
    return "ns" if isinstance(margin, BudgetMargin) else margin.bound.rule.unit


def _stopped(block: Block, *, back: bool = False) -> str:
    """Why a faster choice is not taken; *back*: it is the one that is set now."""
    start = f"Staying at '{block.choice.label}'" if back else f"No further: '{block.choice.label}'"
    if block.odds is not None:
        return f"{start} would leave odds of {chance(block.odds)}{_weakest(block, block.odds)}."
    if block.margins:
        worst = block.margins[0]
        more = len(block.margins) - 1
        also = f" (and {more} more)" if more else ""
        return f"{start} would fall short by {_short_by(worst)} in '{worst.bound.title}'{also}."
    return f"{start} would break a rule: {block.broken[0].bound.title}."


def _weakest(block: Block, odds: float) -> str:
    """The rule that the *odds* of a choice hang on most."""
    if not block.margins or block.weakest is None:
        return ""
    worst = block.margins[0]
    state = (
        f"{_short_by(worst)} short by data sheet" if worst.verdict == "falls short" else "left with little"
    )
    alone = f" and alone has odds of {chance(block.weakest)}" if block.weakest > odds + 0.005 else ""
    return f": '{worst.bound.title}' is {state}{alone}"


def _short_by(margin: MarginOf) -> str:
    distance = margin.margin
    return words(-distance if distance is not None else 0, _unit(margin))
