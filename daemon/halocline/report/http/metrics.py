"""The Prometheus text format (version 0.0.4), a few lines of our own."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from halocline.report.public_types import PublicSnapshot

Series = tuple[str, str, Iterable[tuple[Mapping[str, str], float | None]]]


def metrics(now: PublicSnapshot, record: Mapping[str, Any]) -> str:
    """All series as text; what is not known is left out, never zero."""
    lines: list[str] = []
    for name, explanation, samples in _series(now, record):
        known = [(labels, value) for labels, value in samples if value is not None]
        if known:
            lines += [f"# HELP halocline_{name} {explanation}", f"# TYPE halocline_{name} gauge"]
            lines += [f"halocline_{name}{_labels(labels)} {float(value):.10g}" for labels, value in known]
    return "\n".join(lines) + "\n"


def _series(now: PublicSnapshot, record: Mapping[str, Any]) -> Iterator[Series]:
    live = now["link"]["control"] == "live"
    run: Mapping[str, Any] = now["run"] or {}
    yield "control_up", "1 while the control process is heard.", [({}, float(live))]
    yield (
        "condition",
        "1 for everything that is wrong on the computer's side.",
        [({"condition": name}, 1.0) for name in sorted({condition["id"] for condition in now["conditions"]})],
    )
    yield "simulated", "1 on a simulated boat.", [({}, float(now["simulated"]))]
    yield "state", "1 for the state of the sequence.", [({"state": now["state"]}, 1.0)] if now["state"] else []
    yield (
        "reading",
        "A measured channel, in the unit of its label.",
        [
            ({"channel": channel, "unit": reading["unit"] or ""}, reading["value"])
            for channel, reading in now["readings"].items()
        ],
    )
    yield (
        "derived",
        "A computed quantity, its unit in its name.",
        [({"name": name}, value) for name, value in now["derived"].items()],
    )
    yield (
        "output",
        "1 while an output is energised.",
        [({"output": name}, None if on is None else float(on)) for name, on in now["outputs"].items()],
    )
    yield (
        "alarm",
        "1 for every alarm that is not normal.",
        [
            ({"alarm": alarm["id"], "state": alarm["state"], "priority": alarm["priority"]}, 1.0)
            for alarm in now["alarms"] or ()
        ],
    )
    yield "run_litres", "Litres into the tank in this run.", [({}, run.get("litres"))]
    yield "run_energy_wh", "Energy of this run.", [({}, run.get("energy_wh"))]
    yield "record_ok", "1 while the record is written.", [({}, float(record["state"] == "ok"))]
    yield "record_held", "Entries waiting to be written.", [({}, float(record["held"]))]
    yield "record_lost", "Entries lost since this process started.", [({}, float(record["lost"]))]


def _labels(labels: Mapping[str, str]) -> str:
    if not labels:
        return ""
    inside = ",".join(f'{name}="{_escaped(value)}"' for name, value in labels.items())
    return "{" + inside + "}"


def _escaped(value: str) -> str:
    return value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
