"""Commands and sessions over HTTP: who may, how often, and what control answered."""

import contextlib
import logging
from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Body, Depends, Request, Response
from fastapi.responses import JSONResponse

from halocline.link.messages import LinkError, LinkLostError
from halocline.link.peers import Allowance
from halocline.plant.command_definitions import COMMANDS, OPEN_TO_ALL
from halocline.plant.command_fields import OnPage
from halocline.plant.vocabulary import Origin
from halocline.report import texts
from halocline.report.http.context import (
    Context,
    RefusedError,
    client_address,
    cookie_name,
    demand_own_page,
    demand_secrecy,
    demand_session,
    is_free,
    refusal,
    session_of,
)
from halocline.report.http.models import Answer, SessionRequest, SessionState, refused_with
from halocline.report.http.orders import AnyOrder, Order
from halocline.report.http.sessions import (
    ABSOLUTE_S,
    NoPinError,
    PinWaitError,
    PinWrongError,
)
from halocline.report.public import reason_texts

ANSWER_WITHIN_S = 5.0
COMMANDS_PER_S = 5.0
MAX_ADDRESSES = 1000
ONE_LINE = dict.fromkeys((*range(32), 127, 0x85, 0x2028, 0x2029), " ")

log = logging.getLogger(__name__)
audit = logging.getLogger("halocline.audit")


class Rates:
    """How many commands each address may still give this second; stop and silence are not counted."""

    def __init__(self) -> None:
        self._left: dict[str, Allowance] = {}

    def admit(self, address: str, now_s: float) -> bool:
        """Whether one more is allowed."""
        if address not in self._left:
            if len(self._left) >= MAX_ADDRESSES:
                self._left.clear()
            self._left[address] = Allowance(COMMANDS_PER_S, now_s)
        return self._left[address].spend(now_s)


def routes(context: Context) -> APIRouter:
    """POST /commands and /session with its relatives."""
    router = APIRouter(responses=refused_with(403, 429, 503))
    rates = Rates()
    urgent, ordinary = CapacityLimiter(8), CapacityLimiter(8)

    @router.post("/commands", response_model=Answer, dependencies=[Depends(own_page)])
    async def give_command(request: Request, order: Annotated[AnyOrder, Body()]) -> Response:
        """Give a command. Needs the header X-Halocline: 1; all but stop and silence need a session."""
        open_to_all = order.command in OPEN_TO_ALL
        who = client_address(request)
        with refusals_noted(order.command, who):
            if not open_to_all:
                if not rates.admit(who, context.clock()):
                    raise RefusedError(429, texts.TOO_MANY_COMMANDS, "too_many_commands", {"Retry-After": "1"})
                who = await to_thread.run_sync(_permitted, context, request, order, limiter=ordinary)
        limiter = urgent if open_to_all else ordinary
        return await to_thread.run_sync(_forward, context, order, who, limiter=limiter)

    @router.get("/session")
    async def session_state(request: Request) -> SessionState:
        """Whether commands can be given from here, and what they need."""
        session = session_of(context, request)
        free = is_free(context, request)
        return SessionState(
            needed=not free,
            present=free or session is not None,
            pin_set=context.sessions.pin_set,
            name=session.name if session else None,
        )

    @router.post("/session", response_model=Answer, dependencies=[Depends(own_page)])
    async def open_session(request: Request, asked: SessionRequest) -> Response:
        """The PIN in, a cookie out."""
        with refusals_noted("session", client_address(request)):
            token = await to_thread.run_sync(_open_session, context, request, asked, limiter=ordinary)
        response = JSONResponse({"accepted": True, "reasons": [], "ids": []})
        response.set_cookie(
            cookie_name(request),
            token,
            max_age=int(ABSOLUTE_S),
            httponly=True,
            samesite="strict",
            secure=request.url.scheme == "https",
        )
        return response

    @router.delete("/session", response_model=Answer, dependencies=[Depends(own_page)])
    async def close_session(request: Request) -> Response:
        """Ends the session; its cookie is worth nothing afterwards."""
        context.sessions.close(request.cookies.get(cookie_name(request)))
        response = JSONResponse({"accepted": True, "reasons": [], "ids": []})
        response.delete_cookie(
            cookie_name(request), httponly=True, samesite="strict", secure=request.url.scheme == "https"
        )
        return response

    return router


async def own_page(request: Request) -> None:
    """Before the body is looked at: whether the request was made on purpose."""
    with refusals_noted(f"{request.method} {request.url.path}", client_address(request)):
        demand_own_page(request)


def _permitted(context: Context, request: Request, order: Order) -> str:
    """Who gives the command. Raises RefusedError unless the PIN has been given as the command needs it."""
    who = demand_session(context, request)
    if COMMANDS[order.command].page is OnPage.PIN_AGAIN and not is_free(context, request):
        if order.pin is None:
            raise RefusedError(403, texts.PIN_AGAIN, "pin_again")
        _checked(lambda: context.sessions.check_pin(order.pin or "", client_address(request)))
    return who


def _open_session(context: Context, request: Request, asked: SessionRequest) -> str:
    demand_secrecy(context)
    address = client_address(request)
    token = _checked(lambda: context.sessions.open(asked.pin, asked.name.strip(), address))
    audit.info("session opened by %r from %s", asked.name, address)
    return token


def _checked(check: Any) -> str:
    try:
        found: str = check()
    except NoPinError:
        raise RefusedError(403, texts.NO_PIN, "no_pin") from None
    except PinWaitError as wait:
        seconds = max(wait.seconds, 1.0)
        headers = {"Retry-After": f"{seconds:.0f}"}
        raise RefusedError(429, texts.PIN_WAIT.format(seconds=seconds), "pin_wait", headers) from None
    except PinWrongError:
        raise RefusedError(403, texts.PIN_WRONG, "pin_wrong") from None
    return found


def _forward(context: Context, order: Order, who: str) -> Response:
    message = order.model_dump(exclude_none=True, exclude={"pin"})
    try:
        answer = context.feed.command({**message, "origin": Origin.PAGE, "who": who[:80]}, ANSWER_WITHIN_S)
    except LinkLostError as error:
        log.warning("command %s: %s", message["command"], error)
        _note(message, who, "link_lost")
        return refusal(503, [texts.COMMAND_NO_LINK], ["link_lost"])
    except LinkError as error:
        _note(message, who, "malformed")
        return refusal(422, [str(error)], ["malformed"])
    reasons = answer.get("reasons") or []
    accepted, ids = bool(answer.get("accepted")), [reason["id"] for reason in reasons]
    _note(message, who, "accepted" if accepted else ", ".join(ids))
    said: dict[str, Any] = {"accepted": accepted, "reasons": reason_texts(reasons, context.units), "ids": ids}
    if told := answer.get("told"):
        said["told"] = reason_texts(told, context.units)
    return JSONResponse(said)


def _note(message: Mapping[str, Any], who: str, outcome: str) -> None:
    note(message["command"], who, outcome)


def note(what: str, who: str, outcome: str) -> None:
    """One line of the audit log; a name that a client gives cannot begin another."""
    audit.info("%s by %s: %s", what, who.translate(ONE_LINE), outcome)


@contextlib.contextmanager
def refusals_noted(what: str, address: str) -> Iterator[None]:
    """What does not get as far as control is in the audit log too."""
    try:
        yield
    except RefusedError as error:
        audit.warning("%s from %s refused: %s", what, address, error.refusal)
        raise
