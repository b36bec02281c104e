"""What can be broken aboard a simulated boat, and what is: for crew who practise. Giving one is a command."""

from collections.abc import Mapping
from typing import Any, Literal

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Request
from pydantic import BaseModel

from halocline.plant import words
from halocline.plant.vocabulary import CHANNELS
from halocline.report import texts
from halocline.report.http.context import Context, RefusedError, demand_reader
from halocline.report.http.models import refused_with


class FaultChoice(BaseModel):
    """Something a fault can strike; `unit` is that of a channel."""

    value: str | int
    name: str
    unit: str = ""


class FaultArgument(BaseModel):
    """A number (from `low` to `high`), or one of `choices`. `typical` is a value to practise with, null where it
    depends on the channel, whose unit it is then in."""

    name: str
    low: float | None = None
    high: float | None = None
    unit: str = ""
    in_channel_unit: bool = False
    typical: float | None = None
    optional: bool = False
    choices: list[str] = []


class OfferedFault(BaseModel):
    """A fault the boat can have; `target` is the argument that takes one of `choices`."""

    fault: str
    kind: Literal["plant", "sensor", "electronics"]
    name: str
    does: str
    target: str | None
    choices: list[FaultChoice]
    arguments: list[FaultArgument]


class StandingFault(BaseModel):
    """A fault that stands now."""

    fault: str
    name: str
    target: str | int | None
    target_name: str | None
    arguments: dict[str, float | str]


class Faults(BaseModel):
    """All of it."""

    offered: list[OfferedFault]
    standing: list[StandingFault]


def routes(context: Context) -> APIRouter:
    """GET /faults."""
    router = APIRouter(responses=refused_with(404, 503))
    limiter = CapacityLimiter(1)

    @router.get("/faults")
    async def get_faults(request: Request) -> Faults:
        """The faults a simulated boat can have, and those that stand. There is nothing here aboard."""
        demand_reader(context, request)
        ask = context.faults
        if ask is None:
            raise RefusedError(404, texts.NOT_SIMULATED, "not_simulated")
        try:
            return _faults(await to_thread.run_sync(ask, limiter=limiter))
        except (OSError, ValueError, KeyError) as error:
            raise RefusedError(503, texts.NO_SIMULATED_BOAT.format(problem=error), "sea_lost") from None

    return router


def _faults(raw: Mapping[str, Any]) -> Faults:
    return Faults(
        offered=[_offered(fault) for fault in raw["offered"]],
        standing=[_standing(fault) for fault in raw["standing"]],
    )


def _offered(raw: Mapping[str, Any]) -> OfferedFault:
    text = words.fault_text(raw["fault"])
    choices = [
        FaultChoice(value=value, name=_target_name(raw["target"], value), unit=_unit(value)) for value in raw["choices"]
    ]
    return OfferedFault.model_validate({**raw, "name": text.name, "does": text.does, "choices": choices})


def _standing(raw: Mapping[str, Any]) -> StandingFault:
    target = raw["target"]
    kind = "address" if isinstance(target, int) else "channel" if target in CHANNELS else "output"
    return StandingFault(
        fault=raw["fault"],
        name=words.fault_text(raw["fault"]).name,
        target=target,
        target_name=None if target is None else _target_name(kind, target),
        arguments=raw["arguments"],
    )


def _target_name(kind: str | None, value: str | int) -> str:
    if kind == "address":
        return texts.CONVERTER.format(address=value)
    return words.channel_name(str(value)) if kind == "channel" else words.output_name(str(value))


def _unit(value: str | int) -> str:
    channel = CHANNELS.get(str(value))
    return "" if channel is None else channel.unit
