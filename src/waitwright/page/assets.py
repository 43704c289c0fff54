"""The few files that are served as they are: a fixed list, by name; no path is ever looked up."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path

from waitwright.report.html.render import stylesheet

_HERE = Path(__file__).parent

ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><rect width="32" height="32" rx="4" '
    'fill="#fcfcf7"/><path d="M3 22h6v-12h8v12h6v-12h6" fill="none" stroke="#17233d" stroke-width="2.6"/>'
    '<path d="M20 27h9" stroke="#b3241b" stroke-width="3"/></svg>'
)
"""Two clocks, and a line of red crayon under the second."""


@dataclass(frozen=True, slots=True)
class Asset:
    """A file: its type, its content, and a short text that changes with it."""

    kind: str
    content: bytes
    version: str


@cache
def assets() -> dict[str, Asset]:
    """Every such file, by its address."""
    texts = {
        "/paper.css": ("text/css", stylesheet()),
        "/bench.css": ("text/css", (_HERE / "bench.css").read_text("utf-8")),
        "/bench.js": ("text/javascript", (_HERE / "bench.js").read_text("utf-8")),
        "/icon.svg": ("image/svg+xml", ICON),
    }
    return {path: _asset(kind, text.encode()) for path, (kind, text) in texts.items()}


def versioned(path: str) -> str:
    """The address of a file with its version, so that a browser may keep it."""
    return f"{path}?v={assets()[path].version}"


def _asset(kind: str, content: bytes) -> Asset:
    return Asset(f"{kind}; charset=utf-8", content, sha256(content).hexdigest()[:12])
