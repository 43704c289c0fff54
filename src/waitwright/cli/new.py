"""``waitwright new``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from waitwright.cli.common import AsJson


def new(
    origin: Annotated[str, typer.Option("--from", metavar="NAME", help="Packed machine to start from.")],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FILE", help="Where to; default NAME.toml here.")
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Copy a packed machine into a profile of your own."""
    from waitwright.api.new import copy_packed

    path = copy_packed(origin, output)
    if as_json:
        import json

        sys.stdout.write(json.dumps({"path": str(path)}) + "\n")
    else:
        sys.stdout.write(
            f"{path} written. Edit parts and settings to match your machine, then: check {path}\n"
        )
    return 0
