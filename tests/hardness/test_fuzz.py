"""Text of strangers, at every border: a modest share of what ``tests/fuzz/run.py`` does by the million."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.fuzz.targets import CRASHES, TARGETS, Broken, crashes, promised, seeds

PIECES = (
    b"", b"\0", b"\xff", b"\xef\xbb\xbf", b"\r", b"\n", b'"', b"'''", b"[", b"]]", b"{", b"}", b"=", b"#",
    b"-", b"nan", b"1e999", b"9" * 30, b"100/0", b"true", b"[[x]]\n", b"\\u0000", "é".encode(), b"(" * 40,
    b"x" * 400, b"**", b" and ", b" if ", b"__class__", b"1979-05-27T07:32:00Z",
)  # fmt: skip


@st.composite
def damaged(draw: st.DrawFn, target: str) -> bytes:
    """A sound input of *target* with up to four cuts, into which something else is put."""
    text = draw(st.sampled_from(seeds(target)))
    for _ in range(draw(st.integers(0, 4))):
        begin = draw(st.integers(0, len(text)))
        end = draw(st.integers(begin, min(len(text), begin + draw(st.sampled_from([0, 1, 8, 80])))))
        piece = draw(st.one_of(st.sampled_from(PIECES), st.binary(max_size=4), st.just(text[end : end + 40])))
        text = text[:begin] + piece + text[end:]
    return text


@pytest.mark.parametrize("target", list(TARGETS))
def test_sound_inputs_are_accepted(target: str) -> None:
    """What fuzzing begins with breaks no promise."""
    for text in seeds(target):
        TARGETS[target](text)


@pytest.mark.parametrize("target", list(TARGETS))
@settings(max_examples=60)
@given(st.data())
def test_damaged_inputs(target: str, data: st.DataObject) -> None:
    """Whatever a file or rule text holds, it is read by the laws of its kind, or refused in clear lines."""
    TARGETS[target](data.draw(damaged(target)))


@pytest.mark.parametrize("target", list(TARGETS))
def test_what_once_broke(target: str) -> None:
    """Every input that once broke a promise keeps to it now."""
    for text in crashes(target):
        TARGETS[target](text)


def test_crashes_have_a_target() -> None:
    """Each kept input is named for a target, so that it is really tried."""
    assert all(path.name.split("-")[0] in TARGETS for path in CRASHES.iterdir())


def test_a_broken_promise_is_seen() -> None:
    """The targets can fail: what is not kept is raised, also where asserts are off."""
    with pytest.raises(Broken, match="for once"):
        promised(kept=False, what="for once")
