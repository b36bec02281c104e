"""How far a commissioning is, and its report to keep."""

from typing import Annotated, Literal

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse

from halocline.report import texts
from halocline.report.commissioning import Progress, progress_message, progress_of, sheet
from halocline.report.database_open import StoreError
from halocline.report.http.context import Context, RefusedError, demand_reader
from halocline.report.http.models import Commissioning, refused_with
from halocline.report.http.reading import SHEET_POLICY
from halocline.report.run_report import STYLE_SOURCE


def routes(context: Context) -> APIRouter:
    """GET /commissioning."""
    router = APIRouter(responses=refused_with(503))
    limiter = CapacityLimiter(1)

    @router.get("/commissioning", response_model=Commissioning, responses={200: {"content": {"text/html": {}}}})
    async def get_commissioning(
        request: Request,
        format_: Annotated[Literal["json", "html"], Query(alias="format")] = "json",
    ) -> Response | Commissioning:
        """The steps of a commissioning and what was signed of them; as html the report to keep."""
        demand_reader(context, request)
        try:
            progress = await to_thread.run_sync(_progress, context, limiter=limiter)
        except StoreError as error:
            raise RefusedError(503, texts.RECORD_UNREADABLE.format(problem=error), "record_unreadable") from None
        if format_ == "html":
            boat = context.feed.live.frame.boat
            return HTMLResponse(
                sheet(progress, boat, context.units, simulated=context.simulated),
                headers={"content-security-policy": f"default-src 'none'; style-src '{STYLE_SOURCE}'; {SHEET_POLICY}"},
            )
        return Commissioning.model_validate(progress_message(progress, context.units))

    return router


def _progress(context: Context) -> Progress:
    """Raises StoreError."""
    heard = context.feed.live.public()
    fitted = (heard["last"] or heard)["outputs"]
    return progress_of(context.journal.commissioning(), fitted or {})
