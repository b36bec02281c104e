"""The faults of one boat as plain values: what can be ordered, with which arguments, and what stands now."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from halocline.simulation.faults import ANY, FAULTS, Fault, Fitted, Request, targets_of

POSITION = {"name": "position", "choices": ["on", "off"]}


def offered(fitted: Fitted) -> list[dict[str, Any]]:
    """Every fault that can strike something this boat has."""
    return [
        {
            "fault": fault.name,
            "kind": fault.kind,
            "target": fault.target or None,
            "choices": list(targets_of(fault, fitted)),
            "arguments": _arguments(fault),
        }
        for fault in FAULTS.values()
        if not fault.target or targets_of(fault, fitted)
    ]


def _arguments(fault: Fault) -> list[dict[str, Any]]:
    numbers = [
        {
            "name": argument.name,
            "low": argument.low,
            "high": argument.high,
            "unit": argument.unit,
            "in_channel_unit": argument.high >= ANY,
            "typical": argument.typical,
            "optional": argument.optional,
        }
        for argument in fault.arguments
    ]
    return [*numbers, POSITION] if fault.name == "valve_stuck" else numbers


def standing(requests: Iterable[Request]) -> list[dict[str, Any]]:
    """What stands, with the arguments it was given."""
    return [
        {
            "fault": request.fault.name,
            "target": request.target,
            "arguments": {
                **request.values,
                **({} if request.position is None else {"position": "on" if request.position else "off"}),
            },
        }
        for request in requests
    ]
