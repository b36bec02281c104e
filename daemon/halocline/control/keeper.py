"""Everything of control that may wait: the latch file, the link, the log. The loop never waits for it.

The keeper takes news from the loop, writes the latch, gives each row and event its number in the ring, and hands
commands from the link to the loop. A command whose effect must survive a restart is given back to the loop only
after the file is on the card; a file that cannot be written refuses it and every start.
"""

import logging
import queue
import time
import uuid
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from halocline.control import calibrations as calibration_file
from halocline.control import latch as latch_file
from halocline.control.calibrating import Made
from halocline.control.calibrations import Calibrations, listed
from halocline.control.clerk import Clerk, Then
from halocline.control.commands import Paper
from halocline.control.inputs import Command, Reason
from halocline.control.latch import Latch
from halocline.control.loop import News, World
from halocline.control.until import with_resolved_until
from halocline.link.messages import LinkError, Message
from halocline.link.peers import Peer
from halocline.link.ring import Ring
from halocline.link.server import LinkServer
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import Origin

POLL_S = 0.02
IDLE_NOTE_S = 900.0
LATCH_RETRY_S = 2.0
CLOCK_MOVED_S = 5.0
LAST_WRITES_S = 0.6
CLOCK_SET_AFTER_S = 1_767_225_600.0
FROM_LINK = frozenset({Origin.PAGE, Origin.CLI, Origin.MQTT})

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Identity:
    """Who this start of control is."""

    boot: str
    host_boot: str
    simulated: bool
    version: str
    started_s: float
    boat: str = ""
    configuration: Mapping[str, Any] = field(default_factory=dict)


def configuration_in_force(settings: Settings) -> dict[str, Any]:
    """The settings that decide what a run does, small enough for the link's first line; wiring is not among them."""
    tables = ("plant", "membrane", "drive", "limits", "sequence")
    return {table: asdict(getattr(settings, table)) for table in tables}


def new_boot() -> str:
    """A random id for one start of control."""
    return uuid.uuid4().hex[:12]


def host_boot() -> str:
    """The kernel's id of this boot of the computer; empty where there is none to read."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        return ""


def wall_clock_s() -> float | None:
    """Unix time, or None while the computer cannot know it: before this version was written it is not set."""
    wall_s = time.time()
    return wall_s if wall_s > CLOCK_SET_AFTER_S else None


def _fault_refused(refusal: str) -> dict[str, Any]:
    return {"id": "fault_refused", "values": {"text": refusal}}


def _as_it_came(events: Iterable[dict[str, Any]], refusals: Iterable[str | None]) -> Iterator[dict[str, Any]]:
    """The events, with a fault that the simulated boat refused as refused: the loop, which lets every fault through,
    cannot know. `refusals` stand in the order of the faults that were let through."""
    said = iter(refusals)
    for event in events:
        let_through = event.get("kind") == "command" and event.get("command") == "fault" and event.get("accepted")
        refusal = next(said, None) if let_through else None
        yield event if refusal is None else {**event, "accepted": False, "reasons": [_fault_refused(refusal)]}


class Keeper:
    """The keeper thread's body. Call `poll` again and again; it waits at most 20 ms."""

    def __init__(
        self,
        identity: Identity,
        socket_path: Path,
        latch_path: Path,
        calibrations_path: Path,
        world: World,
        commands: "queue.SimpleQueue[Command]",
        news: "queue.Queue[News]",
        *,
        wall_s: Callable[[], float | None] = wall_clock_s,
        group: str | None = None,
        on_simulate: Callable[[Command], str | None] = lambda _command: None,
        calibrations: Calibrations = calibration_file.NONE,
        threaded: bool = False,
    ) -> None:
        self._identity = identity
        self._latch_path = latch_path
        self._calibrations_path = calibrations_path
        self._calibrations = calibrations
        self._world = world
        self._commands = commands
        self._news = news
        self._wall_s = wall_s
        self._on_simulate = on_simulate
        self._ring = Ring(identity.boot)
        self._clerk = Clerk(threaded=threaded)
        self._persists: deque[tuple[Command, Paper]] = deque()
        self._latch_waiting: Latch | None = None
        self._latch_retry_s = 0.0
        self._idle_noted_s = identity.started_s
        self._latch: Latch | None = None
        self._stamp_ahead_s: float | None = None
        self._server = LinkServer(str(socket_path), self._ring, self._hello, self._on_command, group=group)

    def _hello(self) -> dict[str, Any]:
        return {
            "boat": self._identity.boat,
            "host_boot": self._identity.host_boot,
            "simulated": self._identity.simulated,
            "mono_s": round(time.monotonic(), 3),
            "wall_s": self._stamp_wall(),
            "version": self._identity.version,
            "configuration": dict(self._identity.configuration),
            "calibrations": listed(self._calibrations),
            "calibrations_unreadable": self._calibrations.unreadable,
        }

    def _stamp_wall(self) -> float | None:
        wall_s = self._wall_s()
        return None if wall_s is None else round(wall_s, 3)

    def poll(self) -> None:
        """Serve the link and take what the loop has to say."""
        self._server.poll(POLL_S)
        self._world.clock_set = self._wall_s() is not None
        while True:
            try:
                news = self._news.get_nowait()
            except queue.Empty:
                break
            self._take(news)
        self._keep_latch()

    def close(self) -> None:
        """Send out what is still waiting, write the latch a last time, close the link."""
        self.poll()
        give_up_s = time.monotonic() + LAST_WRITES_S
        while self._owes_the_card() and time.monotonic() < give_up_s:
            time.sleep(POLL_S)
            self._keep_latch()
        self._server.close()

    def _owes_the_card(self) -> bool:
        return bool(self._clerk.busy_s is not None or self._latch_waiting or self._persists)

    # ---- from the loop ---------------------------------------------------------------------------

    def _take(self, news: News) -> None:
        if news.latch is not None:
            self._latch_waiting = news.latch
        self._persists.extend(news.persist)
        refusals = [self._on_simulate(command) for command in news.simulate]
        stamp = {"mono_s": round(news.mono_s, 3), "wall_s": self._stamp_wall()}
        for event in _as_it_came(news.events, refusals):
            self._append(self._ring.append_event, {**stamp, **event})
        if news.row is not None:
            self._append(self._ring.append_row, {**stamp, **news.row})
        if news.now is not None:
            self._publish({**stamp, **news.now})
        refused = {command.token: refusal for command, refusal in zip(news.simulate, refusals, strict=True)}
        for token, accepted, reasons in news.answers:
            self._answer(token, accepted, reasons, refused.get(token))

    def _append(self, append: Callable[[dict[str, Any]], int], message: dict[str, Any]) -> None:
        try:
            append(message)
        except LinkError as error:
            log.error("the record lost a line: %s", error)

    def _publish(self, now: dict[str, Any]) -> None:
        stamped = {
            **now,
            "boot": self._identity.boot,
            "seq": self._ring.seq_last,
            "uptime_s": round(now["mono_s"] - self._identity.started_s, 1),
        }
        try:
            self._server.publish_now(stamped)
        except LinkError as error:
            log.error("a snapshot could not be sent: %s", error)

    def _answer(self, token: str, accepted: bool, reasons: list[Reason], refusal: str | None) -> None:
        client, _, command_id = token.partition(":")
        if not client:
            return
        messages = [reason.as_message() for reason in reasons]
        if refusal is not None:
            accepted, messages = False, [_fault_refused(refusal)]
        against, told = ([], messages) if accepted else (messages, [])
        self._server.answer(int(client), command_id, accepted=accepted, reasons=against, told=told)

    # ---- the latch file ---------------------------------------------------------------------------

    def _keep_latch(self) -> None:
        """One write after the other: what somebody waits for first, then the newest of the rest."""
        clerk = self._clerk
        clerk.poll()
        now_s = time.monotonic()
        due = now_s - self._idle_noted_s > IDLE_NOTE_S or self._clock_was_moved(now_s)
        if due and self._latch_waiting is None and self._latch is not None:
            self._idle_noted_s = now_s
            self._latch_waiting = self._latch
        while clerk.busy_s is None and self._begin_write(now_s):
            clerk.poll()
        if (clerk.busy_s or 0.0) > LATCH_RETRY_S:
            self._note_writable("it does not answer")

    def _clock_was_moved(self, now_s: float) -> bool:
        """Set since the file was stamped: by the old stamp the time set would count as time the computer was away."""
        wall_s, ahead_s = self._wall_s(), self._stamp_ahead_s
        if wall_s is None or ahead_s is None:
            return (wall_s is None) is not (ahead_s is None)
        return abs(wall_s - now_s - ahead_s) > CLOCK_MOVED_S

    def _begin_write(self, now_s: float) -> bool:
        """Begin the next write, if one is due."""
        older, stamp = self._latch_waiting, self._stamp_wall()
        if self._persists and isinstance(made := self._persists[0][1], Made):
            command, _ = self._persists.popleft()
            changed = made.change(self._calibrations)
            content = calibration_file.encode(changed)
            self._clerk.begin(self._calibrations_path, content, partial(self._calibrated, command, changed))
        elif self._persists and isinstance(latch := self._persists[0][1], Latch):
            command, _ = self._persists.popleft()
            self._latch_waiting = None  # older than what goes on file now; the loop sends a newer one with its answer
            self._write(replace(latch, saved_wall_s=stamp), partial(self._persisted, command, latch, older))
        elif older is not None and now_s >= self._latch_retry_s:
            self._latch_waiting = None
            self._write(replace(older, saved_wall_s=stamp), partial(self._written, older))
        else:
            return False
        return True

    def _write(self, latch: Latch, then: Then) -> None:
        wall_s = latch.saved_wall_s
        self._stamp_ahead_s = None if wall_s is None else wall_s - time.monotonic()
        self._clerk.begin(self._latch_path, latch_file.encode(latch), then)

    def _calibrated(self, command: Command, changed: Calibrations, error: OSError | None) -> None:
        if error is None:
            self._calibrations = changed
            self._commands.put(command)
            return
        log.error("%s cannot be written (%s): nothing was calibrated", self._calibrations_path, error.strerror)
        self._answer(command.token, False, [Reason("latch_not_writable")], None)

    def _persisted(self, command: Command, latch: Latch, older: Latch | None, error: OSError | None) -> None:
        if error is None:
            self._written(latch, None)
            self._commands.put(command)
            return
        if self._latch_waiting is None:
            self._latch_waiting = older
        self._note_writable(error.strerror)
        self._answer(command.token, False, [Reason("latch_not_writable")], None)

    def _written(self, latch: Latch, error: OSError | None) -> None:
        if error is None:
            self._world.latch_writable = True
            self._latch = latch
            return
        if self._latch_waiting is None:
            self._latch_waiting = latch
        self._latch_retry_s = time.monotonic() + LATCH_RETRY_S
        self._note_writable(error.strerror)

    def _note_writable(self, problem: str | None) -> None:
        if self._world.latch_writable:
            log.error("%s cannot be written (%s): starts are refused", self._latch_path, problem)
        self._world.latch_writable = False

    # ---- from the link ----------------------------------------------------------------------------

    def _on_command(self, message: Message, peer: Peer) -> None:
        token = f"{peer.token}:{message['id']}"
        try:
            origin = Origin(message.get("origin", "cli"))
        except ValueError:
            origin = Origin.PLANT
        if origin not in FROM_LINK:
            self._answer(token, False, [Reason("origin_unknown", {"origin": str(message.get("origin"))[:40]})], None)
            return
        arguments = {key: value for key, value in message.items() if key not in ("command", "id", "origin", "who")}
        wall_s = self._wall_s()
        command = Command(
            message["command"],
            with_resolved_until(arguments, wall_s),
            origin,
            str(message.get("who", ""))[:80],
            token,
            wall_s=wall_s,
        )
        self._commands.put(command)
