"""What documents and schemas say of commands and snapshot, made from their definitions (`make docs` runs it)."""

import json
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from halocline.plant.command_definitions import ALWAYS_FROM_MQTT, COMMANDS, NEVER_FROM_MQTT
from halocline.plant.command_fields import Definition
from halocline.plant.duties import DUTIES, Duty, While
from halocline.plant.marked_blocks import filled
from halocline.plant.words.duty_texts import DUTY_TEXTS
from halocline.report.http.shapes import model_of
from halocline.report.planning.question import Forecast
from halocline.report.planning.question_schema import schema_of
from halocline.report.public_types import PublicSnapshot

PACKAGE = Path(__file__).parents[1]
PROTOCOL = PACKAGE / "link" / "PROTOCOL.md"
TOPICS = PACKAGE / "report" / "mqtt" / "TOPICS.md"
SCHEMAS = PACKAGE / "report" / "mqtt" / "schemas"
DUTIES_PAGE = PACKAGE / "report" / "duties" / "DUTIES.md"
COMMAND_SCHEMA, NOW_SCHEMA = SCHEMAS / "command.json", SCHEMAS / "now.json"
FORECAST_SCHEMA = SCHEMAS / "forecast.json"


def commands_table() -> str:
    """Every command with its arguments and its ways in."""
    return "\n".join(_commands_table()) + "\n"


def _commands_table() -> Iterator[str]:
    yield "| command | arguments | over MQTT | the page asks other devices for | what it does |"
    yield "|---|---|---|---|---|"
    for one in COMMANDS.values():
        yield f"| `{one.name}` | {_arguments(one)} | {one.mqtt} | {one.page} | {one.does} |"


def _arguments(definition: Definition) -> str:
    told = [f"`{one.name}`{'' if one.needed else '?'} {one.form.short}: {one.text}" for one in definition.given]
    return "; ".join([*told, *(["and what the fault takes"] if definition.takes_more else [])]) or "—"


def duties_table() -> str:
    """Every duty with its intervals, what it is judged by and what it uses up."""
    head = ("| duty | due | minutes | by an entry | test | uses | source |", "|---|---|---|---|---|---|---|")
    return "\n".join([*head, *map(_duty_row, DUTIES)]) + "\n"


def _duty_row(duty: Duty) -> str:
    entries = ", ".join(f"`{kind}`" for kind in duty.kinds) or "`duty_done`"
    uses = ", ".join(f"{count:g} `{part}`" for part, count in (duty.uses or {}).items())
    return (
        f"| `{duty.id}`: {DUTY_TEXTS[duty.id].name} | {_intervals(duty)} | {duty.minutes:g} | {entries} |"
        f" {_expected(duty)} | {uses} | {duty.source} |"
    )


def _intervals(duty: Duty) -> str:
    days = [] if duty.days is None else [f"{duty.days:g} days"]
    warm = [] if duty.warm_days is None else [f"{duty.warm_days:g} in warm water"]
    first = [] if duty.first_pump_h is None else [f"first {duty.first_pump_h:g} pump hours"]
    hours = [] if duty.pump_h is None else [f"{duty.pump_h:g} pump hours"]
    litres = [] if duty.product_l is None else [f"{duty.product_l:g} L"]
    after = [f"after `{kind}`" for kind in duty.after]
    while_ = {While.ALWAYS: [], While.USED: ["while used"], While.LAID_UP: ["while laid up"]}[duty.counts]
    fitted = ["from its first entry on"] if duty.begins else []
    return ", ".join([*days, *warm, *first, *hours, *litres, *after, *while_, *fitted])


def _expected(duty: Duty) -> str:
    rule = duty.expected
    if rule is None:
        return ""
    near = f" ± {rule.tolerance:g}" if rule.sense == "near" else ""
    setting = f" (`{'.'.join(rule.setting)}`)" if rule.setting else ""
    return f"{rule.sense.replace('_', ' ')} {rule.value:g}{near} {rule.unit}{setting}"


def _in_order(names: frozenset[str]) -> list[str]:
    return [name for name in COMMANDS if name in names]


def _listed(names: frozenset[str]) -> str:
    return ", ".join(f"`{name}`" for name in _in_order(names))


def taken_over_mqtt() -> str:
    """Which commands a broker may bring."""
    named = frozenset(COMMANDS) - ALWAYS_FROM_MQTT - NEVER_FROM_MQTT
    return (
        f"- Taken always: {_listed(ALWAYS_FROM_MQTT)}.\n"
        f"- Taken if the owner names them under `commands`: {_listed(named)}.\n"
        f"- Never taken, for they want a person whose presence is known: {_listed(NEVER_FROM_MQTT)}.\n"
    )


def command_schema(now: str) -> str:
    """The schema with the commands that a broker may bring."""
    schema = json.loads(now)
    always, never = _in_order(ALWAYS_FROM_MQTT), NEVER_FROM_MQTT
    schema["properties"]["command"] = {
        "enum": always + [name for name in COMMANDS if name not in never and name not in always],
        "description": f"{', '.join(always)}; the others only if the owner names them",
    }
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def now_schema(now: str) -> str:
    """The schema of the public snapshot, with its own head, its own descriptions and what holds with the link lost."""
    schema = json.loads(now)
    told = {key: one["description"] for key, one in schema["properties"].items() if "description" in one}
    made = model_of(PublicSnapshot).model_json_schema(by_alias=True)
    for key, text in told.items():
        made["properties"][key]["description"] = text
    schema |= {"properties": made["properties"], "required": made["required"], "$defs": made["$defs"]}
    return json.dumps(_untitled(schema), indent=2, ensure_ascii=False) + "\n"


def forecast_schema(_now: str) -> str:
    """The schema of a forecast, from the table that reads it."""
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "forecast"}
    about = {"description": "A forecast of sun, engine and sea, and forbidden times."}
    return json.dumps({**head, **about, **schema_of(Forecast)}, indent=2, ensure_ascii=False) + "\n"


def _untitled(schema: Any) -> Any:
    """Without the titles that only repeat a key."""
    if isinstance(schema, list):
        return [_untitled(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    repeats = "title" in schema and "$schema" not in schema and isinstance(schema["title"], str)
    return {key: _untitled(one) for key, one in schema.items() if key != "title" or not repeats}


BLOCKS: Mapping[str, Callable[[], str]] = {
    "commands": commands_table,
    "commands-over-mqtt": taken_over_mqtt,
    "duties": duties_table,
}

DOCUMENTS: Mapping[Path, Callable[[str], str]] = {
    PROTOCOL: lambda now: filled(now, BLOCKS),
    TOPICS: lambda now: filled(now, BLOCKS),
    DUTIES_PAGE: lambda now: filled(now, BLOCKS),
    COMMAND_SCHEMA: command_schema,
    NOW_SCHEMA: now_schema,
    FORECAST_SCHEMA: forecast_schema,
}
"""Each with what makes it anew from what it is."""


def main() -> None:
    """Write them."""
    for path, made in DOCUMENTS.items():
        path.write_text(made(path.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
