"""The pieces of the page on their own: the cache of answers, the evidence, the door, news, files, words."""

from __future__ import annotations

import asyncio
import json
import threading
import time
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from tests.page.clock import NOW

from waitwright.api.new import copy_packed
from waitwright.api.next_trial import next_trial
from waitwright.api.opening import Question
from waitwright.api.record import Report, record
from waitwright.errors import UsageError
from waitwright.page import live
from waitwright.page.answers import Abandoned, Answers, Ask, Told
from waitwright.page.assets import assets, versioned
from waitwright.page.desk import Desk, Waiting
from waitwright.page.door import Door, new_key
from waitwright.page.evidence import Evidence
from waitwright.page.live import news
from waitwright.page.render import link
from waitwright.page.words import hours, symptom, when
from waitwright.rulebook.domain import SYMPTOMS

# ------------------------------------------------------------------------------------- answers


def test_a_question_is_answered_once() -> None:
    """The same question on the same evidence is worked out once, also while it is being worked out."""
    done: list[int] = []

    async def story() -> None:
        answers = Answers()

        def work(told: Told) -> int:
            done.append(1)
            return len(done)

        ask = Ask("sum", work)
        first, second = answers.job(ask, "a"), answers.job(ask, "a")
        assert first is second
        assert await first.future == 1
        assert await answers.job(ask, "a").future == 1
        assert await answers.job(ask, "b").future == 2

    asyncio.run(story())


def test_a_failure_is_told_and_not_kept() -> None:
    """Whoever waits is told why there is no answer; the next one who asks may be luckier."""
    tries: list[int] = []

    def work(told: Told) -> str:
        tries.append(1)
        if len(tries) == 1:
            raise UsageError("not now")
        return "well"

    async def story() -> None:
        answers, ask = Answers(), Ask("luck", work)
        with pytest.raises(UsageError, match="not now"):
            await answers.job(ask, "a").future
        await asyncio.sleep(0)
        assert await answers.job(ask, "a").future == "well"

    asyncio.run(story())


def test_new_evidence_ends_old_searches() -> None:
    """A search whose evidence has changed ends at its next step, and its answer is forgotten."""
    begun, ended = threading.Event(), threading.Event()

    def work(told: Told) -> None:
        try:
            for step in range(1000):
                told(step, 1000)
                begun.set()
                time.sleep(0.01)
        except Abandoned:
            ended.set()
            raise

    async def story() -> None:
        answers = Answers()
        job = answers.job(Ask("search", work, slow=True), "old")
        assert await asyncio.to_thread(begun.wait, 5)
        answers.renew("new")
        with pytest.raises(Abandoned):
            await job.future
        assert answers.by_id(job.id) is None

    asyncio.run(story())
    assert ended.wait(5)


def test_the_cache_is_bounded() -> None:
    """Of many answers those asked for last are kept."""

    async def story() -> None:
        answers, done = Answers(most=4), []

        def ask(number: int) -> Ask[None]:
            return Ask(number, lambda told: done.append(number))

        for number in range(10):
            await answers.job(ask(number), "a").future
        await answers.job(ask(9), "a").future
        await answers.job(ask(0), "a").future
        assert done == [*range(10), 0]

    asyncio.run(story())


def test_urgent_work_goes_first() -> None:
    """What somebody waits for is done before what is merely prepared."""
    order: list[str] = []

    async def story() -> None:
        answers, gate = Answers(), threading.Event()
        block = answers.job(Ask("block", lambda told: gate.wait(5)), "a")
        later = answers.job(Ask("later", lambda told: order.append("later")), "a", later=True)
        urgent = answers.job(Ask("urgent", lambda told: order.append("urgent")), "a")
        gate.set()
        await asyncio.gather(block.future, later.future, urgent.future)

    asyncio.run(story())
    assert order == ["urgent", "later"]


def test_a_slow_search_does_not_hold_up_a_quick_answer() -> None:
    """Searches run beside quick answers, and the event loop goes on throughout."""

    async def story() -> float:
        answers, gate = Answers(), threading.Event()
        slow = answers.job(Ask("slow", lambda told: gate.wait(20), slow=True), "a")
        started = time.monotonic()
        assert await answers.job(Ask("quick", lambda told: 1), "a").future == 1
        passed = time.monotonic() - started
        gate.set()
        await slow.future
        return passed

    assert asyncio.run(story()) < 10


# ------------------------------------------------------------------------------------ evidence


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A machine of one's own."""
    return copy_packed("tollgate-386dx33", tmp_path / "bench.toml")


def touch(path: Path) -> None:
    """Change a file without changing what it says."""
    path.write_text(path.read_text("utf-8") + "\n# touched\n", "utf-8")


def test_an_offer_is_no_evidence(own: Path) -> None:
    """Looking at the next trial notes it in the logbook and changes no answer; a record changes them."""
    question = Question(str(own))
    evidence = Evidence(question)
    before = evidence.read()
    assert not evidence.moved()

    next_trial(question, now=NOW)
    assert evidence.moved()
    assert evidence.read() == before

    record(question, Report("stable"), now=NOW)
    assert evidence.moved()
    assert evidence.read() != before


def test_profile_board_and_rules_are_evidence(own: Path, tmp_path: Path) -> None:
    """A change of the profile, of a board of one's own or of one's rules changes the stamp."""
    from waitwright._resources import packed_profile

    board = packed_profile("boards", "harrow-h346")
    assert board is not None
    (tmp_path / "mine.toml").write_text(board.read_text("utf-8"), "utf-8")
    own.write_text(own.read_text("utf-8").replace('board = "harrow-h346"', 'board = "mine.toml"'), "utf-8")
    rules = tmp_path / "rules"
    rules.mkdir()
    (rules / "a.toml").write_text("", "utf-8")
    evidence = Evidence(Question(str(own), rules=rules))
    stamps = [evidence.read()]
    for path in (own, tmp_path / "mine.toml", rules / "a.toml"):
        touch(path)
        assert evidence.moved(), path
        stamps.append(evidence.read())

    assert len(set(stamps)) == 4


def test_a_broken_logbook_is_evidence_too(own: Path) -> None:
    """A logbook that cannot be read raises nothing here; each answer tells what is wrong with it."""
    evidence = Evidence(Question(str(own)))
    before = evidence.read()
    own.with_name("bench.logbook.toml").write_text("schema = ", "utf-8")

    assert evidence.moved()
    assert evidence.read() != before


def test_an_answer_on_old_evidence_is_asked_anew(own: Path) -> None:
    """Where the evidence changes while a page waits for its answer, it gets one on the new evidence."""
    runs: list[int] = []

    async def story() -> int:
        desk, begun = Desk(Question(str(own))), threading.Event()

        def work(told: Told) -> int:
            runs.append(1)
            begun.set()
            for step in range(200 if len(runs) == 1 else 1):
                told(step, 200)
                time.sleep(0.01)
            return len(runs)

        answer = asyncio.create_task(desk.ask(Ask("slow", work, slow=True)))
        assert await asyncio.to_thread(begun.wait, 20)
        touch(own)
        await desk.fresh()
        found = await answer
        desk.close()
        return found

    assert asyncio.run(story()) == 2


def test_a_desk_that_has_to_wait_says_so(own: Path) -> None:
    """A page that waits too long learns which work it waits for, and the work goes on."""

    async def story() -> None:
        desk = Desk(Question(str(own)))
        gate = threading.Event()
        ask = Ask("slow", lambda told: gate.wait(20), "Counting sheep", slow=True)
        with pytest.raises(Waiting, match="Counting sheep") as caught:
            await desk.ask(ask, patience=0.05)
        assert desk.job(caught.value.job.id) is not None
        gate.set()
        assert await desk.ask(ask)
        desk.close()

    asyncio.run(story())


# ---------------------------------------------------------------------------------------- door


def test_a_door_that_stands_open_has_no_key() -> None:
    """On the own machine no key is asked for, and none opens."""
    door = Door()

    assert not door.locked
    assert not door.redeem("")


def test_tokens_belong_to_sessions() -> None:
    """A session of one process is unknown to another; its token fits itself only."""
    door, other = Door(), Door()
    session, second = door.session(), door.session()

    assert door.knows(session)
    assert not other.knows(session)
    assert not door.knows(session + "0")
    assert not door.knows("")
    assert door.trusts(session, door.token(session))
    assert not door.trusts(second, door.token(session))
    assert not door.trusts(session, session)


def test_a_key_may_be_typed_carelessly() -> None:
    """Blanks for dashes and capitals are taken; a key that was used is void."""
    told: list[str] = []
    key = new_key()
    door = Door(key, told.append)

    assert not door.redeem(key[:-1])
    assert door.redeem(f" {key.upper().replace('-', ' ')} ")
    assert not door.redeem(key)
    assert told == [door.key]


# ---------------------------------------------------------------------------------------- news


def test_news_tell_the_stamp_progress_and_the_end(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A listener gets the stamp at once, steps of the work it waits for, its end, and each change."""
    monkeypatch.setattr(live, "BEAT_S", 3600)  # a change that is missed would be told an hour later

    async def read(stream: AsyncIterator[str]) -> tuple[str, object]:
        while True:
            text = await anext(stream)
            if text.startswith("event: "):
                name, data = text.strip().split("\n")
                return name.removeprefix("event: "), json.loads(data.removeprefix("data: "))

    async def story() -> None:
        desk, gate = Desk(Question(str(own))), threading.Event()

        def work(told: Told) -> None:
            told(3, 7)
            gate.wait(20)

        stamp = await desk.fresh()
        with pytest.raises(Waiting) as caught:
            await desk.ask(Ask("slow", work, slow=True), patience=0.05)
        stream = news(desk, caught.value.job.id)
        assert await read(stream) == ("stamp", stamp)
        assert await read(stream) == ("progress", {"done": 3, "of": 7})
        gate.set()
        name = "progress"
        while name == "progress":
            name, _ = await read(stream)
        assert name == "ready"
        touch(own)
        fresh = asyncio.create_task(desk.fresh())
        assert await read(stream) == ("stamp", await fresh)
        desk.close()
        with pytest.raises(StopAsyncIteration):
            await read(stream)
        assert desk.hub.watched == 0

    asyncio.run(asyncio.wait_for(story(), 60))


# ------------------------------------------------------------------------------ files and words


def test_files_come_from_a_fixed_list() -> None:
    """Four files are served; their addresses change with their content."""
    assert set(assets()) == {"/paper.css", "/bench.css", "/bench.js", "/icon.svg"}
    assert versioned("/bench.js") == f"/bench.js?v={assets()['/bench.js'].version}"
    script = assets()["/bench.js"].content.decode()
    assert "eval(" not in script and "innerHTML" not in script and "://" not in script


def test_links_carry_the_question() -> None:
    """An address names the settings and parts that are asked about, so that it can be kept and sent."""
    asked = Question("bench", sets=("a=b c",), parts=("d=e",))

    assert link("/why", asked) == "/why?set=a%3Db+c&part=d%3De"
    assert link("/margin", asked, rule="x&y") == "/margin?set=a%3Db+c&part=d%3De&rule=x%26y"
    assert link("/why") == "/why"


def test_words() -> None:
    """Times, hours and symptoms are told as people say them; each symptom has its words."""
    assert when("2026-03-05T08:05:00+01:00") == "5 Mar 2026, 08:05"
    assert [hours(length) for length in (0.5, 1, 24, 1 / 60, 0)] == [
        "30 minutes",
        "1 hour",
        "24 hours",
        "1 minute",
        "0 hours",
    ]
    assert symptom("new-kind") == "new kind"
    assert all(symptom(name) != name or name == "hang" for name in SYMPTOMS)
