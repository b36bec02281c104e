"""What a home hub has to know to show the plant by itself: one message, as the public convention of device discovery
over MQTT has it. It names topics that are published anyway and adds nothing to what a broker may order.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from halocline import __version__
from halocline.plant import words
from halocline.plant.alarms import SET_ASIDE, Priority
from halocline.plant.command_definitions import COMMANDS
from halocline.plant.vocabulary import CHANNELS, RUNNING, Quality, State
from halocline.report.mqtt import texts
from halocline.report.mqtt.payloads import Payload
from halocline.report.mqtt.topics import Topics, slug

OUTDATED_S = 30
"""A hub counts a value as unknown when nothing new has come for so long; `now` comes once a second, and a boat's
network may pause."""

LONGEST_STATE = 255
"""Characters that hubs take as the state of something."""


class Kind(NamedTuple):
    """What a hub calls a quantity (None: it has no name for it), and the unit as it writes it."""

    device_class: str | None
    unit: str


KINDS: Mapping[str, Kind] = {
    "bar": Kind("pressure", "bar"),
    "µS/cm": Kind("conductivity", "\N{GREEK SMALL LETTER MU}S/cm"),
    "°C": Kind("temperature", "°C"),
    "L/h": Kind("volume_flow_rate", "L/h"),
    "V": Kind("voltage", "V"),
    "A": Kind("current", "A"),
    "%": Kind(None, "%"),
}
"""By a channel's unit."""

OWN_KINDS: Mapping[str, Kind] = {"battery_charge_percent": Kind("battery", "%")}


class Figure(NamedTuple):
    """Something computed: what it is to a hub, how its values go together, and the template that reads it."""

    kind: Kind
    state_class: str
    template: str


FIGURES: Mapping[str, Figure] = {
    "product_tds_mg_l": Figure(Kind(None, "mg/L"), "measurement", "value_json.derived.get('product_tds_mg_l')"),
    "recovery": Figure(
        Kind(None, "%"),
        "measurement",
        "none if value_json.derived.get('recovery') is none else (value_json.derived.recovery * 100) | round(1)",
    ),
    "run_litres": Figure(Kind("volume", "L"), "total_increasing", "(value_json.run or {}).get('litres')"),
    "run_energy": Figure(Kind("energy", "Wh"), "total_increasing", "(value_json.run or {}).get('energy_wh')"),
    "run_remaining": Figure(Kind("duration", "s"), "measurement", "(value_json.run or {}).get('remaining_s')"),
}

ASIDE = sorted(str(state) for state in SET_ASIDE)
STANDING = (
    f"(value_json.alarms or []) | rejectattr('state', 'in', {ASIDE}) | rejectattr('priority', 'eq', '{Priority.LOG}')"
)
"""Alarms that want a person: neither shelved nor meant for the log alone."""


def device_id(topics: Topics) -> str:
    """The plant's name in topics and ids of the convention."""
    return slug(topics.prefix)


def config_topic(prefix: str, topics: Topics) -> str:
    """Where the message stands."""
    return f"{prefix}/device/{device_id(topics)}/config"


def birth_topic(prefix: str) -> str:
    """Where a hub says that it has begun anew, and knows nothing of what was told before."""
    return f"{prefix}/status"


def shown(public: Payload) -> tuple[object, ...]:
    """What the message depends on: while this stays the same it need not be made anew."""
    return (public.get("boat"), public.get("simulated"), *sorted(public.get("readings") or ()))


def message(topics: Topics, public: Payload, *, commands: Iterable[str], page: str | None) -> Payload:
    """The message; `public` is a live snapshot, `commands` are those taken from the broker, `page` is the address."""
    own = device_id(topics)
    device = {
        "identifiers": [own],
        "name": texts.DEVICE_SIMULATED.format(boat=public["boat"]) if public["simulated"] else str(public["boat"]),
        "manufacturer": "Halocline",
        "model": texts.DEVICE_MODEL,
        "sw_version": __version__,
        **({} if page is None else {"configuration_url": page}),
    }
    return {
        "device": device,
        "origin": {"name": "Halocline", "sw_version": __version__},
        "availability": [
            {
                "topic": topics.status,
                "value_template": "{{ value_json.status }}",
                "payload_available": "online",
                "payload_not_available": "offline",
            }
        ],
        "components": {
            name: {
                **component,
                "unique_id": f"{own}_{name}",
                "default_entity_id": f"{component['platform']}.{own.replace('-', '_')}_{name}",
            }
            for name, component in _components(topics, public, commands)
        },
    }


def _components(topics: Topics, public: Payload, commands: Iterable[str]) -> Iterator[tuple[str, dict[str, object]]]:
    told = {"state_topic": topics.now, "expire_after": OUTDATED_S}
    for channel in public.get("readings") or ():
        if channel in CHANNELS:
            kind = OWN_KINDS.get(channel) or KINDS[CHANNELS[channel].unit]
            sensor = _sensor(words.channel_name(channel), kind, "measurement", _reading(channel))
            yield channel, {**sensor, **told}
    for name, figure in FIGURES.items():
        sensor = _sensor(texts.FIGURE_NAMES[name], figure.kind, figure.state_class, figure.template)
        yield name, {**sensor, **told}
    yield (
        "state",
        {
            "platform": "sensor",
            "name": texts.STATE_NAME,
            "device_class": "enum",
            "options": [words.state_name(state) for state in State],
            "value_template": _template(f"{_state_names()}.get(value_json.state)"),
            **told,
        },
    )
    yield (
        "sentence",
        {
            "platform": "sensor",
            "name": texts.SENTENCE_NAME,
            "value_template": _template(f"(value_json.sentence or '')[:{LONGEST_STATE}]"),
            **told,
        },
    )
    yield (
        "running",
        {
            "platform": "binary_sensor",
            "name": texts.RUNNING_NAME,
            "device_class": "running",
            "value_template": _switch("value_json.state", f"value_json.state in {sorted(map(str, RUNNING))}"),
            **told,
        },
    )
    yield (
        "problem",
        {
            "platform": "binary_sensor",
            "name": texts.PROBLEM_NAME,
            "device_class": "problem",
            "value_template": _switch("value_json.alarms", f"{STANDING} | list"),
            "json_attributes_topic": topics.now,
            "json_attributes_template": _template(f"{{'alarms': {STANDING} | map(attribute='name') | list}} | tojson"),
            **told,
        },
    )
    for command in commands:
        if not any(argument.needed for argument in COMMANDS[command].given):
            yield (
                command,
                {
                    "platform": "button",
                    "name": words.command_name(command),
                    "command_topic": topics.command,
                    "command_template": _order(command),
                    "qos": 1,
                    "retain": False,
                },
            )


def _sensor(name: str, kind: Kind, state_class: str, template: str) -> dict[str, object]:
    named = {} if kind.device_class is None else {"device_class": kind.device_class}
    return {
        "platform": "sensor",
        "name": name,
        "unit_of_measurement": kind.unit,
        "state_class": state_class,
        "value_template": _template(template),
        **named,
    }


def _reading(channel: str) -> str:
    """Where no quality stands beside it, only a good reading is a value."""
    of = f"value_json.readings.get('{channel}', {{}})"
    return f"{of}.get('value') if {of}.get('quality') == '{Quality.GOOD}' else none"


def _template(expression: str) -> str:
    return "{{ " + expression + " }}"


def _switch(known: str, on: str) -> str:
    """`None` is the convention's word for a state that is not known."""
    return f"{{{{ none if {known} is none else 'ON' if {on} else 'OFF' }}}}"


def _state_names() -> str:
    return json.dumps({str(state): words.state_name(state) for state in State}, ensure_ascii=False)


def _order(command: str) -> str:
    """A command with number and time of its own, which the hub fills in when the button is pressed."""
    content = {
        "command": command,
        "nonce": f"hub-{command}-{{{{ utcnow().timestamp() }}}}",
        "sent_at": "{{ utcnow().isoformat() }}",
        "who": "home hub",
    }
    return json.dumps(content)
