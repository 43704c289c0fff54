"""What can be done: record a trial, take the last one back, copy a packed machine."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from waitwright.api.new import copy_packed
from waitwright.api.record import Overtaken, record, undo
from waitwright.errors import InputError, UsageError
from waitwright.page.asking import ask_logbook
from waitwright.page.forms import BadForm, Fields, beside_field, fields, hours_again, one, report_of
from waitwright.page.recording import Sheet
from waitwright.page.views import desk_of, page

if TYPE_CHECKING:
    from starlette.requests import Request

FORM = "application/x-www-form-urlencoded"


async def form_of(request: Request) -> Fields:
    """The form in *request*, made by a page of ours for this session.

    Raises:
        HTTPException: 415 if it is no form, 403 if it carries no token of this session.
        BadForm: if it cannot be read.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != FORM:
        raise HTTPException(415, "Only plain forms are taken.")
    given = fields((await request.body()).decode("latin-1"))
    if not request.app.state.door.trusts(request.scope["session"], one(given, "token")):
        raise HTTPException(
            403, "This form is from another session, or from before the bench was started anew. Nothing was "
            "recorded: load the page again."
        )  # fmt: skip
    return given


async def do_record(request: Request) -> Response:
    """Put an outcome, or what was done without a trial, into the logbook, and go on with the next trial."""
    given = await form_of(request)
    desk = desk_of(request)
    controls = await desk.controls()
    sets = tuple(text for text in given.get("set", ()) if text)
    try:
        report = report_of(given, controls, sets)
        about = replace(desk.question, sets=sets)
        try:
            view = await desk.run(lambda: record(about, report, now=datetime.now().astimezone()), slow=True)
        except Overtaken as error:
            raise BadForm({"": str(error)}) from None
        except UsageError as error:
            raise beside_field(error, report) from None
        except InputError as error:
            raise BadForm({"": str(error)}) from None
    except BadForm as bad:
        log = await desk.ask(ask_logbook(desk.question))
        sheet = Sheet(sets, log, hours_again(given), one(given, "measure"), given, bad.errors)
        return await page(request, "again.html", {"sheet": sheet, "log": log}, status=422, room="/trial")
    desk.remember(view)
    return RedirectResponse(f"/trial?{urlencode({'told': view.entry})}", 303)


async def do_undo(request: Request) -> Response:
    """Take back the last entry."""
    given = await form_of(request)
    desk = desk_of(request)
    number = one(given, "number")
    expected = int(number) if number.isdecimal() and len(number) < 10 else None
    view = await desk.run(lambda: undo(desk.question, number=expected), slow=True)
    desk.remember(view)
    return RedirectResponse("/logbook", 303)


async def do_copy(request: Request) -> Response:
    """Copy the packed machine into the folder where the page was started, and go on with the copy."""
    await form_of(request)
    desk = desk_of(request)
    path = await desk.run(lambda: copy_packed(desk.question.machine))
    desk.move_to(str(path))
    await desk.fresh()
    return RedirectResponse("/", 303)
