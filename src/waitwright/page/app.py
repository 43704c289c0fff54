"""The app: which address leads where, and what is shown where something is wrong."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from http import HTTPStatus
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from waitwright.errors import InputError
from waitwright.page import deeds, views
from waitwright.page.answers import Abandoned
from waitwright.page.assets import assets
from waitwright.page.desk import Desk, Waiting
from waitwright.page.door import Door
from waitwright.page.forms import BadForm
from waitwright.page.guard import Guard
from waitwright.page.render import render

if TYPE_CHECKING:
    from starlette.types import ASGIApp

Handler = Callable[[Request, Exception], Awaitable[Response]]

_KEPT = "public, max-age=31536000, immutable"
"""For files whose address changes with their content."""


def make_app(desk: Desk, door: Door, hosts: frozenset[str], cookie: str) -> ASGIApp:
    """The app for the machine on *desk*, behind *door*.

    Args:
        hosts: What a request may be addressed to, with the port.
        cookie: Name of the session's cookie.
    """
    app = Starlette(
        routes=[
            Route("/", views.bench),
            Route("/trial", views.trial),
            Route("/margins", views.margins),
            Route("/margin", views.margin),
            Route("/why", views.why),
            Route("/why.json", views.why_json),
            Route("/fastest", views.fastest),
            Route("/spares", views.spares),
            Route("/suspects", views.suspected),
            Route("/logbook", views.logbook),
            Route("/live", views.live),
            Route("/record", deeds.do_record, methods=["POST"]),
            Route("/undo", deeds.do_undo, methods=["POST"]),
            Route("/copy", deeds.do_copy, methods=["POST"]),
            *(Route(path, _file) for path in assets()),
        ],
        exception_handlers={
            Waiting: _waiting,
            BadForm: _bad_form,
            InputError: _bad_input,
            HTTPException: _refused,
            Abandoned: _closing,
            Exception: _defect,  # and goes on to the guard, which tells the terminal where it was
        },
        lifespan=_lifespan,
    )
    app.router.redirect_slashes = False
    app.state.desk, app.state.door = desk, door
    return Guard(app, door, hosts, cookie, frozenset({"/paper.css", "/bench.css", "/icon.svg"}))


@asynccontextmanager
async def _lifespan(app: Starlette) -> AsyncIterator[None]:
    desk: Desk = app.state.desk
    watch = asyncio.create_task(desk.watch())
    try:
        yield
    finally:
        desk.close()
        watch.cancel()


async def _file(request: Request) -> Response:
    asset = assets()[request.url.path]
    kept = {"cache-control": _KEPT} if request.query_params.get("v") == asset.version else {}
    return Response(asset.content, media_type=asset.kind, headers=kept)


async def _waiting(request: Request, error: Exception) -> Response:
    """How far the work has come; the script loads the page again when it is done."""
    job = error.job if isinstance(error, Waiting) else None
    context = {"job": "" if job is None else job.id, "work": job, "again": _with_wait(request)}
    return await views.page(request, "waiting.html", context, status=202)


def _with_wait(request: Request) -> str:
    """The same address, asking to wait for the answer."""
    query = request.url.query
    return f"{request.url.path}?{query}&wait=1" if query else f"{request.url.path}?wait=1"


async def _bad_form(request: Request, error: Exception) -> Response:
    lines = list(error.errors.values()) if isinstance(error, BadForm) else [str(error)]
    return await _told(request, 400, lines)


async def _bad_input(request: Request, error: Exception) -> Response:
    return await _told(request, 422, str(error).splitlines())


async def _refused(request: Request, error: Exception) -> Response:
    if not isinstance(error, HTTPException):
        raise error
    phrase = HTTPStatus(error.status_code).phrase
    text = "There is no such page." if error.status_code == 404 and error.detail == phrase else error.detail
    response = await _told(request, error.status_code, [text])
    response.headers.update(error.headers or {})
    return response


async def _closing(request: Request, error: Exception) -> Response:
    del error
    return await _told(request, 503, ["The bench is being closed."])


async def _defect(request: Request, error: Exception) -> Response:
    del error
    return await _told(request, 500, ["A defect of waitwright. The terminal says where; please report that."])


async def _told(request: Request, status: int, lines: list[str]) -> Response:
    """One clear line for each thing that is wrong."""
    if request.url.path.endswith(".json"):
        return JSONResponse({"errors": lines}, status)
    context = {"lines": lines, "room": request.url.path, "stamp": "", "job": "", "token": "", "told": None}
    desk = views.desk_of(request)
    return HTMLResponse(await desk.run(lambda: render("error.html", context)), status)
