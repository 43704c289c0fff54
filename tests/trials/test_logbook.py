"""The logbook as an object: trials added and withdrawn, offers, machines that have changed since."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone, tzinfo
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings

from waitwright.errors import UsageError
from waitwright.ids import ChoiceId, OptionId
from waitwright.rulebook.profiles import ChoiceDef, OptionDef
from waitwright.trials.logbook import (
    Aside,
    Logbook,
    Reading,
    Trial,
    add,
    add_aside,
    call_off,
    misfits,
    offer,
    warnings,
    withdraw,
)

from .logbooks import NOON, choices, logbooks, with_trials

FAST = choices(clock="40", read="2")
SLOW = choices(clock="33", read="3")


def test_a_trial_is_added_at_the_end() -> None:
    """A trial gets the next number and keeps all that was told; the logbook before it does not change."""
    first = add(Logbook("bench"), time=NOON, settings=SLOW, outcome="stable", hours=12)

    second = add(first, time=NOON, settings=FAST, outcome="failed", symptoms=("hang", "reboot", "hang"))

    assert first.trials == (Trial(1, NOON, SLOW, "stable", hours=12),)
    assert second.trials[1:] == (Trial(2, NOON, FAST, "failed", ("hang", "reboot")),)
    assert second.next_number == 3


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"symptoms": ("hang",)}, "a stable trial shows no symptoms"),
        ({"hours": 0}, "a trial of no time at all cannot be stable"),
    ],
)
def test_a_contradiction_is_refused(more: dict[str, Any], message: str) -> None:
    """A stable trial with symptoms, or of no length, is refused."""
    with pytest.raises(UsageError, match=message):
        add(Logbook("bench"), time=NOON, settings=SLOW, outcome="stable", **more)


def test_a_failure_may_be_at_once_and_without_symptom() -> None:
    """A machine that fails in no time, in a way that nobody saw, is a proper trial."""
    logbook = add(Logbook("bench"), time=NOON, settings=FAST, outcome="failed", hours=0)

    assert logbook.standing[0].contradiction is None


def test_times_need_an_offset() -> None:
    """A time that does not tell its offset from UTC is a mistake of the caller."""
    with pytest.raises(ValueError, match="offset"):
        add(Logbook("bench"), time=NOON.replace(tzinfo=None), settings=SLOW, outcome="stable")


class _Autumn(tzinfo):
    """A zone in the night when its clocks go back: the same local hour twice."""

    def utcoffset(self, when: datetime | None) -> timedelta:
        return timedelta(hours=1 if when is not None and when.fold else 2)

    def dst(self, when: datetime | None) -> timedelta:
        return timedelta(0)

    def tzname(self, when: datetime | None) -> str:
        return "autumn"


def test_times_are_kept_to_the_second_with_a_fixed_offset() -> None:
    """A time in a zone with rules becomes one that equals what a file gives back, even in a doubled hour."""
    twice = datetime(2026, 10, 25, 2, 30, 15, 999, tzinfo=_Autumn(), fold=1)

    logbook = add(Logbook("bench"), time=twice, settings=SLOW, outcome="stable")

    time = logbook.trials[0].time
    assert time == datetime(2026, 10, 25, 2, 30, 15, tzinfo=timezone(timedelta(hours=1)))
    assert time.isoformat() == "2026-10-25T02:30:15+01:00"


def test_line_ends_of_notes_become_plain() -> None:
    """Notes from any system are kept with one kind of line end."""
    assert with_trials("one\r\ntwo\rthree\n").trials[0].note == "one\ntwo\nthree\n"


def test_undo_marks_only() -> None:
    """Withdrawing marks the last trial that stands, changes nothing else, and steps back when repeated."""
    logbook = with_trials("a", "b", "c")

    once = withdraw(logbook)
    twice = withdraw(once)

    assert once.trials == (*logbook.trials[:2], replace(logbook.trials[2], withdrawn=True))
    assert [trial.note for trial in once.standing] == ["a", "b"]
    assert [trial.withdrawn for trial in twice.trials] == [False, True, True]
    assert once.next_number == twice.next_number == 4
    with pytest.raises(UsageError, match="no trial to withdraw"):
        withdraw(withdraw(twice))


@settings(max_examples=30)
@given(logbooks())
def test_undo_keeps_everything(logbook: Logbook) -> None:
    """Of any logbook, withdrawing loses no entry and takes exactly the last that counts out of account."""
    if not logbook.counting:
        return
    after = withdraw(logbook)

    assert [replace(entry, withdrawn=False) for entry in after.entries] == [
        replace(entry, withdrawn=False) for entry in logbook.entries
    ]
    assert after.counting == logbook.counting[:-1]
    assert after.offer == logbook.offer


def test_what_came_between_trials_is_no_trial() -> None:
    """A reading, a repair or a note by itself counts on in the numbers, and answers no offer."""
    offered = offer(with_trials("before"), time=NOON, settings=FAST, mode="jump")
    reading = Reading("ripple", (Fraction(3, 10),), "V")
    noted = add_aside(offered, time=NOON, readings=[reading])
    mended = add_aside(noted, time=NOON, repaired=["supply", "supply"], note="new\r\ncapacitors")

    assert [entry.number for entry in mended.entries] == [1, 2, 3]
    assert [trial.number for trial in mended.trials] == [1] and mended.standing == mended.trials
    assert mended.entries[1:] == (
        Aside(2, NOON, readings=(reading,)),
        Aside(3, NOON, repaired=("supply",), note="new\ncapacitors"),
    )
    assert mended.pending == offered.offer
    assert mended.next_number == 4


def test_a_repair_between_trials_counts_from_there_on() -> None:
    """What is mended between two trials was mended for the second and not for the first."""
    logbook = add_aside(with_trials("before"), time=NOON, repaired=["supply"])
    logbook = add(logbook, time=NOON, settings=FAST, outcome="stable")

    assert [logbook.repairs(number) for number in (1, 2, 3)] == [{}, {"supply": 1}, {"supply": 1}]
    assert withdraw(withdraw(logbook)).repairs() == {}


def test_an_aside_says_something() -> None:
    """Without a reading, a repair or a note there is nothing to keep."""
    with pytest.raises(UsageError, match="a reading, a repair or a note"):
        add_aside(Logbook("bench"), time=NOON, settings=SLOW)


def test_an_offer_is_called_off() -> None:
    """An offer that waits goes; one that was answered stays, so that an undo makes it wait again."""
    offered = offer(Logbook("bench"), time=NOON, settings=FAST, mode="single")
    answered = add(offered, time=NOON, settings=FAST, outcome="stable")

    assert call_off(offered) == Logbook("bench")
    assert call_off(answered) == answered


def test_an_offer_waits_for_its_outcome() -> None:
    """An offer is pending until a trial of just its settings stands; other trials leave it pending."""
    offered = offer(with_trials("before"), time=NOON, settings=FAST, mode="jump", reason="two at once")
    other = add(offered, time=NOON, settings=SLOW, outcome="stable")
    done = add(other, time=NOON, settings=FAST, outcome="failed", symptoms=("hang",))

    assert offered.offer is not None
    assert (offered.offer.number, offered.offer.mode, offered.offer.reason) == (2, "jump", "two at once")
    assert offered.pending == other.pending == offered.offer
    assert done.pending is None


def test_undo_makes_the_offer_wait_again() -> None:
    """A wrong outcome that is withdrawn can be recorded right without asking for the offer anew."""
    offered = offer(Logbook("bench"), time=NOON, settings=FAST, mode="single")
    wrong = add(offered, time=NOON, settings=FAST, outcome="stable")

    assert withdraw(wrong).pending == offered.offer


def test_what_was_tried_before_may_be_offered_again() -> None:
    """An offer to repeat an earlier trial is pending although that combination has been tried."""
    tried = add(Logbook("bench"), time=NOON, settings=FAST, outcome="stable")

    assert offer(tried, time=NOON, settings=FAST, mode="jump").pending is not None


def _option(name: str, *names: str) -> OptionDef:
    choices = tuple(ChoiceDef(ChoiceId(choice), choice, {}) for choice in names)
    return OptionDef(OptionId(name), name, "setup", "", choices)


OPTIONS = (_option("clock", "33", "40"), _option("read", "2", "3"))


def test_settings_of_the_machine_fit() -> None:
    """Settings that choose for every option of the machine give no warning."""
    assert misfits(FAST, OPTIONS) == ()


def test_settings_of_another_machine_are_told() -> None:
    """Options and choices that are gone, and options that came since, are told by name."""
    assert misfits(choices(clock="50", write="0"), OPTIONS) == (
        "the machine has no option 'write'",
        "option 'clock' has no choice '50'",
        "no choice is told for option 'read'",
    )


def test_trials_that_no_longer_fit_are_kept_and_told() -> None:
    """Each thing is told once with its trials; withdrawn trials and answered offers are of no interest."""
    logbook = Logbook("bench")
    for clock in ("50", "33", "50", "66"):
        logbook = add(logbook, time=NOON, settings=choices(clock=clock, read="2"), outcome="stable")
    logbook = offer(withdraw(logbook), time=NOON, settings=choices(clock="66", read="2"), mode="single")

    assert warnings(logbook, OPTIONS) == (
        "trials 1, 3: option 'clock' has no choice '50'; kept as it is, but not counted",
        "the trial on offer: option 'clock' has no choice '66'",
    )
    answered = add(logbook, time=NOON, settings=choices(clock="66", read="2"), outcome="stable")
    assert warnings(answered, OPTIONS)[1:] == (
        "trial 5: option 'clock' has no choice '66'; kept as it is, but not counted",
    )


def test_many_trials_are_told_in_short() -> None:
    """A warning about many trials names the first few and counts the others."""
    assert warnings(with_trials(*"abcdef"), OPTIONS) == (
        "trials 1, 2, 3, 4 and 2 more: no choice is told for option 'read'; kept as it is, but not counted",
    )
    assert warnings(with_trials(*"abcde"), OPTIONS)[0].startswith("trials 1, 2, 3, 4, 5: ")
