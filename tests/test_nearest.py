"""Names that somebody may have meant."""

from __future__ import annotations

from waitwright.nearest import MOST_WORTH_LISTING, did_you_mean, hint_behind, nearest


def test_closest_first() -> None:
    """The names most like the word come first, at most three of them."""
    assert nearest("sram-16", ["sram-15", "sram-20", "sram-25", "sram-12", "tag"])[0] == "sram-15"
    assert len(nearest("sram-16", ["sram-15", "sram-20", "sram-25", "sram-12"])) == 3


def test_capitals_do_not_matter() -> None:
    """Names are found whatever their case, and told as they are written."""
    assert nearest("mhz", ["MHz", "V"]) == ("MHz",)
    assert nearest("ISA", ["isa", "Isa", "dram"]) == ("Isa", "isa")


def test_few_names_are_all_told() -> None:
    """Where no name is close, all are told while they are few; of many, none."""
    few = [f"name-{i}" for i in range(MOST_WORTH_LISTING)]

    assert did_you_mean("zzz", ["b", "a", "b"]) == "known here: a, b"
    assert did_you_mean("zzz", few).startswith("known here: name-0, ")
    assert did_you_mean("zzz", [*few, "one more"]) == ""
    assert did_you_mean("zzz", []) == ""


def test_hint_as_the_end_of_a_message() -> None:
    """Behind a message the hint stands in brackets, or not at all."""
    assert hint_behind("tagg", ["tag"]) == " (did you mean 'tag'?)"
    assert hint_behind("zzz", []) == ""


def test_long_words_cost_nothing() -> None:
    """A word of a million letters is looked at in its first hundred only."""
    assert nearest("tag" * 400_000, ["tag"]) == ()
