"""The days ahead: the plan, what would be otherwise, and what people and programs say of sun, sea and waters."""

import time
from collections.abc import Callable
from dataclasses import fields
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Body, Depends, Query, Request
from pydantic import ConfigDict, Field, JsonValue, StringConstraints, create_model

from halocline.plant import words
from halocline.report import texts
from halocline.report.http.commands import note, own_page, refusals_noted
from halocline.report.http.context import (
    Context,
    client_address,
    demand_reader,
    demand_session,
    refusal,
)
from halocline.report.http.models import Answer, DaysAhead, Plan, StrictModel, refused_with
from halocline.report.plan import ahead_of, days_ahead_message, plan_message
from halocline.report.planning import what_if
from halocline.report.planning.foreseen import FORBIDDEN_FOR, PLACE_LETTERS
from halocline.report.planning.question import LONGEST_H, Forecast, Unaskable
from halocline.report.planning.question_schema import schema_of

T = TypeVar("T")

if TYPE_CHECKING:
    WhatIf = what_if.WhatIf
else:
    WhatIf = create_model(
        "WhatIf",
        __config__=ConfigDict(extra="forbid", allow_inf_nan=False),
        **{
            each.name: (
                Annotated[
                    float | None,
                    Field(ge=each.metadata["low"], le=each.metadata["high"], description=each.metadata["doc"]),
                ],
                None,
            )
            for each in fields(what_if.WhatIf)
        },
    )
"""What is otherwise, as a query: the figures, their ranges and meanings are those of the planner's own."""


class Forbidden(StrictModel):
    """A water in which none is made, from now on for so many hours; none ends it."""

    why: Annotated[str, Field(pattern=f"^({'|'.join(FORBIDDEN_FOR)})$")]
    hours: Annotated[float, Field(ge=0, le=LONGEST_H)]
    place: Annotated[str, StringConstraints(strip_whitespace=True, max_length=PLACE_LETTERS)] = ""


def routes(context: Context) -> APIRouter:
    """GET /plan, /plan/what-if; POST /plan/forbidden; POST and DELETE /plan/forecast."""
    router = APIRouter(responses=refused_with(403, 503))
    reading, writing = CapacityLimiter(2), CapacityLimiter(1)
    planner = context.planner

    async def change(request: Request, what: str, work: Callable[[float], list[str]]) -> Any:
        """Does it for whoever may give commands, and says what has come of it."""
        with refusals_noted(what, client_address(request)):
            who = await to_thread.run_sync(demand_session, context, request, limiter=writing)
        try:
            told = await to_thread.run_sync(work, time.time(), limiter=writing)
        except Unaskable as error:
            note(what, who, "unusable")
            return refusal(422, list(error.lines), ["unusable"] * len(error.lines))
        except OSError as error:
            note(what, who, "not kept")
            return refusal(503, [texts.NOT_KEPT.format(problem=error.strerror or error)], ["not_kept"])
        note(what, who, "accepted")
        return Answer(accepted=True, told=told)

    @router.get("/plan")
    async def get_plan(request: Request) -> Plan:
        """When to make water in the days ahead; what can be offered now, and why nothing can."""
        demand_reader(context, request)
        return await to_thread.run_sync(_plan, context, limiter=reading)

    @router.get("/plan/what-if")
    async def get_what_if(request: Request, change: Annotated[WhatIf, Query()]) -> DaysAhead:
        """The days ahead if something were otherwise. Nothing of it is kept."""
        demand_reader(context, request)
        asked = what_if.WhatIf(**{each.name: getattr(change, each.name) for each in fields(what_if.WhatIf)})
        return await to_thread.run_sync(_what_if, context, asked, limiter=reading)

    @router.post("/plan/forbidden", response_model=Answer, dependencies=[Depends(own_page)])
    async def forbid(request: Request, asked: Forbidden) -> Any:
        """No run is planned from now on for so many hours, because of the water; 0 hours: it may be planned again."""

        def work(now_s: float) -> list[str]:
            to_s = planner.foreseen.forbid(asked.why, asked.hours, now_s, asked.place)
            ended = words.forbidden_ended_text(asked.why)
            return [words.forbidden_text(asked.why, to_s, asked.place) if asked.hours else ended]

        return await change(request, "forbid a water", work)

    @router.post("/plan/forecast", response_model=Answer, dependencies=[Depends(own_page)])
    async def foresee(
        request: Request, forecast: Annotated[dict[str, JsonValue], Body(json_schema_extra=schema_of(Forecast))]
    ) -> Any:
        """Take a forecast of sun, engine and sea; it counts until a newer one comes."""

        def work(now_s: float) -> list[str]:
            planner.foreseen.accept(forecast, "page", now_s)
            return [texts.FORECAST_TAKEN]

        return await change(request, "take a forecast", work)

    @router.delete("/plan/forecast", response_model=Answer, dependencies=[Depends(own_page)])
    async def forget(request: Request) -> Any:
        """Forget the forecast of page and broker."""

        def work(now_s: float) -> list[str]:
            planner.foreseen.forget(now_s)
            return [texts.FORECAST_FORGOTTEN]

        return await change(request, "forget the forecast", work)

    return router


def _plan(context: Context) -> Plan:
    now, wall_s = context.feed.live.heard(), time.time()
    ahead = days_ahead_message(context.planner, now, context.units, wall_s)
    return Plan.model_validate({**plan_message(now, context.units, wall_s), "ahead": ahead})


def _what_if(context: Context, asked: what_if.WhatIf) -> DaysAhead:
    told = context.planner.what_if(asked, context.feed.live.heard(), context.units, time.time())
    return DaysAhead.model_validate(ahead_of(told))
