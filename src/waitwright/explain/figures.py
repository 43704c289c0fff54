"""Figures as people write them: the one form of gains, odds, plain numbers and counts in all answers."""

from __future__ import annotations

from collections.abc import Sequence

_SEVERAL = {"loads", "clocks", "bits"}


def percent(share: float) -> str:
    """A gain as a practitioner writes it: one decimal below 10 %, none above."""
    value = 100 * share
    shown = f"{value:.0f}" if abs(value) >= 9.95 else f"{value:.1f}"
    return f"{shown.removeprefix('-') if float(shown) == 0 else shown} %"


def signed_percent(share: float) -> str:
    """A gain with its sign, to a tenth, so that neighbours in a list can be told apart: ``+12.3 %``."""
    return f"{100 * share + 0.0:+.1f} %".replace("-0.0", "+0.0")


def chance(odds: float | None) -> str:
    """Odds in percent, never rounded to certainty; a dash where there are none.

    Whole between 5 % and 95 %, where a tenth would feign knowledge; to a tenth beyond.
    """
    if odds is None:
        return "-"
    value = 100 * odds
    if value > 99.9:
        return "> 99.9 %"
    if value < 0.1:
        return "< 0.1 %"
    shown = f"{value:.0f}" if 5 <= value < 95 else f"{value:.1f}"
    return f"{shown} %"


def asked(odds: float) -> str:
    """Odds that were asked for, in percent as they were given: ``99.99 %``, and ``100 %`` for certainty."""
    return f"{100 * odds:.10g} %"


def plain(value: float | None, decimals: int = 2) -> str:
    """A number without trailing zeros; ``unknown`` where there is none."""
    if value is None:
        return "unknown"
    shown = f"{value:.{decimals}f}"
    shown = shown.rstrip("0").rstrip(".") if "." in shown else shown
    return "0" if shown == "-0" else shown


def measured(value: float | None, unit: str, decimals: int = 2) -> str:
    """A number with its unit; counts and ratios go without."""
    shown = plain(value, decimals)
    if value is None or unit in {"count", "ratio"}:
        return shown
    if shown == "1" and unit in _SEVERAL:
        unit = unit.removesuffix("s")
    return f"{shown} {'%' if unit == 'percent' else unit}"


def several(count: int, one: str, many: str = "") -> str:
    """A count with its noun: ``1 change``, ``2 changes``."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def listed(items: Sequence[str], word: str = "and") -> str:
    """``a, b and c``."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {word} {items[-1]}"
