"""Joins the link, the live picture and the recorder."""

import logging
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from halocline.link.captures import CAPTURE
from halocline.link.client import BEGINNING, LinkFollower, Position
from halocline.link.messages import Message
from halocline.link.snapshot import completed
from halocline.plant.settings import RecordSettings
from halocline.report.conditions import Condition, Hearing, Watch
from halocline.report.live import Live
from halocline.report.public import Frame
from halocline.report.recorder import Recorder
from halocline.report.store import Entry

log = logging.getLogger(__name__)

RECORD_NAME = "record.sqlite3"

EventListener = Callable[[str, Mapping[str, Any]], None]


class Feed:
    """Everything report knows, fed by one link. `listeners` get (boot, event) for each event as it happens."""

    def __init__(
        self,
        link_path: str,
        data_dir: Path,
        frame: Frame,
        settings: RecordSettings,
        *,
        watch: Watch = Watch(),  # noqa: B008 - holds nothing
        batch_s: float = 60.0,
    ) -> None:
        self.record_path = data_dir / RECORD_NAME
        self.recorder = Recorder(self.record_path, settings, batch_s=batch_s, on_caught_up=self._catch_up)
        self.live = Live(frame, watch=self._conditions, there=lambda: self._follower.there)
        self._watch = watch
        self.listeners: list[EventListener] = []
        self._boot = ""
        self._told = BEGINNING
        self._limits: tuple[str, Any] = ("", None)
        self._calibrations: dict[str, Mapping[str, Any]] = {}
        self._follower = LinkFollower(link_path, "report", self._take, lambda: self.recorder.position)

    def start(self) -> None:
        """Opens the record and begins to follow the link."""
        self.recorder.start()
        self._follower.start()

    def stop(self) -> None:
        """Ends the link first, so that what came is written, then the recorder."""
        self.live.end()
        self._follower.stop()
        self.recorder.stop()

    def let_go(self) -> None:
        """The end is near: nobody shall wait for news or for answers any more."""
        self.live.end()
        self._follower.abandon()

    @property
    def connected(self) -> bool:
        """Whether the socket to control stands."""
        return self._follower.connected

    def command(self, message: Mapping[str, Any], timeout_s: float = 5.0) -> Message:
        """Sends a command (with its `origin` and `who`) and waits for {id, accepted, reasons}.

        Raises LinkLostError.
        """
        return self._follower.command(message, timeout_s)

    def _conditions(self, hearing: Hearing) -> tuple[Condition, ...]:
        return (*self._watch(hearing), *self.recorder.conditions())

    def _catch_up(self) -> None:
        self._follower.reconnect()

    def _take(self, message: Message) -> None:
        if "now" in message:
            self.live.update(completed(message["now"]))
            self._note_limits(message["now"].get("limits"))
        elif "row" in message:
            self.recorder.offer(Entry("row", self._boot, message["row"]))
        elif "event" in message:
            event = message["event"]
            self.recorder.offer(Entry("event", self._boot, event))
            if event.get("kind") == "calibration":
                self._note_calibration(event)
            if event.get("kind") != CAPTURE:
                self._tell(event)
        elif "hello" in message:
            self._boot = str(message["boot"])
            self._calibrations = {entry["channel"]: entry for entry in message.get("calibrations") or ()}
            self.recorder.offer(Entry("hello", self._boot, message))

    @property
    def calibrations(self) -> list[Mapping[str, Any]]:
        """The calibrations in force, as control lists them."""
        return list(self._calibrations.values())

    def _note_calibration(self, event: Mapping[str, Any]) -> None:
        known = {what: entry for what, entry in self._calibrations.items() if event.get("channel") not in (what, "all")}
        if not event.get("configured"):
            known[str(event.get("channel"))] = event
        self._calibrations = known

    def _note_limits(self, limits: Any) -> None:
        """What is in force belongs to the record of this boot; once is enough."""
        known = (self._boot, limits)
        if (
            limits
            and known != self._limits
            and self.recorder.offer(Entry("configuration", self._boot, {"limits": limits}))
        ):
            self._limits = known

    def _tell(self, event: Mapping[str, Any]) -> None:
        """Each event once, also when the recorder has to hear it again."""
        if self._told.boot == self._boot and event["seq"] <= self._told.seq:
            return
        self._told = Position(self._boot, event["seq"])
        for listener in self.listeners:
            try:
                listener(self._boot, event)
            except Exception:
                log.exception("an event could not be passed on")
