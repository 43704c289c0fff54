"""``rules``: list, show and validate the rulebook and its sources."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from waitwright.errors import UsageError
from waitwright.expr import render
from waitwright.nearest import hint_behind
from waitwright.report.bands import band_words, expectation
from waitwright.report.views import RulesView, RuleView
from waitwright.rulebook.domain import (
    Budget,
    Limit,
    LogicRule,
    Measurement,
    Part,
    Provenance,
    Rulebook,
    Suspect,
    Term,
)
from waitwright.rulebook.lint import lint
from waitwright.rulebook.load import load_rulebook
from waitwright.units import UNITS, words

KINDS = (
    "budget",
    "limit",
    "rule",
    "part",
    "fact",
    "parameter",
    "event",
    "workload",
    "suspect",
    "measurement",
    "caution",
    "marking",
)


def list_rules(rules: Path | None = None, kind: str | None = None) -> RulesView:
    """Every entry of the rulebook, or those of one *kind*.

    Raises:
        InputError: if the rules are faulty or there is no such kind.
    """
    if kind is not None and kind not in KINDS:
        raise UsageError(f"--kind {kind}: no such kind{hint_behind(kind, KINDS)}")
    found = tuple(view for view in _views(load_rulebook(rules)) if kind in {None, view.kind})
    return RulesView(found)


def show_rule(name: str, rules: Path | None = None) -> RulesView:
    """The entries called *name*, in full.

    Raises:
        InputError: if the rules are faulty or nothing is called that.
    """
    views = tuple(_views(load_rulebook(rules)))
    found = tuple(view for view in views if view.id == name)
    if not found:
        hint = hint_behind(name, (view.id for view in views))
        raise UsageError(f"{name}: no rule, part or figure of that name{hint}")
    return RulesView(found)


def validate_rules(rules: Path | None = None) -> RulesView:
    """The rulebook with what a careful reader would remark on it; errors are raised.

    Raises:
        FileProblems: with every error of every file.
    """
    book = load_rulebook(rules)
    return RulesView(tuple(_views(book)), tuple(str(finding) for finding in lint(book)))


def _views(book: Rulebook) -> Iterable[RuleView]:
    said = dictionary(book)
    for budget in book.budgets.values():
        yield _rule_view(budget, "budget", _budget_lines(budget, said), budget.provenance)
    for limit in book.limits.values():
        sides = f"{render(limit.quantity, said)} {limit.sense} {render(limit.rating, said)}"
        yield _rule_view(limit, "limit", (*_when(limit, said), sides, *_advice(limit)), limit.provenance)
    for rule in book.logic.values():
        lines = (*_when(rule, said), f"requires {render(rule.require, said)}", *_advice(rule))
        yield _rule_view(rule, "rule", lines, rule.provenance)
    for part in book.parts.values():
        yield _part_view(part)
    for fact in book.facts.values():
        origin = fact.provenance
        line = f"{fact.title} = {render(fact.expression, said)}"
        yield RuleView(fact.name, "fact", fact.title, origin.source, origin.basis, (line,))
    for parameter in book.parameters.values():
        default = () if parameter.default is None else (f"unless set: {render(parameter.default, said)}",)
        yield RuleView(parameter.name, "parameter", parameter.title, "set by options", "", default)
    for event in book.events.values():
        origin = event.provenance
        lines = (f"happens {render(event.rate, said)} times", f"takes {render(event.time, said)}")
        yield RuleView(event.id, "event", event.title, origin.source, origin.basis, lines)
    for workload in book.workloads.values():
        lines = tuple(
            f"{book.traits[name].title}: {_shown(value.value, value.unit)} ({value.provenance.source})"
            for name, value in workload.traits.items()
        )
        yield RuleView(workload.id, "workload", workload.title, workload.note, "", lines)
    for suspect in book.suspects.values():
        origin = suspect.provenance
        yield RuleView(
            suspect.id, "suspect", suspect.title, origin.source, origin.basis, _suspect_lines(suspect, said)
        )
    for measurement in book.measurements.values():
        origin = measurement.provenance
        yield RuleView(
            measurement.id,
            "measurement",
            measurement.title,
            origin.source,
            origin.basis,
            _measurement_lines(measurement, said),
        )
    for caution in book.cautions.values():
        yield RuleView(caution.id, "caution", caution.text, "", "", caution.commands)
    yield from _markings(book)


def _markings(book: Rulebook) -> Iterable[RuleView]:
    """What ``new`` reads parts by."""
    found = book.markings
    for code in found.codes.values():
        means = {digits: [words(time, "ns") for time in times] for digits, times in code.means.items()}
        lines = [f"-{digits} means {' or '.join(times)}" for digits, times in means.items()]
        yield _marking(code.id, code.title, lines, code.provenance)
    for chip in found.chips.values():
        lines = [f"numbers with {', '.join(chip.numbers)}", f"speed by {chip.code}", *chip.families]
        yield _marking(chip.id, f"{chip.kind} chips of {chip.organisation}", lines, chip.provenance)
    for module in found.modules.values():
        title = f"{module.pins}-pin modules of {words(module.size, 'MB')}"
        lines = [f"{' or '.join(map(str, module.chips))} chips", f"refresh class {module.refresh}"]
        yield _marking(module.id, title, lines, module.provenance)
    for spoken in found.spoken:
        lines = [*spoken.families] or [f"{spoken.row}: {' or '.join(spoken.values)}"]
        yield _marking(spoken.id, f"{spoken.kind}: {', '.join(spoken.words)}", lines, spoken.provenance)


def _marking(name: str, title: str, lines: Iterable[str], origin: Provenance) -> RuleView:
    return RuleView(name, "marking", title, origin.source, origin.basis, tuple(lines))


def dictionary(book: Rulebook) -> dict[str, str]:
    """Facts of *book* in words, for rendering expressions."""
    said = {name: fact.title for name, fact in book.facts.items()}
    said |= {name: parameter.title for name, parameter in book.parameters.items()}
    said |= {name: counted.title for name, counted in book.counted.items()}
    said |= {f"work.{name}": trait.title for name, trait in book.traits.items()}
    for role in book.roles.values():
        said[f"{role.name}.present"] = f"{role.title} fitted"
        for (kind, name), row in book.rows.items():
            if kind == role.kind:
                for suffix in ("", "_max", "_min", "_typ"):
                    said[f"{role.name}.{name}{suffix}"] = f"{role.title}: {row.title}"
    return said


def _rule_view(
    rule: Budget | Limit | LogicRule, kind: str, lines: Iterable[str], origin: Provenance
) -> RuleView:
    return RuleView(rule.id, kind, rule.title, origin.source, origin.basis, tuple(lines))


def _budget_lines(budget: Budget, said: dict[str, str]) -> Iterable[str]:
    yield from _when(budget, said)
    yield from (_term_line("has", term, said) for term in budget.available)
    yield from (_term_line("spends", term, said) for term in budget.spend)
    yield from _advice(budget)


def _term_line(verb: str, term: Term, said: dict[str, str]) -> str:
    condition = f", if {render(term.when, said)}" if term.when is not None else ""
    return f"{verb} {term.name}: {render(term.time, said)}{condition}"


def _suspect_lines(suspect: Suspect, said: dict[str, str]) -> tuple[str, ...]:
    shares = ", ".join(f"{name} {100 * share:.0f} %" for name, share in suspect.symptoms.items())
    harmless = () if suspect.when is None else (f"does harm if {render(suspect.when, said)}",)
    return (
        suspect.signs,
        *harmless,
        f"found in {100 * suspect.prior:g} % of machines; fails {render(suspect.rate, said)} times an hour",
        f"looks like: {shares}",
        f"tested by: {', '.join(suspect.measurements)}",
        f"remedy: {suspect.remedy}",
    )


def _measurement_lines(measurement: Measurement, said: dict[str, str]) -> tuple[str, ...]:
    held_against = filter(None, [expectation(measurement, said)])
    bands = (band_words(measurement, band) for band in measurement.bands)
    return (f"about {measurement.minutes:g} minutes", measurement.how, *held_against, *bands)


def _when(rule: Budget | Limit | LogicRule, said: dict[str, str]) -> tuple[str, ...]:
    return () if rule.when is None else (f"applies if {render(rule.when, said)}",)


def _advice(rule: Budget | Limit | LogicRule) -> tuple[str, ...]:
    lines = (f"advice: {rule.advice}",) if rule.advice else ()
    if rule.symptoms:
        lines = (*lines, "looks like: " + ", ".join(rule.symptoms))
    return lines


def _part_view(part: Part) -> RuleView:
    """A part with its data-sheet values; sources are told where they differ from that of the first value."""
    first = next(iter(part.values.values()), None)
    origin = first.provenance if first is not None else Provenance("", "practice")
    lines = [
        f"{name}: {_shown(value.value, value.unit)}{_elsewhere(value.provenance, origin)}"
        for name, value in part.values.items()
    ]
    for kind, spread in (("delays", part.delay), ("ratings", part.ability)):
        if spread is not None:
            lines.append(
                f"true {kind}, of what the sheet says: {spread.ratio:g} times as a rule, "
                f"spread {spread.sigma:g}{_elsewhere(spread.provenance, origin)}"
            )
    if part.note:
        lines.append(f"note: {part.note}")
    return RuleView(part.id, "part", part.title, origin.source, origin.basis, tuple(lines))


def _elsewhere(source: Provenance, usual: Provenance) -> str:
    return "" if source == usual else f" ({source.basis}: {source.source})"


def _shown(value: object, unit: str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) or unit not in UNITS:
        return str(value)
    return words(value, unit)  # type: ignore[arg-type]
