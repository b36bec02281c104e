"""What home hubs are told about the plant, judged by the convention's rules (`hub_rules.json`), by a sandbox that fills
in its templates as hubs do (Jinja, the convention's own language), and by a real broker."""

import json
import queue
from contextlib import closing
from copy import deepcopy
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import jsonschema
import pytest
from jinja2.sandbox import ImmutableSandboxedEnvironment
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from halocline.plant import words
from halocline.plant.command_definitions import ALWAYS_FROM_MQTT, COMMANDS, NEVER_FROM_MQTT
from halocline.plant.vocabulary import CHANNELS, DERIVED, State
from halocline.report.mqtt import announcer as announcer_module
from halocline.report.mqtt.announcer import Announcer
from halocline.report.mqtt.command_filter import CommandFilter, Order, Sent, taken
from halocline.report.mqtt.discovery import config_topic, message
from halocline.report.mqtt.topics import Topics
from live_snapshot import reading

TOPICS = Topics("halocline/cagarra")
WHERE = "homeassistant/device/halocline-cagarra/config"
RULES = jsonschema.Draft202012Validator(json.loads(Path(__file__).with_name("hub_rules.json").read_text("utf-8")))


@pytest.fixture
def whole(aboard):
    """Everything that a plant can measure, in a run."""
    run = {
        "id": "r1", "litres": 12.5, "target_l": 40.0, "seconds": 600.0, "energy_wh": 210.0, "energy_basis": "measured",
        "remaining_s": 1320.0,
    }  # fmt: skip
    return aboard.public(
        state="producing",
        readings={channel.id: reading(7.5, channel.unit) for channel in CHANNELS.values()},
        derived=dict.fromkeys(DERIVED, 0.25),
        run=run,
        alarms=[aboard.low_feed()],
    )


@pytest.fixture
def told(whole):
    return message(TOPICS, whole, commands=taken(COMMANDS), page="http://cagarra.local:8080/")


def rendered(template, value, clock=lambda: datetime.now(UTC)):
    """What a hub makes of `template`."""
    return ImmutableSandboxedEnvironment().from_string(template).render(value_json=value, utcnow=clock)


def at(wall_s):
    return lambda: datetime.fromtimestamp(wall_s, UTC)


def state_of(told, name, public):
    return rendered(told["components"][name]["value_template"], json.loads(json.dumps(public)))


def test_the_message_is_as_the_convention_wants_it(told):
    RULES.validate(told)
    assert config_topic("homeassistant", TOPICS) == WHERE
    ids = [component["unique_id"] for component in told["components"].values()]
    assert len(set(ids)) == len(ids)
    assert set(CHANNELS) < set(told["components"])


WRONG = {
    "no origin": lambda told: told.pop("origin"),
    "no identifier": lambda told: told["device"].update(identifiers=[]),
    "a unit of another class": lambda told: told["components"]["feed_pressure"].update(unit_of_measurement="°C"),
    "the micro sign for the letter mu": lambda told: told["components"]["product_conductivity"].update(
        unit_of_measurement="\N{MICRO SIGN}S/cm"
    ),
    "a class of nobody": lambda told: told["components"]["feed_pressure"].update(device_class="force"),
    "a sum that is a measurement": lambda told: told["components"]["run_energy"].update(state_class="measurement"),
    "an order that stays": lambda told: told["components"]["stop"].update(retain=True),
    "an entity of another platform": lambda told: told["components"]["stop"].update(default_entity_id="sensor.stop"),
    "a state with a unit": lambda told: told["components"]["state"].update(unit_of_measurement="1"),
}


@pytest.mark.parametrize("spoil", WRONG.values(), ids=WRONG)
def test_the_rules_catch_what_a_hub_would_refuse(spoil, told):
    wrong = deepcopy(told)
    spoil(wrong)
    with pytest.raises(jsonschema.ValidationError):
        RULES.validate(wrong)


def test_a_hub_shows_what_now_says(told, whole):
    assert state_of(told, "feed_pressure", whole) == "7.5"
    assert state_of(told, "recovery", whole) == "25.0"
    assert state_of(told, "run_litres", whole) == "12.5"
    assert state_of(told, "running", whole) == "ON"
    assert state_of(told, "state", whole) == words.state_name("producing")
    assert state_of(told, "sentence", whole) == whole["sentence"][:255]


def test_each_state_is_one_of_those_that_were_announced(told, whole):
    for state in State:
        assert state_of(told, "state", {**whole, "state": str(state)}) in told["components"]["state"]["options"]


@pytest.mark.parametrize("quality", ["under", "over", "stale", "missing", "implausible"])
def test_a_reading_that_is_not_good_is_unknown_to_a_hub(quality, told, whole):
    poor = {**whole, "readings": {"feed_pressure": reading(7.5, "bar", quality)}}
    assert state_of(told, "feed_pressure", poor) == "None"
    assert state_of(told, "sea_temperature", poor) == "None"


def test_with_the_link_lost_everything_is_unknown(told, aboard):
    lost = aboard.public(age_s=60.0)
    for name, component in told["components"].items():
        if "state_topic" in component and name != "sentence":
            assert state_of(told, name, lost) == "None", name


def test_an_alarm_is_a_problem_until_it_is_gone_or_set_aside(told, whole, aboard):
    assert state_of(told, "problem", whole) == "ON"
    for state in ("shelved", "suppressed", "out-of-service"):
        alarms = aboard.public(alarms=[aboard.low_feed(state)])["alarms"]
        assert state_of(told, "problem", {**whole, "alarms": alarms}) == "OFF"
    assert state_of(told, "problem", {**whole, "alarms": [{**whole["alarms"][0], "priority": "log"}]}) == "OFF"
    assert state_of(told, "problem", {**whole, "alarms": []}) == "OFF"
    attributes = json.loads(rendered(told["components"]["problem"]["json_attributes_template"], whole))
    assert attributes == {"alarms": [whole["alarms"][0]["name"]]}


def test_buttons_are_only_what_a_broker_may_bring(whole):
    def buttons(commands):
        components = message(TOPICS, whole, commands=commands, page=None)["components"]
        return {name for name, component in components.items() if component["platform"] == "button"}

    assert buttons(()) == set()
    assert buttons(taken(())) == ALWAYS_FROM_MQTT
    assert buttons(taken(COMMANDS)) == {*ALWAYS_FROM_MQTT, "flush", "lay_up"}
    assert not buttons(taken(COMMANDS)) & NEVER_FROM_MQTT


def test_a_pressed_button_is_a_command_that_is_taken_once(told):
    moments = count(1_790_000_000)
    gate = CommandFilter(COMMANDS)
    for name, component in told["components"].items():
        if component["platform"] == "button":
            pressed_s = next(moments)
            pressed = rendered(component["command_template"], None, at(pressed_s)).encode()
            order = gate.judge(Sent(pressed), pressed_s + 1.0)
            assert isinstance(order, Order), name
            assert (order.command, order.who, dict(order.arguments)) == (name, "home hub", {})
            late_s = next(moments)
            late = rendered(component["command_template"], None, at(late_s)).encode()
            assert isinstance(gate.judge(Sent(late), late_s + 60.0), Order) is False, name


def test_a_simulated_boat_is_named_as_one(whole):
    assert message(TOPICS, whole, commands=(), page=None)["device"]["name"] == "Cagarra (SIMULATED)"
    aboard = {**whole, "simulated": False}
    assert message(TOPICS, aboard, commands=(), page=None)["device"]["name"] == "Cagarra"


def test_a_hub_that_begins_anew_is_answered_but_no_faster_than_every_ten_seconds():
    announcer = Announcer(TOPICS, prefix="homeassistant")
    announcer.heard(b"offline")
    assert not announcer.again(0.0)
    announcer.heard(b"online")
    assert announcer.again(0.0)
    assert not announcer.again(1.0)
    for _ in range(1000):
        announcer.heard(b"online")
    assert not announcer.again(announcer_module.BIRTHS_APART_S - 0.1)
    assert announcer.again(announcer_module.BIRTHS_APART_S)
    assert not announcer.again(2 * announcer_module.BIRTHS_APART_S)


def test_a_file_of_garbage_announces_all_the_same(tmp_path, whole, caplog):
    memory = tmp_path / "announced.json"
    memory.write_bytes(b"\xff{")
    announcer = Announcer(TOPICS, prefix="homeassistant", memory=memory)
    announcer.look(whole)
    assert set(announcer.wanted) == {WHERE}
    assert json.loads(memory.read_text()) == [WHERE]
    assert "cannot be read" in caplog.text


class Hub:
    """Hears what is announced, and can say that it has begun anew."""

    def __init__(self, port, topic="#"):
        self.heard = queue.SimpleQueue()
        self._ready = queue.SimpleQueue()
        client = self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        client.on_connect = lambda client, *_: client.subscribe(topic)
        client.on_subscribe = lambda *_: self._ready.put(True)
        client.on_message = self._on_message
        client.connect("127.0.0.1", port)
        client.loop_start()
        self._ready.get(timeout=5)

    def _on_message(self, _client, _data, message):
        if "/device/" in message.topic:
            self.heard.put((message.topic, message.payload, bool(message.retain)))

    def begins_anew(self, prefix="homeassistant"):
        self._client.publish(f"{prefix}/status", b"online", 1).wait_for_publish(5)

    def says_a_last_word(self):
        self._client.publish("end/device/end", b"", 1).wait_for_publish(5)

    def next(self, timeout_s=8.0):
        return self.heard.get(timeout=timeout_s)

    def close(self):
        self._client.disconnect()
        self._client.loop_stop()


@pytest.mark.system
def test_the_message_stands_at_the_broker_and_comes_again_when_a_hub_begins_anew(broker, publish, until):
    with closing(Hub(broker.port)) as hub:
        publish(discovery=True, accept_commands=True)
        topic, payload, _ = hub.next()
        told = json.loads(payload)
        RULES.validate(told)
        assert (topic, set(told["components"]) & set(COMMANDS)) == (WHERE, set(ALWAYS_FROM_MQTT))
        hub.begins_anew()
        assert hub.next() == (topic, payload, False)
        with closing(Hub(broker.port)) as later:
            assert later.next() == (topic, payload, True)


@pytest.mark.system
def test_what_was_announced_is_taken_away_when_it_is_switched_off_or_stands_elsewhere(broker, publish, until, tmp_path):
    memory = tmp_path / "announced.json"
    with closing(Hub(broker.port)) as hub:
        first = publish(discovery=True, announced=memory)
        assert hub.next()[0] == WHERE
        first.stop()
        second = publish(discovery=True, discovery_prefix="hubs", announced=memory)
        moved = dict([hub.next()[:2], hub.next()[:2]])
        assert moved[WHERE] == b""
        assert "hubs/device/halocline-cagarra/config" in moved
        until(lambda: json.loads(memory.read_text()) == ["hubs/device/halocline-cagarra/config"])
        second.stop()
        publish(announced=memory)
        assert hub.next()[:2] == ("hubs/device/halocline-cagarra/config", b"")
        until(lambda: json.loads(memory.read_text()) == [])
    with closing(Hub(broker.port)) as later:
        later.says_a_last_word()
        assert later.next()[0] == "end/device/end"


@pytest.mark.system
def test_nothing_is_announced_unless_the_owner_wants_it(broker, publish, listen):
    with closing(Hub(broker.port)) as hub:
        publish()
        listen().wait_for("now")
        hub.says_a_last_word()
        assert hub.next()[0] == "end/device/end"
