"""What is done by hand, and what is aboard for it. It is put on record by the command `log`."""

import time

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Request

from halocline.report import texts
from halocline.report.database_open import DamagedError, StoreError
from halocline.report.http.context import Context, RefusedError, demand_reader
from halocline.report.http.models import Duties, Stores, refused_with


def routes(context: Context) -> APIRouter:
    """GET /duties, /stores."""
    router = APIRouter(responses=refused_with(503))
    limiter = CapacityLimiter(1)

    @router.get("/duties")
    async def get_duties(request: Request) -> Duties:
        """What is due by hand, soon and done, by whom and with what reading; and the water in the tank."""
        demand_reader(context, request)
        return await to_thread.run_sync(_duties, context, limiter=limiter)

    @router.get("/stores")
    async def get_stores(request: Request) -> Stores:
        """Spares aboard, and the shopping list for the next harbour."""
        demand_reader(context, request)
        return await to_thread.run_sync(_stores, context, limiter=limiter)

    return router


def _duties(context: Context) -> Duties:
    try:
        return Duties.model_validate(context.work_ahead.duties(context.feed.record_path, time.time()))
    except StoreError as error:
        raise _unreadable(context, error) from None


def _stores(context: Context) -> Stores:
    try:
        return Stores.model_validate(context.work_ahead.stores(context.feed.record_path, time.time()))
    except StoreError as error:
        raise _unreadable(context, error) from None


def _unreadable(context: Context, error: StoreError) -> RefusedError:
    if isinstance(error, DamagedError):
        context.feed.recorder.suspect()
    return RefusedError(503, texts.RECORD_UNREADABLE.format(problem=error), "record_unreadable")
