"""Logbooks to test with: one written out, and any."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone

from hypothesis import strategies as st

from waitwright.ids import ChoiceId, OptionId, PartId, SlotId
from waitwright.rulebook.domain import SYMPTOMS
from waitwright.rulebook.profiles import FitDef
from waitwright.schema.logbook import MAX_NOTE, MAX_UNIT, MAX_WHERE
from waitwright.trials.logbook import ANSWER, Aside, Choices, Logbook, Offer, Reading, Score, Trial, add
from waitwright.units import UNITS, to_base

NOON = datetime(2026, 2, 3, 12, 0, tzinfo=timezone(timedelta(hours=1)))


def choices(**named: str) -> Choices:
    """Settings by option, underscores standing for hyphens."""
    return {OptionId(name.replace("_", "-")): ChoiceId(choice) for name, choice in named.items()}


def with_trials(*notes: str) -> Logbook:
    """A logbook with one stable trial for each of *notes*."""
    logbook = Logbook("bench")
    for note in notes:
        logbook = add(logbook, time=NOON, settings=choices(clock="33"), outcome="stable", note=note)
    return logbook


def _texts(most: int) -> st.SearchStrategy[str]:
    return st.text(max_size=most).map(lambda text: text.replace("\r\n", "\n").replace("\r", "\n"))


IDS = st.from_regex(r"[a-z0-9][a-z0-9._+-]{0,20}", fullmatch=True)
SLUGS = st.from_regex(r"[a-z0-9][a-z0-9-]{0,20}", fullmatch=True)
TIMES = st.datetimes(
    timezones=st.integers(-1439, 1439).map(lambda minutes: timezone(timedelta(minutes=minutes)))
)
POSITIVE = st.integers(1, 10**9) | st.fractions(min_value=0, max_value=10**9, max_denominator=10**6).filter(
    lambda number: number > 0 and number.denominator > 1
)
SETTINGS = st.dictionaries(SLUGS.map(OptionId), IDS.map(ChoiceId), min_size=1, max_size=5)
SCORES = st.builds(Score, POSITIVE, st.text(min_size=1, max_size=MAX_UNIT), st.just("") | IDS)
READINGS = st.sampled_from(sorted(UNITS)).flatmap(
    lambda unit: st.builds(
        Reading,
        IDS,
        st.lists(POSITIVE.map(lambda number: to_base(number, unit)), min_size=1, max_size=8).map(tuple),
        st.just(unit),
        _texts(MAX_WHERE),
        st.none() | POSITIVE.map(lambda number: to_base(number, unit)),
    )
) | st.builds(Reading, IDS, st.sampled_from([(0,), (1,)]), st.just(ANSWER), _texts(MAX_WHERE))
FITS = st.builds(
    FitDef,
    IDS.map(PartId),
    st.integers(1, 64),
    st.none() | POSITIVE.map(lambda size: to_base(size, "MB")),
    st.none() | IDS.map(PartId),
)
PARTS = st.dictionaries(
    SLUGS.map(SlotId), st.lists(FITS, min_size=1, max_size=3).map(tuple), min_size=1, max_size=4
)
TRIALS = st.builds(
    Trial,
    number=st.just(0),
    time=TIMES,
    settings=SETTINGS,
    outcome=st.just("failed"),
    symptoms=st.lists(st.sampled_from(SYMPTOMS), max_size=4, unique=True).map(tuple),
    hours=st.none() | POSITIVE.filter(lambda hours: hours <= 100_000),
    scores=st.lists(SCORES, max_size=2).map(tuple),
    readings=st.lists(READINGS, max_size=2).map(tuple),
    repaired=st.lists(IDS, max_size=2, unique=True).map(tuple),
    note=_texts(MAX_NOTE),
    withdrawn=st.booleans(),
    parts=st.none() | PARTS,
) | st.builds(
    Trial,
    number=st.just(0),
    time=TIMES,
    settings=SETTINGS,
    outcome=st.just("stable"),
    hours=st.none() | st.integers(1, 100),
    note=_texts(MAX_NOTE),
)
ASIDES = st.builds(
    Aside,
    number=st.just(0),
    time=TIMES,
    settings=st.none() | SETTINGS,
    readings=st.lists(READINGS, max_size=2).map(tuple),
    repaired=st.lists(IDS, max_size=2, unique=True).map(tuple),
    note=_texts(MAX_NOTE),
    withdrawn=st.booleans(),
).filter(lambda aside: not aside.empty)
OFFERS = st.builds(
    Offer,
    st.integers(1, 10**9),
    TIMES,
    SETTINGS,
    st.sampled_from(["single", "jump"]),
    _texts(MAX_NOTE),
    st.none() | st.integers(1, 1000),
)


@st.composite
def logbooks(draw: st.DrawFn) -> Logbook:
    """Any logbook: notes with any signs, exact numbers, gaps between the numbers of entries."""
    number = 0
    entries = []
    for entry in draw(st.lists(TRIALS | ASIDES, max_size=4)):
        number += draw(st.integers(1, 3))
        entries.append(replace(entry, number=number))
    name = draw(st.text(min_size=1, max_size=30))
    return Logbook(name, tuple(entries), draw(st.none() | OFFERS))
