"""How many trials different ways of tuning need, on simulated machines.

Each simulated machine has true part factors that the planner does not know, drawn from the catalogue's
spreads, or from spreads half as wide again (the catalogue being wrong).  A trial passes with the true
probability of surviving the soak; a failure shows a symptom and comes after a time that the true failure
rates give.  A strategy has arrived when settings that passed, and truly survive the soak with 0.95, bring
95 % of what an oracle gets, which knows the factors and takes the fastest such settings.  Luck with unsound
settings is no arrival, for any strategy.

    python benchmarks/trial_study.py                    # 300 machines on each of three machines: hours
    python benchmarks/trial_study.py --machines 40 --draws 512
    python benchmarks/trial_study.py --smoke            # 20 machines, a minute or two
    python benchmarks/trial_study.py --keep study.jsonl # may be stopped, and goes on where it was
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from fractions import Fraction
from functools import cache
from pathlib import Path
from statistics import mean, median

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # --jobs decides; must be told before numpy starts

import numpy as np

from waitwright.api.opening import Question, find_workload, put_on_bench
from waitwright.belief.cloud import Cloud, cloud_at
from waitwright.belief.faults import faults_of, latents_with_faults, presence_name
from waitwright.belief.latents import Latents
from waitwright.belief.outlook import Outlook
from waitwright.belief.strikes import Cause, Strikes
from waitwright.expr import evaluate
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import SYMPTOMS, Measurement, Readings, Suspect, Symptom
from waitwright.rulebook.profiles import Proven
from waitwright.timing.bind import BoundRules
from waitwright.trials.ground import Ground
from waitwright.trials.logbook import Logbook, Outcome, Reading, add, add_aside
from waitwright.trials.lookahead import SOUND
from waitwright.trials.measuring import information
from waitwright.trials.planner import FAULT_STOPS, Mode, Plan
from waitwright.trials.second_look import DOUBT, plan_next
from waitwright.trials.shortlist import Shortlist
from waitwright.trials.standing import Standing, standing
from waitwright.trials.suspicion import best_measurement, chance_at_work
from waitwright.units import Exact, to_base
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import EventTable, event_tables

ARRIVED = 0.95
"""Share of the oracle's gain at which a strategy has arrived."""

MOST_TRIALS = 30
SOAK_H = 4.0
WIDE = 1.5
STEPWISE_LIMIT = 200
"""Trials after which tuning one option at a time is given up."""

MOST_FAILURES = 4
_FEWEST_BITS = 0.01
_ELEMENTS = 8
_DAY = datetime(2000, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Subject:
    """A machine to study, and what it is to be fast at."""

    name: str
    workload: str | None = None


SUBJECTS = (
    Subject("tollgate-386dx33"),
    Subject("tollgate-486dx2"),
    Subject("wharf-386sx16"),
)


@dataclass(frozen=True)
class Shop:
    """Everything about a subject that does not depend on the true factors."""

    ground: Ground
    events: tuple[EventTable, ...]
    shortlist: Shortlist
    latents: Latents
    pricer: Pricer
    baseline: int

    @property
    def machine(self) -> Machine:
        """The machine at its starting settings."""
        return self.ground.machine

    @property
    def rules(self) -> BoundRules:
        """The rules that apply to it."""
        return self.ground.rules

    def gain(self, settings: Settings) -> float:
        """Speed of *settings* over the starting ones minus one."""
        return gain(self.baseline, self.pricer.total(settings))


@cache
def shop(number: int, *, proven: bool) -> Shop:
    """Subject *number*; without what its profile says of its settings where that is not *proven*."""
    subject = SUBJECTS[number]
    bench = put_on_bench(Question(subject.name))
    machine = bench.machine
    known = Proven(hours=100) if proven else None
    machine = replace(machine, profile=replace(machine.profile, proven=known))
    events = event_tables(machine, find_workload(machine.rulebook, subject.workload))
    pricer = Pricer(machine, events)
    ground = Ground(machine, bench.rules)
    return Shop(
        ground,
        tuple(events),
        Shortlist(ground, events, hours=SOAK_H),
        latents_with_faults(machine),
        pricer,
        pricer.total(machine.current),
    )


class World:
    """One simulated machine: its true factors, and at most one fault."""

    def __init__(self, place: Shop, z: np.ndarray, faulty: Suspect | None = None) -> None:
        """Take the true *z* of every unknown; suspects other than *faulty* are absent."""
        for suspect in place.machine.rulebook.suspects.values():
            at = place.latents.index(presence_name(suspect.id))
            z[0, at] = -10.0 if suspect is faulty else 10.0
        self.shop = place
        self.truth: Cloud = cloud_at(place.latents, z, np.ones(1))
        self.faulty = faulty

    def causes(self, settings: Settings) -> tuple[Cause, ...]:
        """What may stop it under *settings*."""
        machine, latents = self.shop.machine, self.shop.latents
        return (
            *self.shop.ground.causes(machine, self.shop.rules, latents, settings),
            *faults_of(machine, latents, settings),
        )

    def rates(self, settings: Settings) -> np.ndarray:
        """True failures per hour of each cause."""
        rates: np.ndarray = np.exp(Strikes(self.causes(settings)).log_rates(self.truth))[:, 0]
        return rates

    def survival(self, settings: Settings) -> float:
        """True chance of passing a soak."""
        return float(np.exp(-SOAK_H * self.rates(settings).sum()))

    def arrived(self, settings: Settings, goal: float) -> bool:
        """Whether *settings* bring the *goal* and are truly sound."""
        return self.shop.gain(settings) >= goal and self.survival(settings) >= SOUND

    def oracle(self) -> Settings:
        """The fastest settings that truly survive the soak with 0.95."""
        tables = self.shop.ground.situations.survivals(self.truth, hours=SOAK_H)
        outlook = Outlook(self.shop.machine, self.truth, SOAK_H, tables)
        sound = [wish for wish in self.shop.shortlist.far(outlook) if outlook.odds(wish) >= SOUND]
        return max([dict(self.shop.machine.current), *sound], key=self.shop.gain)


def worlds(number: int, count: int, *, width: float, seed: int) -> Iterator[World]:
    """Simulated machines that run at their starting settings, as the owner says."""
    place = shop(number, proven=True)
    random = np.random.default_rng([seed, number, round(10 * width)])
    while count:
        world = World(place, width * random.standard_normal((1, len(place.latents.items))))
        if world.survival(dict(place.machine.current)) >= SOUND:
            count -= 1
            yield world


@dataclass(frozen=True)
class Run:
    """How one strategy fared on one machine.

    Attributes:
        reached: Trials until it had arrived; None if it never did.
        trials: How many it made.
        final: True chance that its last proven settings pass a soak.
        differing: Options that differ between the start and the oracle's settings.
    """

    reached: int | None
    trials: int
    final: float
    differing: int


class Bench:
    """Trials on one world, written down as an owner would."""

    def __init__(self, world: World, seed: Sequence[int]) -> None:
        self.world = world
        self.logbook = Logbook(world.shop.machine.name)
        self._random = np.random.default_rng(seed)

    def soak(self, settings: Settings, hours: float = SOAK_H) -> bool:
        """Run *settings* through the soak, note what happened, and tell whether they passed."""
        rates = self.world.rates(settings)
        whole = float(rates.sum())
        lasted = self._random.exponential(1 / whole) if whole > 0 else np.inf
        if lasted >= hours:
            self._note(settings, "stable", (), hours)
            return True
        cause = self.world.causes(settings)[self._random.choice(len(rates), p=rates / whole)]
        chances = np.array([cause.blame(symptom) for symptom in SYMPTOMS])
        symptom = SYMPTOMS[self._random.choice(len(SYMPTOMS), p=chances / chances.sum())]
        self._note(settings, "failed", (symptom,), lasted)
        return False

    def _note(
        self, settings: Settings, outcome: Outcome, symptoms: tuple[Symptom, ...], hours: float
    ) -> None:
        told = Fraction(max(1, round(60 * hours)), 60)  # owners look at the clock
        self.logbook = add(
            self.logbook, time=_DAY, settings=settings, outcome=outcome, symptoms=symptoms, hours=told
        )

    def measure(self, measurement: Measurement) -> None:
        """Take *measurement* at every place there is, as the fault (if any) colours one of them.

        The readings are noted by themselves, after the trial before.
        """
        faulty = self.world.faulty is not None and measurement.id in self.world.faulty.measurements
        bad = int(self._random.integers(measurement.places)) if faulty else None
        readings = [
            Reading(
                measurement.id, self._values(measurement, faulty=place == bad), measurement.unit, str(place)
            )
            for place in range(measurement.places)
        ]
        self.logbook = add_aside(self.logbook, time=_DAY, readings=readings)

    def _values(self, measurement: Measurement, *, faulty: bool) -> tuple[Exact, ...]:
        """What a meter shows, in base units."""
        if measurement.kind == "list":  # elements of 10 kohm, one of which may be at fault
            ratios = [self._drawn(measurement.healthy) for _ in range(_ELEMENTS)]
            if faulty:
                ratios[0] *= self._drawn(measurement.faulty)
            return tuple(to_base(round(10 * ratio, 2), measurement.unit) for ratio in map(_exact, ratios))
        value = _exact(self._drawn(measurement.faulty if faulty else measurement.healthy))
        if measurement.kind == "answer":
            return (int(value),)
        if measurement.relative_to is not None:
            facts = FactTable(self.world.shop.machine, self.logbook.trials[-1].settings)
            expected = evaluate(measurement.relative_to, facts)
            return (value * expected,) if isinstance(expected, int | Fraction) else (value,)
        return (to_base(value, measurement.unit),)

    def _drawn(self, readings: Readings) -> float:
        if readings.shape == "chance":
            return float(self._random.random() < readings.centre)
        if readings.shape == "normal":
            return float(self._random.normal(readings.centre, readings.sigma))
        if readings.shape == "twosided":
            side = 1 if self._random.random() < 0.5 else -1
            return 1 + side * (float(self._random.normal(readings.centre, readings.sigma)) - 1)
        return float(readings.centre * np.exp(self._random.normal(0.0, readings.sigma)))

    def standing(self, draws: int, spread: float = 1.0) -> Standing:
        """Belief after everything so far."""
        return standing(self.world.shop.ground, self.logbook, hours=SOAK_H, draws=draws, spread=spread)

    def plan(self, belief: Standing, draws: int, mode: Mode = "jump") -> Plan:
        """What to do next by *belief*."""
        place = self.world.shop
        return plan_next(belief, place.shortlist, place.events, lambda: self.standing(draws, DOUBT), mode)


def _exact(number: float) -> Fraction:
    """*number* to six places: more than a meter shows."""
    return Fraction(round(number * 10**6), 10**6)


def planned(world: World, mode: Mode, draws: int, seed: Sequence[int]) -> Run:
    """Follow ``next`` until it stops by itself."""
    place, bench = world.shop, Bench(world, seed)
    oracle = world.oracle()
    goal = ARRIVED * place.gain(oracle)
    reached: int | None = None
    for trials in range(MOST_TRIALS + 1):
        belief = bench.standing(draws)
        plan = bench.plan(belief, draws, mode)
        passed = (dict(one.settings) for one in belief.tried if one.passed)
        if reached is None and any(world.arrived(settings, goal) for settings in passed):
            reached = trials
        if plan.trial is None or trials == MOST_TRIALS:
            return Run(reached, trials, world.survival(plan.proven.settings), _differing(place, oracle))
        bench.soak(plan.trial.settings, plan.trial.hours)
    raise AssertionError("the loop returns")


def stepwise(world: World, order: Sequence[OptionId], seed: Sequence[int]) -> Run:
    """One option after the other, a choice faster at a time until that fails; again until nothing moves."""
    place, bench = world.shop, Bench(world, seed)
    oracle = world.oracle()
    goal = ARRIVED * place.gain(oracle)
    settings = dict(place.machine.current)
    reached = 0 if world.arrived(settings, goal) else None
    trials, moved = 0, True
    failed: set[tuple[tuple[OptionId, ChoiceId], ...]] = set()
    while moved and trials < STEPWISE_LIMIT:
        moved = False
        for option in order:
            for faster in _faster(place, settings, option):
                if tuple(faster.items()) in failed or trials == STEPWISE_LIMIT:
                    break
                trials += 1
                if not bench.soak(faster):
                    failed.add(tuple(faster.items()))
                    break
                settings, moved = faster, True
                if reached is None and world.arrived(settings, goal):
                    reached = trials
    return Run(reached, trials, world.survival(settings), _differing(place, oracle))


def _faster(place: Shop, settings: Settings, option: OptionId) -> Iterator[Settings]:
    """Settings with only *option* changed, each faster than the one before, the smallest step first."""
    choices = place.machine.option(option).choices
    steps = [
        (place.pricer.step(settings, option, choice.id), {**settings, option: choice.id})
        for choice in choices
    ]
    for step, wish in sorted(steps, key=lambda pair: -pair[0]):
        if step < 0 and place.shortlist.legal(wish):
            yield wish


def _differing(place: Shop, oracle: Settings) -> int:
    return sum(place.machine.current[option] != choice for option, choice in oracle.items())


@dataclass(frozen=True)
class Hunt:
    """How a hunt for one fault went.

    Attributes:
        found: Whether the true cause came first.
        failures: Failed trials it took; measurements beside.
    """

    found: bool
    failures: int
    measurements: int


def hunt(world: World, draws: int, seed: Sequence[int]) -> Hunt:
    """Trials as ``next`` offers them until it asks for measurements, then these as ``suspect`` suggests."""
    place, bench = world.shop, Bench(world, seed)
    known = place.machine.rulebook.measurements
    failures = 0
    done: list[str] = []
    for _ in range(MOST_TRIALS):
        belief = bench.standing(draws)
        plan = None
        if not (failures and belief.any_fault() > FAULT_STOPS):
            plan = bench.plan(belief, draws)
        if failures and (plan is None or plan.trial is None):
            best = best_measurement(belief, known, done)
            if best is None or information(best, chance_at_work(belief, best)) < _FEWEST_BITS:
                break
            bench.measure(best)
            done.append(best.id)
        elif plan is None or plan.trial is None or failures == MOST_FAILURES:
            break
        else:
            failures += not bench.soak(plan.trial.settings, plan.trial.hours)
    chances = bench.standing(draws).suspicion()
    first = max(chances, key=lambda name: chances[name])
    return Hunt(world.faulty is not None and first == world.faulty.id, failures, len(done))


def faulty_worlds(number: int, count: int, *, seed: int) -> Iterator[World]:
    """Simulated machines with one fault each, drawn by the suspects' priors."""
    place = shop(number, proven=False)
    random = np.random.default_rng([seed, number, 99])
    facts = FactTable(place.machine, place.machine.current)
    suspects = [
        one
        for one in place.machine.rulebook.suspects.values()
        if not (one.only_with and not place.machine.members.get(one.only_with))
        and (one.when is None or facts.value(one.when) is True)
    ]
    priors = np.array([one.prior for one in suspects])
    for _ in range(count):
        suspect = suspects[random.choice(len(suspects), p=priors / priors.sum())]
        yield World(place, random.standard_normal((1, len(place.latents.items))), suspect)


# ------------------------------------------------------------------------------------ the study


@dataclass(frozen=True)
class Lot:
    """One machine's worth of work: which subject, which machine of it."""

    subject: int
    first: int
    count: int
    draws: int
    seed: int
    strategies: tuple[str, ...]


def work(lot: Lot) -> list[tuple[str, Run | Hunt]]:
    """All strategies on the machines of *lot*."""
    found: list[tuple[str, Run | Hunt]] = []
    seed = [lot.seed, lot.subject, lot.first]
    for width, suffix in ((1.0, ""), (WIDE, ", wide")):
        chosen = [
            name for name in lot.strategies if name in RUNNERS and name.endswith(", wide") == bool(suffix)
        ]
        if chosen:
            for world in worlds(lot.subject, lot.count, width=width, seed=lot.seed + 1000 * lot.first):
                found += [(name, RUNNERS[name](world, lot.draws, seed)) for name in chosen]
    if "fault" in lot.strategies:
        found += [
            ("fault", hunt(world, lot.draws, seed))
            for world in faulty_worlds(lot.subject, lot.count, seed=lot.seed + 1000 * lot.first)
        ]
    return found


def by_hand(machine: Machine) -> list[OptionId]:
    """Options in the setup screen's order, but for those that hand the timing over to the board."""
    automatic = " ".join(mode.when.text for mode in machine.board.automatics).split()
    return [option.id for option in machine.options if not set(option.parameters) & set(automatic)]


def _in_setup_order(world: World, _draws: int, seed: Sequence[int]) -> Run:
    return stepwise(world, by_hand(world.shop.machine), seed)


def _in_random_order(world: World, _draws: int, seed: Sequence[int]) -> Run:
    options = by_hand(world.shop.machine)
    order = np.random.default_rng([*seed, 7]).permutation(len(options))
    return stepwise(world, [options[place] for place in order], seed)


def _jumping(world: World, draws: int, seed: Sequence[int]) -> Run:
    return planned(world, "jump", draws, seed)


def _single(world: World, draws: int, seed: Sequence[int]) -> Run:
    return planned(world, "single", draws, seed)


RUNNERS: dict[str, Callable[[World, int, Sequence[int]], Run]] = {
    "setup order": _in_setup_order,
    "random order": _in_random_order,
    "next --single": _single,
    "next": _jumping,
    "next, wide": _jumping,
}
STRATEGIES = (*RUNNERS, "fault")


def report(results: Sequence[tuple[int, str, Run | Hunt]]) -> Iterator[str]:
    """The tables, line by line."""
    for number, subject in enumerate(SUBJECTS):
        yield f"\n{subject.name} {subject.workload or ''}".rstrip()
        yield "strategy            n  median    mean   90 %   in 30   made   sound"
        for name in RUNNERS:
            runs = [
                one for at, what, one in results if at == number and what == name and isinstance(one, Run)
            ]
            if runs:
                yield _line(name, runs)
                if name == "next --single":
                    ratios = [run.reached / run.differing for run in runs if run.reached and run.differing]
                    yield f"{'':<16}trials over differing options: mean {mean(ratios):.2f}" if ratios else ""
        hunts = [one for at, _, one in results if at == number and isinstance(one, Hunt)]
        if hunts:
            share = mean(hunt.found for hunt in hunts)
            failures, readings = mean(h.failures for h in hunts), mean(h.measurements for h in hunts)
            yield (
                f"{'fault':<16}{len(hunts):>5}  true cause first in {100 * share:.0f} %, "
                f"after {failures:.1f} failed trials and {readings:.1f} measurements"
            )


def _line(name: str, runs: Sequence[Run]) -> str:
    """Trials to arrive; who never does counts with all the trials it made, or 31 if these are fewer."""
    needed = [run.reached if run.reached is not None else max(run.trials, MOST_TRIALS + 1) for run in runs]
    within = mean(count <= MOST_TRIALS for count in needed)
    sound = mean(run.final >= SOUND for run in runs)
    return (
        f"{name:<16}{len(runs):>5}{median(needed):>8.1f}{mean(needed):>8.2f}{np.quantile(needed, 0.9):>7.1f}"
        f"{100 * within:>6.0f} %{mean(run.trials for run in runs):>7.1f}{100 * sound:>6.1f} %"
    )


def _name(lot: Lot) -> str:
    """What tells one lot from another."""
    return f"{SUBJECTS[lot.subject]} {lot}"


def _read(path: Path | None) -> dict[str, list[tuple[int, str, Run | Hunt]]]:
    """The results kept from before, by lot."""
    kinds: dict[str, type[Run | Hunt]] = {"Run": Run, "Hunt": Hunt}
    lines = path.read_text().splitlines() if path is not None and path.exists() else []
    return {
        name: [(subject, what, kinds[kind](**told)) for what, kind, told in found]
        for name, subject, found in map(json.loads, lines)
    }


def main() -> int:
    """Run the study as the command line asks."""
    parser = argparse.ArgumentParser(description="How many trials different ways of tuning need.")
    parser.add_argument("--machines", type=int, default=300, help="simulated machines for each subject")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--draws", type=int, default=1024, help="draws of the planner's cloud")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--subject", type=int, action="append", choices=range(len(SUBJECTS)))
    parser.add_argument("--strategy", action="append", choices=STRATEGIES, help="only these")
    parser.add_argument("--smoke", action="store_true", help="20 machines of each subject, few draws")
    parser.add_argument("--keep", type=Path, help="file of results: what it has is not run again")
    asked = parser.parse_args()
    machines, draws = (20, 256) if asked.smoke else (asked.machines, asked.draws)
    size = 5
    lots = [
        Lot(
            subject,
            first,
            min(size, machines - first),
            draws,
            asked.seed,
            tuple(asked.strategy or STRATEGIES),
        )
        for first in range(0, machines, size)
        for subject in asked.subject or range(len(SUBJECTS))
    ]
    kept = _read(asked.keep)
    left = [lot for lot in lots if _name(lot) not in kept]
    with ProcessPoolExecutor(asked.jobs) as pool:
        for done, (lot, found) in enumerate(zip(left, pool.map(work, left), strict=True), start=1):
            kept[_name(lot)] = [(lot.subject, name, run) for name, run in found]
            if asked.keep is not None:
                with asked.keep.open("a") as file:
                    told = [(name, type(run).__name__, asdict(run)) for name, run in found]
                    file.write(json.dumps([_name(lot), lot.subject, told]) + "\n")
            print(f"\r{done} of {len(left)} lots", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    wanted = set(map(_name, lots))
    results = [one for name, found in kept.items() if name in wanted for one in found]
    for line in report(results):
        print(line)
    return 0


if __name__ == "__main__":
    sys.exit(main())
