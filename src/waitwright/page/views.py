"""What can be looked at: each page asks the api, has its pictures drawn, and is rendered; nothing else."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, JSONResponse, Response, StreamingResponse

from waitwright.page.asking import (
    ask_check,
    ask_logbook,
    ask_next,
    ask_rank,
    ask_shares,
    ask_suspects,
    ask_swap,
    ask_why,
)
from waitwright.page.desk import LONG_PATIENCE_S, PATIENCE_S, Desk
from waitwright.page.forms import (
    Fields,
    Reader,
    fields,
    hours_of,
    one,
    question_of,
    usual_wish,
    wish_of,
    workload_of,
)
from waitwright.page.live import news
from waitwright.page.recording import Sheet, reading_sheet, trial_sheet
from waitwright.page.render import render
from waitwright.report.margin_view import BudgetView, worst_first
from waitwright.report.picture_views import MarkView
from waitwright.report.pictures import board, shares, story, suspects, timing, tradeoff
from waitwright.report.views import CheckView, RankView

if TYPE_CHECKING:
    from starlette.requests import Request

Page = Callable[["Request"], Awaitable[Response]]

LEAST_SHOWN = 6
"""Rows of the margin board on the first page."""

_LIKELY = 8
"""Suspects in the picture."""

_NEWS = "text/event-stream"


def desk_of(request: Request) -> Desk:
    """The desk behind *request*."""
    desk: Desk = request.app.state.desk
    return desk


def query(request: Request) -> Fields:
    """The fields of the address."""
    return fields(request.scope["query_string"].decode("latin-1"))


def patience(given: Fields) -> float:
    """How long to wait: as long as it takes where the address asks for that."""
    return LONG_PATIENCE_S if one(given, "wait") else PATIENCE_S


async def page(
    request: Request, template: str, context: Mapping[str, Any], *, status: int = 200, room: str = ""
) -> Response:
    """*template* with *context* and what all pages need."""
    desk = desk_of(request)
    controls = await desk.controls()
    whole = {
        "room": room or request.url.path,
        "stamp": desk.stamp,
        "token": request.app.state.door.token(request.scope["session"]),
        "controls": controls,
        "job": "",
        "told": None,
        **context,
    }
    return HTMLResponse(await desk.run(lambda: render(template, whole)), status)


# --------------------------------------------------------------------------------------- pages


async def bench(request: Request) -> Response:
    """The machine at a glance."""
    desk = desk_of(request)
    check = await desk.ask(ask_check(desk.question))
    log = await desk.ask(ask_logbook(desk.question))
    context = {
        "check": check,
        "log": log,
        "proven": desk.question.at(log.proven.settings),
        "board": await desk.run(lambda: _board(check, LEAST_SHOWN)),
    }
    return await page(request, "bench.html", context)


async def trial(request: Request) -> Response:
    """The trial to make now, and the form for its outcome."""
    desk, given = desk_of(request), query(request)
    log = await desk.ask(ask_logbook(desk.question))
    reader = Reader(given)
    controls = await desk.controls()
    mode = reader.choice("mode", ("jump", "single"), "kind of trial") or log.mode or "jump"
    workload = workload_of(reader, controls)
    reader.finish()
    view = await desk.ask(
        ask_next(desk.question, "single" if mode == "single" else "jump", workload), patience(given)
    )
    told = one(given, "told")
    context = {
        "view": view,
        "log": log,
        "sheet": trial_sheet(view, log),
        "proven": desk.question.at(view.proven.settings),
        "told": desk.told.get(int(told)) if told.isdecimal() and len(told) < 10 else None,
        "workload": workload or "",
    }
    return await page(request, "trial.html", context)


async def margins(request: Request) -> Response:
    """Every margin."""
    desk, given = desk_of(request), query(request)
    question = question_of(given, desk.question, await desk.controls())
    check = await desk.ask(ask_check(question), patience(given))
    context = {
        "check": check,
        "board": await desk.run(lambda: _board(check, None)),
        "here": await desk.controls(question),
        "asked": question,
        "by_room": _by_room(check),
    }
    return await page(request, "margins.html", context)


async def margin(request: Request) -> Response:
    """One budget with its timing picture, or one limit."""
    desk, given = desk_of(request), query(request)
    question = question_of(given, desk.question, await desk.controls())
    check = await desk.ask(ask_check(question), patience(given))
    ordered = sorted(check.rules, key=worst_first)
    place = next((place for place, rule in enumerate(ordered) if rule.id == one(given, "rule")), None)
    if place is None:
        raise HTTPException(404, "There is no such margin on this machine, under these settings.")
    rule = ordered[place]
    drawn = await desk.run(lambda: timing.draw(rule)) if isinstance(rule, BudgetView) else None
    context = {
        "check": check,
        "rule": rule,
        "picture": drawn,
        "asked": question,
        "before": ordered[place - 1] if place else None,
        "after": ordered[place + 1] if place + 1 < len(ordered) else None,
    }
    return await page(request, "margin.html", context, room="/margins")


async def why(request: Request) -> Response:
    """One combination, with a control for every option and every slot."""
    desk, given = desk_of(request), query(request)
    controls = await desk.controls()
    reader = Reader(given)
    hours, workload = hours_of(reader), workload_of(reader, controls)
    reader.finish()
    question = question_of(given, desk.question, controls)
    view = await desk.ask(ask_why(question, hours, workload), patience(given))
    share = await desk.ask(ask_shares(question, workload))
    rules = [rule for rule in (*view.short, *view.tight) if isinstance(rule, BudgetView)]
    log = await desk.ask(ask_logbook(desk.question))
    context = {
        "view": view,
        "asked": question,
        "here": await desk.controls(question),
        "pictures": await desk.run(lambda: {rule.id: timing.draw(rule) for rule in rules}),
        "shares": await desk.run(lambda: shares.draw(share)) if view.changes else None,
        "soak_hours": hours,
        "workload": workload or "",
        "sheet": Sheet(tuple(f"{name}={value}" for name, value in view.settings.items()), log, hours),
    }
    return await page(request, "why.html", context)


async def fastest(request: Request) -> Response:
    """The fastest settings that should hold."""
    desk, given = desk_of(request), query(request)
    controls = await desk.controls()
    reader = Reader(given)
    wish = wish_of(reader, controls) if given else usual_wish()
    reader.finish()
    question = question_of(given, desk.question, controls)
    view = await desk.ask(ask_rank(question, wish), patience(given))
    context = {
        "view": view,
        "wish": wish,
        "exactly": one(given, "exactly"),
        "asked": question,
        "picture": await desk.run(lambda: _tradeoff(view)) if view.curve else None,
    }
    return await page(request, "fastest.html", context)


async def spares(request: Request) -> Response:
    """Which part buys most."""
    desk, given = desk_of(request), query(request)
    controls = await desk.controls()
    reader = Reader(given)
    odds = reader.number("odds", 0, 100, "odds in percent")
    workload = workload_of(reader, controls)
    market = reader.choice("from", ("box", "market"), "where to look") == "market"
    reader.finish()
    ready = controls.spares or market
    share = usual_wish().odds if odds is None else round(odds / 100, 6)
    view = None
    if ready:
        ask = ask_swap(desk.question, odds=share, workload=workload, market=market)
        view = await desk.ask(ask, patience(given))
    context = {"view": view, "odds": share, "market": market, "workload": workload or ""}
    return await page(request, "spares.html", context)


async def suspected(request: Request) -> Response:
    """What is not a matter of timing, and the form for readings."""
    desk = desk_of(request)
    view = await desk.ask(ask_suspects(desk.question))
    log = await desk.ask(ask_logbook(desk.question))
    drawn = await desk.run(lambda: suspects.draw(view.suspects, view.timing_odds, most=_LIKELY))
    sheet = reading_sheet(view, log)
    return await page(request, "suspects.html", {"view": view, "log": log, "picture": drawn, "sheet": sheet})


async def logbook(request: Request) -> Response:
    """Every entry, and the way to take back the last."""
    desk = desk_of(request)
    log = await desk.ask(ask_logbook(desk.question))
    drawn = await desk.run(lambda: story.draw(log.entries)) if log.trials else None
    return await page(request, "logbook.html", {"log": log, "picture": drawn})


# ------------------------------------------------------------------------------ data and news


async def why_json(request: Request) -> Response:
    """The same as :func:`why`, with the keys of the command contract."""
    desk, given = desk_of(request), query(request)
    controls = await desk.controls()
    reader = Reader(given)
    hours, workload = hours_of(reader), workload_of(reader, controls)
    reader.finish()
    view = await desk.ask(ask_why(question_of(given, desk.question, controls), hours, workload))
    return JSONResponse(view.to_dict())


async def live(request: Request) -> Response:
    """News, for as long as the page is open."""
    desk = desk_of(request)
    if request.method == "HEAD":  # no body, hence no news
        return Response(media_type=_NEWS)
    await desk.fresh()
    return StreamingResponse(news(desk, one(query(request), "job")), media_type=_NEWS)


# ------------------------------------------------------------------------------------ pictures


def _board(check: CheckView, most: int | None) -> object:
    return board.draw(check.rules, most=most)


def _by_room(check: CheckView) -> dict[str, list[object]]:
    found: dict[str, list[object]] = {}
    for rule in sorted(check.rules, key=worst_first):
        found.setdefault(rule.room, []).append(rule)
    return found


def _tradeoff(view: RankView) -> object:
    marks = [MarkView("now", 0.0, view.baseline_odds)]
    if view.results:
        marks.append(MarkView("asked", view.results[0].gain, view.results[0].odds))
    return tradeoff.draw(view.curve, marks)
