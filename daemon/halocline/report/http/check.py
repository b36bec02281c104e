"""What `halocline check` says, as far as the page's own computer may look."""

from fastapi import APIRouter, Request

from halocline.report import texts
from halocline.report.http.context import Context, RefusedError, demand_reader
from halocline.report.http.models import Check, refused_with

NOTHING_YET = {"problems": 0, "warnings": 0, "lines": []}


def routes(context: Context) -> APIRouter:
    """GET /check."""
    router = APIRouter(responses=refused_with(404))

    @router.get("/check")
    async def get_check(request: Request) -> Check:
        """What `halocline check` says of this computer; made in the background when it is older than five minutes."""
        demand_reader(context, request)
        if context.checkup is None:
            raise RefusedError(404, texts.NO_CHECK, "no_check")
        seen = context.checkup()
        found = seen.check or NOTHING_YET
        return Check.model_validate(
            {**found, "looking": seen.looking, "problem": seen.problem, "age_s": seen.age_s},
        )

    return router
