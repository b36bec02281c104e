import json
import re
from importlib import resources

import jsonschema
import pytest

from halocline.plant.command_definitions import ALWAYS_FROM_MQTT, NEVER_FROM_MQTT
from halocline.plant.settings import MqttSettings
from halocline.report.mqtt import connection, echo, outbox, payloads, texts
from halocline.report.mqtt.command_filter import CommandFilter, Sent
from halocline.report.mqtt.topics import Topics

KINDS = ("status", "now", "plan", "alarm", "health", "duties", "event", "command", "answer", "forecast")
TOPICS = resources.files("halocline.report.mqtt").joinpath("TOPICS.md").read_text("utf-8")


@pytest.mark.parametrize("kind", KINDS)
def test_each_schema_is_one_and_each_is_named_in_the_page(kind, aboard):
    jsonschema.Draft202012Validator.check_schema(aboard.schema(kind))
    assert f"`{kind}.json`" in TOPICS


@pytest.mark.parametrize("kind", ["status", "now", "plan", "alarm", "health", "duties", "event", "answer"])
def test_every_payload_has_to_carry_the_same_five(kind, aboard):
    assert {"schema", "boat", "boot", "seq", "time"} <= set(aboard.schema(kind)["required"])


def test_the_last_will_is_a_status(aboard):
    will = json.loads(payloads.last_will("Cagarra"))
    aboard.check("halocline/cagarra/status", will)
    assert will["status"] == "offline"


def test_a_live_and_a_lost_snapshot_are_as_the_schema_says(aboard):
    aboard.check("halocline/cagarra/now", aboard.public(alarms=[aboard.low_feed()]))
    aboard.check("halocline/cagarra/now", aboard.public(age_s=60.0))


def test_a_lost_snapshot_with_a_live_value_is_against_the_schema(aboard):
    wrong = {**aboard.public(age_s=60.0), "state": "producing"}
    with pytest.raises(jsonschema.ValidationError, match="'producing' is not of type 'null'"):
        aboard.check("halocline/cagarra/now", wrong)


def test_the_page_names_every_topic_and_every_reason(aboard):
    topics = Topics("…")
    said = (topics.status, topics.now, topics.plan, topics.alarm("<id>"), topics.health, topics.event, topics.answer)
    for topic in (*said, topics.duties, topics.command, topics.forecast):
        assert f"`{topic}`" in TOPICS
    for reason in aboard.schema("status")["properties"]["commands_dropped"]["propertyNames"]["enum"]:
        assert f"`{reason}`" in TOPICS
    for command in (ALWAYS_FROM_MQTT | NEVER_FROM_MQTT) - {"fault"}:
        assert f"`{command}`" in TOPICS


def test_the_page_gives_the_numbers_of_the_code():
    assert f"at most {outbox.EVENTS_KEPT};" in TOPICS
    assert f"Repeated every {outbox.STATUS_EVERY_S:.0f} s" in TOPICS
    assert f"younger than {outbox.OLD_AFTER_S:.0f} s" in TOPICS
    assert f'every {echo.EVERY_S:.0f} s, `{{"echo"' in TOPICS
    assert f"within the last {echo.HEARD_WITHIN_S:.0f} s" in TOPICS
    assert f"after {echo.DEAF_AFTER_S:.0f} s (a command" in TOPICS
    assert f"more than {connection.CROWD_PER_S:.0f} messages" in TOPICS
    assert f"for another {echo.HEARD_WITHIN_S:.0f} s" in TOPICS
    assert f"more than {outbox.OLD_AFTER_S:.0f} s for its confirmation" in TOPICS
    assert f"last {outbox.ANSWERS_REMEMBERED} answers" in TOPICS
    assert f"largest packet of {connection.LARGEST_PACKET_BYTES // 1024} kB" in TOPICS
    assert MqttSettings().enabled is False


def test_the_command_in_the_page_is_one_that_passes():
    written = re.search(r"-m '(\{.*\})'", TOPICS).group(1)
    payload = written.replace("'\"$(date +%s%N)\"'", "1790000000000").replace(
        "'\"$(date -u +%FT%TZ)\"'", "2026-09-21T14:13:20Z"
    )
    order = CommandFilter().judge(Sent(payload.encode()), 1_790_000_001.0)
    assert (order.command, order.who) == ("silence", "Ana")


def test_each_refusal_that_is_answered_says_what_to_do():
    for why in ("not_allowed", "stale", "flooded", "link_lost"):
        assert len(texts.REFUSALS[why].split(".")) >= 3
