"""Reading pictures back: shapes and words of an SVG."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree.ElementTree import Element, fromstring

from waitwright.report.pictures.picture import Picture

SVG = "{http://www.w3.org/2000/svg}"
FIGURE = re.compile(r"(?<![\w.])[+-]?\d+(?:\.\d+)?")


def drawn(picture: Picture) -> Element:
    """The drawing, which must be well-formed XML."""
    return fromstring(picture.svg)  # noqa: S314 - our own text


def words(picture: Picture) -> list[str]:
    """Every line of text in the drawing."""
    return [text.text or "" for text in drawn(picture).iter(f"{SVG}text")]


def shapes(picture: Picture, name: str, look: str) -> Iterator[dict[str, float]]:
    """Places and sizes of the elements called *name* with class *look*."""
    for one in drawn(picture).iter(f"{SVG}{name}"):
        if look in one.get("class", "").split():
            yield {
                key: float(value)
                for key, value in one.attrib.items()
                if key not in {"class", "fill", "text-anchor", "points"}
            }


def figures(texts: list[str]) -> set[str]:
    """Every figure in *texts*, as it is written."""
    return {found for text in texts for found in FIGURE.findall(text)}
