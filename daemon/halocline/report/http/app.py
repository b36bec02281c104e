"""The application: every route, and one way to say no."""

from typing import Any, cast

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp

from halocline import __version__
from halocline.plant.command_definitions import COMMANDS
from halocline.report import texts
from halocline.report.http import (
    address,
    alive,
    check,
    commands,
    commissioning,
    duties,
    faults,
    page,
    planning,
    reading,
    stream,
)
from halocline.report.http.context import Context, RefusedError, refusal
from halocline.report.http.guards import Guard
from halocline.report.http.models import refused_with


def build_api(context: Context) -> FastAPI:
    """The routes, without the outer guard."""
    app = FastAPI(
        title="Halocline",
        version=__version__,
        summary="A small reverse-osmosis plant, as people and programs see it.",
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        responses=refused_with(400, 401, 408, 413, 422),
    )
    app.add_exception_handler(RefusedError, _refused)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _http_error)
    for part in (reading, duties, planning, stream, commands, check, commissioning, faults, address):
        app.include_router(part.routes(context), prefix="/api/v1")

    app.include_router(alive.routes(context))
    app.include_router(page.routes(context))
    return app


def build_app(context: Context) -> ASGIApp:
    """What is served."""
    return Guard(build_api(context), context.host_names)


async def _refused(_: Request, error: Exception) -> Response:
    return cast(RefusedError, error).response()


async def _invalid(_: Request, error: Exception) -> Response:
    """Every problem as a sentence; what was sent is not echoed, it may not even be sendable."""
    first_of: dict[str, dict[str, Any]] = {}
    for problem in cast(RequestValidationError, error).errors():
        first_of.setdefault(_place(problem), problem)
    reasons = [f"{place}: {problem['msg'].removeprefix('Value error, ')}" for place, problem in first_of.items()]
    return refusal(422, reasons, [str(problem["type"]) for problem in first_of.values()])


def _place(problem: dict[str, Any]) -> str:
    """The argument that is wrong: what follows the part of the request and the command's name."""
    place = [part for part in problem["loc"][1:] if isinstance(part, str)]
    if place and place[0] in COMMANDS:
        place = place[1:]
    return place[0] if place and problem["type"] != "json_invalid" else "the request"


async def _http_error(_: Request, error: Exception) -> Response:
    found = cast(HTTPException, error)
    text = texts.NO_PAGE if found.status_code == 404 else str(found.detail)
    content = {"accepted": False, "reasons": [text], "ids": [f"http_{found.status_code}"]}
    return JSONResponse(content, status_code=found.status_code, headers=found.headers)
