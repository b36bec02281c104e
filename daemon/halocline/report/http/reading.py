"""What can be read over HTTP besides the stream."""

import re
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Annotated, Any, Literal, TypeVar

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Path, Query, Request, Response
from fastapi.responses import HTMLResponse

from halocline.physics.errors import OutOfRange, Unsolvable
from halocline.plant import words
from halocline.plant.command_definitions import UNTIL
from halocline.plant.offer import need_of, prospect_of
from halocline.plant.settings import UnitSettings
from halocline.report import texts
from halocline.report.database_open import DamagedError, StoreError
from halocline.report.health.forecast import THRESHOLDS
from halocline.report.health.past import band
from halocline.report.history import MAX_POINTS, HistoryError, history
from halocline.report.http.context import Context, RefusedError, demand_reader
from halocline.report.http.models import (
    Ageing,
    AlarmJournal,
    AlarmStep,
    CalibrationsInForce,
    Events,
    FigureBand,
    Finding,
    Flushed,
    Health,
    HealthFigure,
    HealthFinding,
    Hole,
    PublicHistory,
    PublicOffer,
    PublicSnapshot,
    RecordedEvent,
    RecordedWork,
    RecordState,
    Runs,
    RunSheet,
    WorkDone,
    refused_with,
)
from halocline.report.journal import AlarmChange, Happened, Run, Work
from halocline.report.plan import offer_message
from halocline.report.public import iso, run_message, run_sheet_message
from halocline.report.run_report import STYLE_SOURCE, run_report

SHEET_POLICY = "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
DEFAULT_SPAN_S = 600.0
LONGEST_LIST = 500
PLACE = r"^[0-9A-Za-z]{1,40}-[0-9]{1,15}$"
"""The key of an event: its boot and its number."""
NUMBER = re.compile(r"-?\d{1,15}(\.\d{1,9})?")

T = TypeVar("T")
Limit = Annotated[int, Query(ge=1, le=LONGEST_LIST)]
Amount = Annotated[float | None, Query(gt=0, le=20_000, allow_inf_nan=False)]
Moment = Annotated[str | None, Query(max_length=40)]


def routes(context: Context) -> APIRouter:
    """GET /now, /history, /runs, /alarms, /events, /work, /health, /calibrations, /offer."""
    router = APIRouter(responses=refused_with(404, 503))
    limiter = CapacityLimiter(3)

    async def read(request: Request, question: Callable[[], T]) -> T:
        demand_reader(context, request)
        try:
            return await to_thread.run_sync(question, limiter=limiter)
        except StoreError as error:
            if isinstance(error, DamagedError):
                context.feed.recorder.suspect()
            text = texts.RECORD_UNREADABLE.format(problem=error)
            raise RefusedError(503, text, "record_unreadable") from None

    @router.get("/now", response_model=PublicSnapshot)
    async def now(request: Request) -> Response:
        """Everything known this moment."""
        demand_reader(context, request)
        return Response(context.feed.live.public_json(), media_type="application/json")

    @router.get("/history")
    async def get_history(
        request: Request,
        channel: Annotated[str, Query(max_length=60)],
        from_: Annotated[str | None, Query(alias="from", max_length=40)] = None,
        to: Moment = None,
        points: Annotated[int, Query(ge=1, le=MAX_POINTS)] = 600,
    ) -> PublicHistory:
        """One channel or derived quantity over a span. Moments are Unix seconds, ISO 8601, or negative seconds
        before now; without them, the last ten minutes."""
        now_s = time.time()
        to_s = _moment(to, now_s, now_s)
        from_s = _moment(from_, now_s, to_s - DEFAULT_SPAN_S)
        return await read(request, lambda: _history(context, channel, from_s, to_s, points))

    @router.get("/runs")
    async def get_runs(request: Request, limit: Limit = 100) -> Runs:
        """The newest runs first."""
        return await read(
            request,
            lambda: Runs.model_validate(
                {"runs": [run_message(run, context.units) for run in context.journal.runs(limit)]}
            ),
        )

    @router.get("/runs/{run}", response_model=RunSheet)
    async def get_run(
        request: Request,
        run: Annotated[str, Path(max_length=80)],
        format_: Annotated[Literal["json", "html"], Query(alias="format")] = "json",
    ) -> Response | RunSheet:
        """One run, by its number in the record or by the id the snapshot calls it; as html a sheet to print."""
        found = await read(request, lambda: context.journal.run(run))
        if found is None:
            raise RefusedError(404, texts.NO_SUCH_RUN.format(run=run), "no_such_run")
        if format_ == "html":
            return HTMLResponse(
                await read(request, lambda: _sheet(context, found)),
                headers={"content-security-policy": f"default-src 'none'; style-src '{STYLE_SOURCE}'; {SHEET_POLICY}"},
            )
        return RunSheet.model_validate(run_sheet_message(found, context.units))

    @router.get("/alarms")
    async def get_alarms(request: Request, limit: Limit = 200) -> AlarmJournal:
        """The alarms of now, and the journal of all."""
        return await read(request, lambda: _alarms(context, limit))

    @router.get("/events")
    async def get_events(
        request: Request,
        limit: Limit = 200,
        before: Annotated[str | None, Query(pattern=PLACE)] = None,
    ) -> Events:
        """What happened: states, commands with who gave them, alarms, runs, flushes, work, calibrations. `before` is
        the `older` of an earlier answer."""
        older_than = None if before is None else _place(before)
        return await read(request, lambda: _events(context, limit, older_than))

    @router.get("/work")
    async def get_work(request: Request, limit: Limit = 200) -> WorkDone:
        """What was put on record by hand, and what the plant has done since."""
        return await read(request, lambda: _work(context, limit))

    @router.get("/health")
    async def get_health(request: Request) -> Health:
        """What the record has counted, and how the record itself is."""
        return await read(request, lambda: _health(context))

    @router.get("/health/finding")
    async def get_finding(request: Request) -> HealthFinding:
        """What is sure of how the plant ages, so that it is told unasked; null while there is nothing."""
        return await read(request, lambda: _found(context))

    @router.get("/calibrations")
    async def get_calibrations(request: Request) -> CalibrationsInForce:
        """The calibrations in force, as control last told."""
        demand_reader(context, request)
        return CalibrationsInForce.model_validate({"calibrations": context.feed.calibrations})

    @router.get("/offer")
    async def get_offer(
        request: Request,
        litres: Amount = None,
        minutes: Amount = None,
        until: Annotated[str | None, Query(pattern=UNTIL)] = None,
    ) -> PublicOffer:
        """What a run for this need would come to; for none, until the tank is full. Starts nothing."""
        demand_reader(context, request)
        return _offered(context, litres, minutes, until)

    return router


def _offered(context: Context, litres: float | None, minutes: float | None, until: str | None) -> PublicOffer:
    """The offer for a need. Raises RefusedError."""
    now, wall_s = context.feed.live.heard(), time.time()
    on = prospect_of(now)
    if now is None or on is None:
        raise RefusedError(404, texts.NO_OFFER, "no_offer")
    try:
        need = need_of(litres, minutes, until, wall_s)
    except ValueError as error:
        raise RefusedError(422, str(error), "moment") from None
    marked = context.planner.foreseen(wall_s).forbidden
    return PublicOffer.model_validate(offer_message(on, need, now, context.units, wall_s, marked))


def _sheet(context: Context, run: Run) -> str:
    return run_report(context.feed.record_path, run, context.feed.live.frame.boat, context.units)


def _moment(text: str | None, now_s: float, default_s: float) -> float:
    """Unix seconds from a query. Raises RefusedError."""
    if text is None or text in {"", "now"}:
        return default_s
    if NUMBER.fullmatch(text):
        seconds = float(text)
        return now_s + seconds if seconds < 0 else seconds
    try:
        moment = datetime.fromisoformat(text)
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        raise RefusedError(422, f"{text!r} is neither seconds nor an ISO 8601 time", "moment") from None


def _history(context: Context, channel: str, from_s: float, to_s: float, points: int) -> PublicHistory:
    feed = context.feed
    try:
        found = history(
            feed.record_path,
            channel,
            from_s,
            to_s,
            points,
            held=feed.recorder.held_rows(),
            undated=feed.live.undated(),
        )
    except HistoryError as error:
        raise RefusedError(422, str(error), "history") from None
    return PublicHistory.model_validate(
        {
            "channel": found.channel,
            "unit": found.unit,
            "from": found.from_s,
            "to": found.to_s,
            "bucket_s": found.bucket_s,
            "time": found.time,
            "min": found.low,
            "mean": found.mean,
            "max": found.high,
        }
    )


def _alarms(context: Context, limit: int) -> AlarmJournal:
    journal = [_step(change, context.units) for change in context.journal.alarms(limit)]
    return AlarmJournal(alarms=context.feed.live.public()["alarms"], journal=journal)


def _place(text: str) -> tuple[str, int]:
    boot, _, seq = text.rpartition("-")
    return boot, int(seq)


def _events(context: Context, limit: int, before: tuple[str, int] | None) -> Events:
    found = context.journal.events(limit, before=before)
    told = [(event, words.event_text(event.body, context.units)) for event in found]
    return Events(
        events=[
            RecordedEvent(
                key=_key(event),
                boot=event.boot,
                seq=event.seq,
                time=iso(event.wall_s),
                mono_s=event.mono_s,
                kind=event.kind,
                text=text,
                who=event.body.get("who"),
                origin=event.body.get("origin"),
            )
            for event, text in told
            if text is not None
        ],
        older=_key(found[-1]) if len(found) == limit else None,
    )


def _key(event: Happened) -> str:
    return f"{event.boot}-{event.seq}"


def _step(change: AlarmChange, units: UnitSettings) -> AlarmStep:
    means, _, _ = words.alarm_texts(change.alarm, dict(change.values), units)
    return AlarmStep(
        boot=change.boot,
        seq=change.seq,
        time=iso(change.wall_s),
        mono_s=change.mono_s,
        id=change.alarm,
        name=words.alarm_name(change.alarm),
        to=change.state,
        priority=change.priority,
        values=dict(change.values),
        means=means,
    )


def _work(context: Context, limit: int) -> WorkDone:
    counters = context.journal.counters()

    def since(work: Work, counter: str) -> float:
        return max(0.0, counters.get(counter, 0.0) - work.counters.get(counter, 0.0))

    return WorkDone(
        work=[
            RecordedWork(
                boot=work.boot,
                seq=work.seq,
                time=iso(work.wall_s),
                kind=work.kind,
                note=words.entry_note(work.note, work.details),
                who=work.who,
                pump_s_since=since(work, "high_pressure_pump_s"),
                product_l_since=since(work, "product_l"),
            )
            for work in context.journal.work(limit)
        ]
    )


def _health(context: Context) -> Health:
    journal = context.journal
    membrane, note = _ageing(context)
    flushed = journal.last_event("flush_ended")
    return Health(
        record=RecordState.model_validate(context.feed.recorder.status()),
        counters=journal.counters(),
        last_flush=None
        if flushed is None
        else Flushed(
            time=iso(flushed["wall_s"]),
            litres=flushed.get("litres"),
            complete=flushed.get("complete"),
            measured=flushed.get("measured"),
        ),
        holes=[Hole.model_validate(hole) for hole in journal.holes(100)],
        membrane=membrane,
        note=note,
    )


def _ageing(context: Context) -> tuple[Ageing | None, str | None]:
    try:
        said = context.latest.of(context.feed.record_path)
    except (OutOfRange, Unsolvable) as error:
        return None, texts.NO_COMPARISON.format(problem=error)
    points = (
        [*context.past.known(), (datetime.fromisoformat(said["at"]).timestamp(), said)] if said["runs"]["used"] else []
    )
    figures = [
        HealthFigure(
            name=name,
            now=now,
            end=end,
            unit=told["unit"],
            threshold=THRESHOLDS[quantity],
            band=FigureBand(**band(quantity, points)._asdict()),
        )
        for (quantity, told), (name, now, end) in zip(
            said["quantities"].items(), words.health_figures(said, context.units), strict=True
        )
    ]
    sentence, evidence = words.health_sentence(said), words.health_evidence(said)
    ageing = Ageing(
        sentence=sentence,
        figures=figures,
        past_complete=context.past.complete,
        evidence=evidence,
        ask=said["ask"],
        finding=_finding(said),
        answer=said,
    )
    return ageing, None


def _found(context: Context) -> HealthFinding:
    try:
        return HealthFinding(finding=_finding(context.latest.of(context.feed.record_path)))
    except (OutOfRange, Unsolvable):
        return HealthFinding(finding=None)


def _finding(said: Mapping[str, Any]) -> Finding | None:
    found = said["finding"]
    if found is None:
        return None
    return Finding(
        name=found["name"], text=words.finding_text(said), confidence=found["confidence"], aside=found["aside"]
    )
