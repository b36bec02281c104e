"""For programs that watch over this one: how each part does, and numbers."""

from typing import Annotated

from fastapi import APIRouter, Path, Request, Response
from fastapi.responses import PlainTextResponse

from halocline.report.conditions import LINK_IDS
from halocline.report.http.context import Context, RefusedError, demand_reader
from halocline.report.http.metrics import OPENMETRICS, OPENMETRICS_TYPE, TEXT_TYPE, metrics
from halocline.report.http.models import Alive, AlivePart, refused_with
from halocline.report.parts import OFF, Part, PartName, Parts, PartState, well
from halocline.report.public_types import PublicCondition

RECORD_STATES: dict[str, PartState] = {"ok": "ok", "behind": "waiting", "failing": "failing"}


def routes(context: Context) -> APIRouter:
    """GET /healthz, /healthz/{part} and /metrics."""
    router = APIRouter()

    @router.get("/healthz")
    async def healthz(request: Request) -> Alive:
        """How each part does. 200 as long as this process serves, for whoever restarts it at anything else would take
        the page away just when it tells what fails; `ok` is false while a part of ours fails: control is not heard, or
        the record cannot be written. A broker that is away counts as waiting: nothing on this computer brings it back.
        """
        conditions = context.feed.live.public()["conditions"]
        parts = _parts(context, conditions)
        return Alive(
            ok=well(parts),
            control="live" if parts["control"].state == "ok" else "lost",
            record=context.feed.recorder.status()["state"],
            conditions=[condition["id"] for condition in conditions],
            parts={name: _told(context, request, part) for name, part in parts.items()},
        )

    @router.get("/healthz/{part}", responses={503: {"model": AlivePart, "description": "It does not."}})
    async def healthz_of(
        request: Request, response: Response, part: Annotated[PartName, Path(description="Which.")]
    ) -> AlivePart:
        """How one part does. 200 only while it does all its work, or is off by the settings."""
        found = _parts(context, context.feed.live.public()["conditions"])[part]
        response.status_code = 200 if found.state in {"ok", "off"} else 503
        return _told(context, request, found)

    @router.get("/metrics", response_class=PlainTextResponse, responses=refused_with(401))
    async def get_metrics(request: Request) -> Response:
        """For Prometheus: OpenMetrics if it is asked for, else the older text format."""
        demand_reader(context, request)
        now = context.feed.live.public()
        asked = OPENMETRICS in request.headers.get("accept", "")
        told = metrics(
            now,
            context.feed.recorder.status(),
            _parts(context, now["conditions"]),
            context.broker(),
            openmetrics=asked,
        )
        return Response(told, media_type=OPENMETRICS_TYPE if asked else TEXT_TYPE)

    return router


def _parts(context: Context, conditions: list[PublicCondition]) -> Parts:
    lost = context.feed.live.lost()
    record = context.feed.recorder.status()
    return {
        "control": Part("failing", _problem(conditions, LINK_IDS)) if lost else Part("ok"),
        "record": Part(RECORD_STATES[record["state"]], record["problem"]),
        "mqtt": OFF,
        **{name: ask() for name, ask in context.peers.items()},
    }


def _problem(conditions: list[PublicCondition], ids: frozenset[str]) -> str | None:
    found = (f"{condition['means']} {condition['do']}" for condition in conditions if condition["id"] in ids)
    return next(found, None)


def _told(context: Context, request: Request, part: Part) -> AlivePart:
    """What is wrong in words only to whom the page would tell it as well; the state is no secret."""
    try:
        demand_reader(context, request)
    except RefusedError:
        return AlivePart(state=part.state, problem=None)
    return AlivePart(state=part.state, problem=part.problem)
