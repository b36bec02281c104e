"""A command is defined once. A program of its own defines one more, before anything else is loaded; then every way in
knows it, with its arguments and their bounds."""

import json
import subprocess
import sys

import pytest

from halocline.control.permissives import CHECKS
from halocline.plant.command_definitions import COMMANDS, NEVER_FROM_MQTT, OPEN_TO_ALL, Shelve, Start
from halocline.plant.words.names import COMMAND_NAMES

DEFINED = '''
import json
from halocline.plant.command_fields import OverMqtt, Order, argument, command

@command("rinse_bow", mqtt=OverMqtt.{mqtt})
class RinseBow(Order):
    """rinse the bow with product"""

    litres: float | None = argument("litres of product", default=None, most=50)
    side: str = argument("which side", a_name=True, positional=True)

'''

ASKED = """
from pydantic import TypeAdapter, ValidationError

from halocline.cli.main import MODULES, build_parser
from halocline.config.checks.report import commands_may_come_from_a_broker
from halocline.control.commands import argument_problems
from halocline.control.inputs import Command
from halocline.plant.settings import MqttSettings, ReportSettings
from halocline.report.documents import command_schema, commands_table, taken_over_mqtt, COMMAND_SCHEMA
from halocline.report.http.orders import AnyOrder
from halocline.report.mqtt.command_filter import CommandFilter, Order as Passed, Sent

def taken_by_page(**order):
    try:
        TypeAdapter(AnyOrder).validate_python({"command": "rinse_bow", **order})
    except ValidationError as error:
        return [problem["type"] for problem in error.errors()]
    return []

def passes(added):
    sent = Sent(b'{"command":"rinse_bow","side":"port","nonce":"n1"}', expiry_s=1.0)
    return isinstance(CommandFilter(added).judge(sent, None), Passed)

typed = build_parser(["orders"]).parse_args(["rinse-bow", "port", "--litres", "4"])
owner = ReportSettings(mqtt=MqttSettings(commands=("rinse_bow",)))
print(json.dumps({
    "link": [problem.id for problem in argument_problems(Command("rinse_bow", {"litres": "x", "sails": 2}))],
    "link_good": [problem.id for problem in argument_problems(Command("rinse_bow", {"litres": 4, "side": "port"}))],
    "page": taken_by_page(litres=60.0, side=""),
    "page_good": taken_by_page(litres=4.0, side="port"),
    "typed": [typed.side, typed.litres, typed.name in MODULES["orders"]],
    "broker": passes([]),
    "broker_named": passes(["rinse_bow"]),
    "owner": [finding.key for finding in commands_may_come_from_a_broker(owner)],
    "schema": '"rinse_bow"' in command_schema(COMMAND_SCHEMA.read_text("utf-8")),
    "protocol": [line for line in commands_table().splitlines() if "`rinse_bow`" in line],
    "topics": [line.split(":")[0] for line in taken_over_mqtt().splitlines() if "`rinse_bow`" in line],
}))
"""


def told(mqtt: str) -> dict:
    program = DEFINED.format(mqtt=mqtt) + ASKED
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=False)
    assert ran.returncode == 0, ran.stderr
    return json.loads(ran.stdout)


def test_one_definition_opens_every_way_in() -> None:
    said = told("NAMED")
    assert said["link"] == ["argument_wrong", "argument_unknown"]
    assert said["link_good"] == said["page_good"] == said["owner"] == []
    assert said["page"] == ["less_than_equal", "string_too_short"]
    assert said["typed"] == ["port", 4.0, True]
    assert (said["broker"], said["broker_named"], said["schema"]) == (False, True, True)
    assert said["topics"] == ["- Taken if the owner names them under `commands`"]
    row = (
        "| `rinse_bow` | `litres`? number: litres of product; `side` text: which side | if the owner names it | "
        "a session | rinse the bow with product |"
    )
    assert said["protocol"] == [row]


def test_one_word_in_it_shuts_the_broker_out_everywhere() -> None:
    said = told("NEVER")
    assert (said["broker"], said["broker_named"], said["schema"]) == (False, False, False)
    assert said["owner"] == ["mqtt.commands"]
    assert said["topics"] == ["- Never taken, for they want a person whose presence is known"]


def test_every_command_has_its_checks_and_its_name() -> None:
    assert list(CHECKS) == list(COMMANDS) == list(COMMAND_NAMES)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_says_what_it_does_and_each_argument_what_it_is(name: str) -> None:
    definition = COMMANDS[name]
    assert definition.does == definition.does.strip(" .\n") != ""
    assert all(argument.doc for argument in definition.given)


def test_what_stops_or_quietens_is_open_to_all_and_what_moves_never_comes_from_a_broker() -> None:
    assert {"stop", "silence"} == OPEN_TO_ALL
    moving_or_undoing = {"start", "reset", "recommission", "bench", "calibrate", "service_unlock", "fault"}
    moving_or_undoing |= {"consent_flush", "withdraw_flush_consent"}
    assert moving_or_undoing == NEVER_FROM_MQTT


def test_an_order_carries_what_is_given_and_nothing_else() -> None:
    assert Start(litres=4.0).message() == {"command": "start", "litres": 4.0}
    assert Shelve(alarm="flush_due").message() == {"command": "shelve", "alarm": "flush_due", "minutes": 60.0}
    with pytest.raises(TypeError, match="sails"):
        Start(sails=2)  # type: ignore[call-arg]
