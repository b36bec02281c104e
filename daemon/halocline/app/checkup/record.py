"""The record's file, and the broker."""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from halocline.app.checkup.card import megabytes
from halocline.app.checkup.lines import Line
from halocline.app.os_errors import in_words
from halocline.plant import words
from halocline.plant.settings import MqttSettings
from halocline.report.database_open import (
    FORBIDS,
    TROUBLE,
    DamagedError,
    StoreError,
    connect_to_read,
    head_forbids_writing,
    migrations_of,
    said,
)
from halocline.report.quarantine import kept_aside
from halocline.report.schema import MIGRATIONS

if TYPE_CHECKING:
    from halocline.report.mqtt.failures import Failure

LOOK_S = 20.0
"""A year's record is read in less on a usual card; more would try a person's patience."""
LOOK_EVERY = 10_000
"""Steps of SQLite's machine between two looks at the clock."""
STANDS_S = 300.0
"""Five of report's batches."""
BROKER_S = 5.0


def record_lines(path: Path, *, thorough: bool, control_lives: bool, wall_s: float) -> Iterator[Line]:
    """The record's file, and what lies aside of it; `thorough` reads all of it."""
    if aside := kept_aside(path):
        yield Line("record_aside", {"folder": path.parent, "names": ", ".join(aside)})
    try:
        if not path.exists():
            yield Line("record_none", {"folder": path.parent})
            return
        size = megabytes(record_mb(path))
        with closing(connect_to_read(path)) as connection:
            yield _looked(path, connection, size, thorough=thorough)
    except DamagedError as error:
        yield Line("record_damaged", {"text": error})
    except StoreError as error:
        yield Line("record_unreadable", {"text": error})
        return
    except OSError as error:
        yield Line("record_unreadable", {"text": in_words(error)})
        return
    age_s = wall_s - _written_s(path)
    if control_lives and age_s > STANDS_S:
        yield Line("record_stands", {"path": path, "age": words.duration(age_s)})


def record_mb(path: Path) -> float:
    """What the record takes, journal and all; nothing where that cannot be seen."""
    try:
        return sum(file.stat().st_size for file in _files(path)) / 1e6
    except OSError:
        return 0.0


def _files(path: Path) -> list[Path]:
    return [file for file in (path, path.with_name(f"{path.name}-wal")) if file.exists()]


def _written_s(path: Path) -> float:
    return max(file.stat().st_mtime for file in _files(path))


def _looked(path: Path, connection: sqlite3.Connection, size: str, *, thorough: bool) -> Line:
    """Raises StoreError."""
    values = {"path": path, "size": size}
    if head_forbids_writing(path):
        return Line("record_damaged", {"text": f"{path}: {FORBIDS}"})
    try:
        done = migrations_of(connection)
        if done - set(MIGRATIONS):
            return Line("record_later", values)
        if done and set(MIGRATIONS) - done:
            return Line("record_earlier", values)
        if not thorough:
            return Line("record_opened", values)
        found = _quick_check(connection)
    except TROUBLE as error:
        raise said(path, "read", error) from None
    if found is None:
        return Line("record_long", {**values, "seconds": f"{LOOK_S:.0f}"})
    return Line("record_sound", values) if found == "ok" else Line("record_damaged", {"text": f"{path}: {found}"})


def _quick_check(connection: sqlite3.Connection) -> str | None:
    """SQLite's own word on its pages, None where it took too long."""
    until_s = time.monotonic() + LOOK_S
    connection.set_progress_handler(lambda: time.monotonic() > until_s, LOOK_EVERY)
    try:
        (found,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.OperationalError as error:
        if error.sqlite_errorname == "SQLITE_INTERRUPT":
            return None
        raise
    finally:
        connection.set_progress_handler(None, 0)
    return str(found)


def broker_lines(mqtt: MqttSettings, password: str, secrets: Path) -> Iterator[Line]:
    """Whether the broker takes us, by asking it as report would."""
    if not mqtt.enabled:
        yield Line("broker_off")
        return
    # Only where there is a broker: what the library brings costs a check-up time and memory.
    from halocline.report.mqtt.failures import of_error  # noqa: PLC0415
    from halocline.report.mqtt.tls import TlsFileError  # noqa: PLC0415

    values = {"host": mqtt.host, "port": mqtt.port}
    try:
        refused = _greet(mqtt, password, secrets)
    except OSError as error:
        failure = of_error(error, tls=mqtt.tls)
        yield Line("broker_unreachable", {**values, "text": failure.what, "remedy": failure.do})
    except TlsFileError as error:
        yield Line("broker_files", {"text": error.failure.what, "remedy": error.failure.do})
    else:
        told = {} if refused is None else {"text": refused.what, "remedy": refused.do}
        yield Line("broker_reached" if refused is None else "broker_refuses", {**values, **told})


def _greet(mqtt: MqttSettings, password: str, secrets: Path) -> "Failure | None":
    """Connect and leave; what the broker had against it. Raises OSError and TlsFileError."""
    from paho.mqtt.client import Client, ConnectFlags, MQTTv5  # noqa: PLC0415 - only where there is a broker
    from paho.mqtt.enums import CallbackAPIVersion  # noqa: PLC0415
    from paho.mqtt.properties import Properties  # noqa: PLC0415
    from paho.mqtt.reasoncodes import ReasonCode  # noqa: PLC0415

    from halocline.report.mqtt.failures import of_error, of_reason  # noqa: PLC0415
    from halocline.report.mqtt.tls import tls_context, tls_files  # noqa: PLC0415

    answers: list[ReasonCode] = []
    ended: list[bool] = []

    def answered(
        _client: Client, _data: object, _flags: ConnectFlags, code: ReasonCode, _properties: Properties | None
    ) -> None:
        answers.append(code)

    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTv5)
    client.on_connect = answered
    client.on_disconnect = lambda *_: ended.append(True)
    client.connect_timeout = BROKER_S
    files = tls_files(mqtt)
    context = None if files is None else tls_context(files)
    if context is not None:
        client.tls_set_context(context)
    if mqtt.username:
        client.username_pw_set(mqtt.username, password)
    try:
        client.connect(mqtt.host, mqtt.port, keepalive=int(mqtt.keepalive_s))
        until_s = time.monotonic() + BROKER_S
        while not answers and not ended and time.monotonic() < until_s:
            client.loop(timeout=0.2)
    finally:
        client.disconnect()
    if answers:
        code = answers[0]
        return of_reason(code, client_id="", secrets=str(secrets)) if code.is_failure else None
    if ended:
        return of_error(None if context is None else context.complaint, tls=mqtt.tls)
    raise TimeoutError(f"no answer within {BROKER_S:.0f} s")
