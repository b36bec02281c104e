"""Everybody outside whom report tells of the plant: who they are by the settings, and how it goes with each."""

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from halocline.plant.settings import ReportSettings
from halocline.report.addresses import Served, url_by_name
from halocline.report.duties.latest import WorkAhead
from halocline.report.duties.unasked import UnaskedDuties
from halocline.report.feed import Feed
from halocline.report.health.latest import Latest
from halocline.report.health.unasked import UnaskedHealth
from halocline.report.mqtt.announcer import FILE_NAME as ANNOUNCED_NAME
from halocline.report.mqtt.publisher import Health, Publisher
from halocline.report.parts import AskPart, PartName
from halocline.report.planning.planner import Planner
from halocline.report.planning.unasked import UnaskedPlan
from halocline.report.secrets import SecretsError, read_secrets

log = logging.getLogger(__name__)


class Service(Protocol):
    """Something else that lives on the feed: begins without waiting, ends within two seconds."""

    def start(self) -> None:
        """Begins."""

    def stop(self) -> None:
        """Ends."""


def no_broker() -> Health | None:
    """There is none."""
    return None


@dataclass(slots=True)
class Peers:
    """The services that speak to others, how each does, and how it goes with the broker."""

    services: list[Service] = field(default_factory=list)
    parts: dict[PartName, AskPart] = field(default_factory=dict)
    broker: Callable[[], Health | None] = no_broker


@dataclass(frozen=True, slots=True)
class Aboard:
    """Whose report this is: the boat's name, where its record is, its secrets, and where its page answers."""

    boat: str
    data_dir: Path
    secrets: Path
    served: Served


def peers_of(feed: Feed, planner: Planner, health: UnaskedHealth, settings: ReportSettings, aboard: Aboard) -> Peers:
    """Those that the settings turn on; nothing is started yet."""
    peers = Peers()
    if settings.mqtt.enabled:
        _broker(peers, feed, planner, health, settings, aboard)
    return peers


def _broker(
    peers: Peers, feed: Feed, planner: Planner, health: UnaskedHealth, settings: ReportSettings, aboard: Aboard
) -> None:
    plan = UnaskedPlan(planner, feed.live.heard, settings.units)
    publisher = Publisher(
        settings.mqtt,
        aboard.boat,
        send_command=feed.command,
        password=_secret(aboard.secrets, "mqtt", "password"),
        units=settings.units,
        snapshots=feed.live.public,
        on_forecast=plan.bring,
        announced=aboard.data_dir / ANNOUNCED_NAME,
        page=url_by_name(aboard.served),
    )
    # What is due needs no figures of health, so it gets none that would be computed for it alone.
    duties = UnaskedDuties(feed.record_path, WorkAhead(Latest()))
    duties.listeners.append(publisher.take_duties)
    feed.listeners.append(publisher.take_event)
    health.listeners.append(publisher.take_health)
    plan.listeners.append(publisher.take_plan)
    peers.services += [publisher, plan, duties]
    peers.parts["mqtt"] = publisher.part
    peers.broker = publisher.health


def _secret(path: Path, table: str, key: str) -> str:
    try:
        found: Mapping[str, str] = read_secrets(path).get(table, {})
        return found.get(key, "")
    except SecretsError as error:
        log.warning("%s", error)
        return ""
