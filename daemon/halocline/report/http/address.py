"""Where the page is reached, as words, as a list and as a QR code."""

import io
from typing import Annotated, Literal

import segno
from fastapi import APIRouter, Query, Request, Response

from halocline.report import texts
from halocline.report.addresses import Place, best
from halocline.report.http.context import Context, RefusedError, demand_reader
from halocline.report.http.models import Address, ReachableAt, refused_with

QUIET_ZONE = 4
"""Modules of white around the code (ISO/IEC 18004)."""


def routes(context: Context) -> APIRouter:
    """GET /address and its picture."""
    router = APIRouter(responses=refused_with(404))

    @router.get("/address")
    async def get_address(request: Request) -> Address:
        """Every address of the page, the best for a phone first."""
        demand_reader(context, request)
        found = _places(context, request)
        chosen = best(found)
        return Address(
            best=None if chosen is None else chosen.url,
            addresses=[ReachableAt(url=place.url, kind=place.kind) for place in found],
            note=texts.REACHED if chosen is not None else texts.REACHED_FROM_HERE_ONLY,
        )

    @router.get("/address/qr.svg", responses={200: {"content": {"image/svg+xml": {}}}}, response_class=Response)
    async def get_qr(request: Request, kind: Annotated[Literal["network", "name"] | None, Query()] = None) -> Response:
        """The best address, or the best of a kind, as a QR code: dark on white, whatever the palette around it."""
        demand_reader(context, request)
        chosen = best([place for place in _places(context, request) if kind in (None, place.kind)])
        if chosen is None:
            raise RefusedError(404, texts.REACHED_FROM_HERE_ONLY, "no_address")
        return Response(qr_svg(chosen.url), media_type="image/svg+xml")

    return router


def qr_svg(text: str) -> bytes:
    """A text as a QR code that scales."""
    picture = io.BytesIO()
    segno.make_qr(text, error="m").save(
        picture, kind="svg", border=QUIET_ZONE, dark="#000", light="#fff", xmldecl=False, omitsize=True
    )
    return picture.getvalue()


def qr_lines(text: str) -> list[str]:
    """A text as a QR code for a terminal with light letters on dark ground, two modules to a character."""
    printed = io.StringIO()
    segno.make_qr(text, error="l").terminal(out=printed, border=2, compact=True)
    return printed.getvalue().splitlines()


def _places(context: Context, request: Request) -> list[Place]:
    server = request.scope.get("server")
    return context.places(server[0] if server else None)
