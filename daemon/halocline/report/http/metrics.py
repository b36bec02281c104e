"""What is known now as numbers for Prometheus: OpenMetrics 1.0, or its older text format for who asks for no other.

Names and units as the convention has them: base units, the unit last in the name. Measured and computed are two words.
What is not known is left out, never zero; a reading counts only while its quality is good.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple, get_args

from halocline import __version__
from halocline.plant.alarms import DEFINITIONS, AlarmState
from halocline.plant.vocabulary import CHANNELS, Quality, State
from halocline.report.mqtt.publisher import Health
from halocline.report.parts import Parts
from halocline.report.public_types import ConditionId, PublicSnapshot

OPENMETRICS = "application/openmetrics-text"
OPENMETRICS_TYPE = f"{OPENMETRICS}; version=1.0.0; charset=utf-8"
TEXT_TYPE = "text/plain; version=0.0.4; charset=utf-8"

Kind = Literal["gauge", "counter", "info", "stateset"]
Samples = Iterable[tuple[Mapping[str, str], float | None]]

LITRES_PER_HOUR = 1e-3 / 3600
"""In m³/s."""


class Quantity(NamedTuple):
    """What a unit of ours is in base units: the quantity's name, the unit's, and the factor between them."""

    name: str
    unit: str
    factor: float


QUANTITIES: Mapping[str, Quantity] = {
    "bar": Quantity("pressure", "pascals", 1e5),
    "µS/cm": Quantity("conductivity", "siemens_per_metre", 1e-4),
    "°C": Quantity("temperature", "celsius", 1.0),
    "L/h": Quantity("flow", "cubic_metres_per_second", LITRES_PER_HOUR),
    "V": Quantity("voltage", "volts", 1.0),
    "A": Quantity("current", "amperes", 1.0),
    "%": Quantity("fill", "ratio", 1e-2),
}
"""By a channel's unit. Celsius is the base unit of temperature by the convention."""

COMPUTED: Mapping[str, Quantity] = {
    "product_tds_mg_l": Quantity("product_dissolved_solids", "grams_per_cubic_metre", 1.0),
    "expected_tds_mg_l": Quantity("expected_dissolved_solids", "grams_per_cubic_metre", 1.0),
    "filter_drop_bar": Quantity("filter_pressure_drop", "pascals", 1e5),
    "recovery": Quantity("recovery", "ratio", 1.0),
    "specific_energy_wh_l": Quantity("specific_energy", "joules_per_cubic_metre", 3600 * 1e3),
    "pressure_rate_bar_s": Quantity("pressure_rate", "pascals_per_second", 1e5),
    "expected_flow_l_h": Quantity("expected_flow", "cubic_metres_per_second", LITRES_PER_HOUR),
    "target_pressure_bar": Quantity("target_pressure", "pascals", 1e5),
}
"""By the name among what is derived; 1 mg/L is 1 g/m³."""


@dataclass(frozen=True, slots=True)
class Family:
    """One metric: its name without our own before it, what it is, its samples, and its unit."""

    name: str
    help: str
    samples: Samples
    kind: Kind = "gauge"
    unit: str = ""


def metrics(
    now: PublicSnapshot, record: Mapping[str, Any], parts: Parts, broker: Health | None, *, openmetrics: bool
) -> str:
    """All metrics as text. `record` is the recorder's status, `broker` None where none is wanted."""
    families = (*_plant(now), *_record(record), *_parts(parts), *_broker(broker))
    lines = [line for family in families for line in _lines(family, openmetrics=openmetrics)]
    return "\n".join([*lines, *(["# EOF"] if openmetrics else ())]) + "\n"


def _plant(now: PublicSnapshot) -> Iterator[Family]:
    live = now["link"]["control"] == "live"
    run: Mapping[str, Any] = now["run"] or {}
    yield Family("build", "The version of the program.", [({"version": __version__}, 1.0)], "info")
    yield Family("control_up", "Whether the control process is heard.", [({}, float(live))])
    yield Family("simulated", "Whether the boat is a simulated one.", [({}, float(now["simulated"]))])
    present = {condition["id"] for condition in now["conditions"]}
    yield Family(
        "condition",
        "What is wrong on the computer's side.",
        [({"condition": name}, float(name in present)) for name in get_args(ConditionId)],
    )
    yield Family("control_uptime_seconds", "Time since control started.", [({}, now["uptime_s"])], unit="seconds")
    states = [({"halocline_state": str(state)}, float(state == now["state"])) for state in State]
    yield Family("state", "The state of the sequence.", states if now["state"] else (), "stateset")
    yield from _measured(now)
    for name, quantity in COMPUTED.items():
        value = now["derived"].get(name)
        yield Family(
            f"computed_{quantity.name}_{quantity.unit}",
            "Computed, not measured.",
            [({}, None if value is None else value * quantity.factor)],
            unit=quantity.unit,
        )
    yield Family(
        "output_energised",
        "Whether an output is energised.",
        [({"output": name}, None if on is None else float(on)) for name, on in now["outputs"].items()],
    )
    yield from _alarms(now)
    litres, watt_hours = run.get("litres"), run.get("energy_wh")
    yield Family(
        "run_water_cubic_metres",
        "Water into the tank in the run that goes on.",
        [({}, None if litres is None else litres * 1e-3)],
        unit="cubic_metres",
    )
    yield Family(
        "run_energy_joules",
        "Energy of the run that goes on.",
        [({}, None if watt_hours is None else watt_hours * 3600)],
        unit="joules",
    )


def _measured(now: PublicSnapshot) -> Iterator[Family]:
    good = {
        channel: reading["value"] if reading["quality"] == Quality.GOOD else None
        for channel, reading in now["readings"].items()
        if channel in CHANNELS
    }
    for own_unit, quantity in QUANTITIES.items():
        yield Family(
            f"measured_{quantity.name}_{quantity.unit}",
            "A measured channel, while its reading is good.",
            [
                ({"channel": channel}, value * quantity.factor)
                for channel, value in good.items()
                if value is not None and CHANNELS[channel].unit == own_unit
            ],
            unit=quantity.unit,
        )
    yield Family(
        "channel_good",
        "Whether a channel's reading is good.",
        [({"channel": channel}, float(value is not None)) for channel, value in good.items()],
    )


def _alarms(now: PublicSnapshot) -> Iterator[Family]:
    if now["alarms"] is None:
        return
    states = {alarm["id"]: str(alarm["state"]) for alarm in now["alarms"]}
    yield Family(
        "alarm_standing",
        "Whether an alarm is not normal, in whatever state.",
        [
            ({"alarm": name, "priority": str(row.priority)}, float(name in states))
            for name, row in sorted(DEFINITIONS.items())
        ],
    )
    counted = list(states.values())
    yield Family(
        "alarms",
        "How many alarms are in each state other than normal.",
        [({"state": str(state)}, float(counted.count(state))) for state in AlarmState if state != AlarmState.NORMAL],
    )


def _record(record: Mapping[str, Any]) -> Iterator[Family]:
    yield Family("record_up", "Whether the record is written.", [({}, float(record["state"] == "ok"))])
    yield Family("record_waiting", "Entries waiting to be written.", [({}, float(record["held"]))])
    yield Family(
        "record_lost", "Entries lost since this process started.", [({}, float(record["lost"]))], kind="counter"
    )


def _parts(parts: Parts) -> Iterator[Family]:
    yield Family(
        "part_up",
        "Whether a part that is wanted does its work.",
        [({"part": name}, float(part.state == "ok")) for name, part in parts.items() if part.state != "off"],
    )


def _broker(health: Health | None) -> Iterator[Family]:
    if health is None:
        return
    yield Family("mqtt_connected", "Whether the broker has let us in.", [({}, float(health.connected))])
    yield Family("mqtt_connections", "Connections tried.", [({}, float(health.connections))], kind="counter")
    yield Family("mqtt_events_waiting", "Events not confirmed yet.", [({}, float(health.events_waiting))])
    yield Family("mqtt_events_dropped", "Events given up.", [({}, float(health.events_dropped))], kind="counter")
    yield Family(
        "mqtt_commands_dropped",
        "What was published as a command and is none.",
        [({"reason": why}, float(number)) for why, number in sorted(health.commands_dropped.items())],
        kind="counter",
    )


def _lines(family: Family, *, openmetrics: bool) -> Iterator[str]:
    known = [(labels, value) for labels, value in family.samples if value is not None]
    if not known:
        return
    name = f"halocline_{family.name}"
    sample = {"counter": f"{name}_total", "info": f"{name}_info"}.get(family.kind, name)
    # The older format knows two of the four kinds, and names a metric as its samples are named.
    kind = family.kind if openmetrics or family.kind == "counter" else "gauge"
    described = name if openmetrics else sample
    yield f"# TYPE {described} {kind}"
    if openmetrics and family.unit:
        yield f"# UNIT {described} {family.unit}"
    yield f"# HELP {described} {_escaped(family.help) if openmetrics else family.help}"
    for labels, value in known:
        yield f"{sample}{_labels(labels)} {float(value):.10g}"


def _labels(labels: Mapping[str, str]) -> str:
    if not labels:
        return ""
    inside = ",".join(f'{name}="{_escaped(value)}"' for name, value in labels.items())
    return "{" + inside + "}"


def _escaped(value: str) -> str:
    return value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
