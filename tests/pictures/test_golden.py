"""Every kind of picture as it was approved."""

from __future__ import annotations

from xml.etree.ElementTree import indent, tostring

import pytest
from tests import gallery
from tests.golden import Golden
from tests.pictures.reading import drawn

from waitwright.report.pictures import board, shares, story, suspects, timing, tradeoff
from waitwright.report.pictures.picture import Picture

PICTURES = {
    "timing-short": timing.draw(gallery.BUDGETS[0]),
    "timing-rule": timing.draw(gallery.BUDGETS[3]),
    "timing-unknown": timing.draw(gallery.BUDGETS[4]),
    "board": board.draw(gallery.RULES),
    "suspects": suspects.draw(gallery.SUSPECTS.suspects, gallery.SUSPECTS.timing_odds),
    "shares": shares.draw(gallery.SHARES),
    "story": story.draw(gallery.ENTRIES),
    "tradeoff": tradeoff.draw(gallery.CURVE, gallery.MARKS, hours=4.0),
}


@pytest.mark.parametrize(("name", "picture"), PICTURES.items(), ids=PICTURES)
def test_picture_is_as_approved(name: str, picture: Picture, golden: Golden) -> None:
    """Drawing, words and table are those of the golden file."""
    root = drawn(picture)
    indent(root)
    rows = "\n".join(" | ".join(row) for row in (picture.table.headers, *picture.table.rows))
    golden.same(f"pictures/{name}.svg", tostring(root, "unicode", default_namespace=None) + "\n")
    golden.same(f"pictures/{name}.txt", f"{picture.title}\n{picture.alt}\n{rows}\n")
