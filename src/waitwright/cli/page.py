"""``waitwright page``."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from waitwright.cli.common import AsJson, Machine, Parts, Rules, Seed, Sets, question


def page(
    machine: Machine,
    port: Annotated[
        int | None,
        typer.Option(metavar="N", min=1, max=65535, help="Where to listen; 8386 or the next free one."),
    ] = None,
    lan: Annotated[
        bool,
        typer.Option("--lan", help="Let other devices in, such as a phone; each needs a key that is shown."),
    ] = False,
    open_: Annotated[
        bool, typer.Option("--open", help="Show the page in the browser of this machine.")
    ] = False,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Show everything about a machine as a local web page, to be used beside it.

    The page is for this machine alone unless --lan is given. It ends with Ctrl-C.
    """
    from waitwright.api.opening import put_on_bench
    from waitwright.page.desk import Desk
    from waitwright.page.serving import door_for, open_place, serve

    asked = question(machine, sets, parts, rules, seed)
    put_on_bench(asked)  # what is wrong with it is better told now than on every page
    place = open_place(port, lan=lan)
    door = door_for(place, lan=lan, tell=_tell)
    address = place.with_key(door.key)
    if as_json:
        import json

        sys.stdout.write(json.dumps({"url": address}) + "\n")
    else:
        sys.stdout.write(f"The bench is at {address}\n{_code(address) if lan else ''}Ctrl-C ends it.\n")
        if lan:
            sys.stdout.write(
                "The key opens once, for one device. What is sent is not encrypted: use this in a network "
                "that you trust.\n"
            )
    sys.stdout.flush()
    if open_:
        import webbrowser

        webbrowser.open(address)
    serve(Desk(asked), door, place)
    return 0


def _tell(address: str) -> None:
    sys.stderr.write(f"A device has come in. For one more: {address}\n{_code(address)}")
    sys.stderr.flush()


def _code(address: str) -> str:
    from waitwright.page.serving import code

    return code(address)
