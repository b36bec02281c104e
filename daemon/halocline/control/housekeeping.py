"""Everything of control that may wait: the latch file, the link, the log. The loop never waits for it.

Housekeeping takes news from the loop, writes the latch, gives each row and event its number in the ring, and hands
commands from the link to the loop. A command whose effect must survive a restart is given back to the loop only
after the file is on the card, or as `unfiled`; a file that cannot be written refuses it and every start.
"""

import logging
import os
import queue
import time
import zlib
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from halocline.control.calibration import calibration_store as calibration_file
from halocline.control.calibration.calibration_command import Made
from halocline.control.calibration.calibration_store import Calibrations, listed
from halocline.control.capture import CaptureCutter, RecentSamples
from halocline.control.exchange import News, World
from halocline.control.inputs import Command, Reason
from halocline.control.retained import retained_state as retained_file
from halocline.control.retained.file_writer import FileWriter
from halocline.control.retained.retained_state import Moment, RetainedState
from halocline.link.messages import LinkError, Message
from halocline.link.peers import Peer
from halocline.link.ring import Ring
from halocline.link.server import LinkServer
from halocline.link.snapshot import ReasonNow
from halocline.plant.settings import Settings
from halocline.plant.until import with_resolved_until
from halocline.plant.vocabulary import Origin

POLL_S = 0.05
"""A tick: news waits no longer than one. What comes over the link wakes housekeeping at once (chosen)."""
LATCH_RETRY_S = 2.0
"""A card that does not answer for so long refuses starts, and is tried again as rarely: each try may hold up the next
write (chosen)."""
CLOCK_MOVED_S = 5.0
"""More than two clocks drift apart between two stamps, less than anything that is counted by them: rest of a motor,
hours without starts (chosen)."""
LAST_WRITES_S = 0.6
"""Once told to end, control waits so long for a slow card; its supervisor gives it 2.5 s altogether (chosen)."""
CLOCK_SET_AFTER_S = 1_767_225_600.0
"""2026-01-01 in UTC: this program is younger, so an earlier time is that of a clock that was never set (computed)."""
BOOT_DIGITS = 12
"""48 random bits: no two starts in a boat's life have the same (computed)."""
ORIGIN_TOLD, WHO_KEPT = 40, 80
"""Letters of what a stranger sent that are repeated: enough to tell who it was, too few to flood a record (chosen)."""
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
    wiring: str = ""


def configuration_in_force(settings: Settings) -> dict[str, Any]:
    """The settings that decide what a run does, small enough for the link's first line; wiring is not among them."""
    tables = ("plant", "membrane", "drive", "limits", "sequence")
    return {table: asdict(getattr(settings, table)) for table in tables}


def wiring_mark(settings: Settings) -> str:
    """The wiring, as eight hexadecimal digits: two configurations with the same one measure alike."""
    tables = (settings.inputs, settings.contacts, settings.outputs)
    wired = [*(sorted(table.items()) for table in tables), settings.interlock]
    return f"{zlib.crc32(repr(wired).encode()):08x}"


def new_boot() -> str:
    """A random id for one start of control."""
    return os.urandom(BOOT_DIGITS // 2).hex()


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


def _fault_refused(refusal: str) -> ReasonNow:
    return {"id": "fault_refused", "values": {"text": refusal}}


def _as_it_came(events: Iterable[dict[str, Any]], refusals: Iterable[str | None]) -> Iterator[dict[str, Any]]:
    """The events, with a fault that the simulated boat refused as refused: the loop, which lets every fault through,
    cannot know. `refusals` stand in the order of the faults that were let through."""
    said = iter(refusals)
    for event in events:
        let_through = event.get("kind") == "command" and event.get("command") == "fault" and event.get("accepted")
        refusal = next(said, None) if let_through else None
        yield event if refusal is None else {**event, "accepted": False, "reasons": [_fault_refused(refusal)]}


class Housekeeping:
    """The housekeeping thread's body. Call `poll` again and again; it waits at most `POLL_S`."""

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
        recent: RecentSamples | None = None,
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
        self._captures = CaptureCutter(RecentSamples() if recent is None else recent)
        self._file_writer = FileWriter(threaded=threaded)
        self._makes: deque[tuple[Command, Made]] = deque()
        self._promised: list[Command] = []
        self._latch_waiting: RetainedState | None = None
        self._latch_retry_s = 0.0
        self._retained: RetainedState | None = None
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
            "wiring": self._identity.wiring,
            "calibrations": listed(self._calibrations),
            "calibrations_unreadable": self._calibrations.unreadable,
        }

    def _stamp_wall(self) -> float | None:
        wall_s = self._wall_s()
        return None if wall_s is None else round(wall_s, 3)

    def poll(self) -> None:
        """Serve the link and take what the loop has to say."""
        self._server.poll(POLL_S)
        self._world.tell_time(self._wall_s())
        while True:
            try:
                news = self._news.get_nowait()
            except queue.Empty:
                break
            self._take(news)
        self._keep_latch()
        # After the latch: nothing that protects waits for what is only told.
        self._keep_captured(self._captures.cut())

    def close(self) -> None:
        """Send out what is still waiting, write the latch a last time, close the link."""
        self.poll()
        self._keep_captured(self._captures.rest())
        self._server.poll(0.0)
        newest = self._latch_waiting or self._retained
        if newest is not None:
            self._latch_waiting = replace(newest, closed=True)
        give_up_s = time.monotonic() + LAST_WRITES_S
        while self._owes_the_card() and time.monotonic() < give_up_s:
            self._keep_latch()
            time.sleep(POLL_S)
        self._server.close()

    def _owes_the_card(self) -> bool:
        return bool(self._file_writer.busy_s is not None or self._latch_waiting or self._makes)

    # ---- from the loop ---------------------------------------------------------------------------

    def _take(self, news: News) -> None:
        for retained in (
            news.retained,
            *(content for _, content in news.persist if isinstance(content, RetainedState)),
        ):
            self._latch_waiting = self._latch_waiting if retained is None else replace(retained, saved=self._moment())
        self._promised += [command for command, content in news.persist if isinstance(content, RetainedState)]
        self._makes += [(command, content) for command, content in news.persist if isinstance(content, Made)]
        refusals = [self._on_simulate(command) for command in news.simulate]
        stamp = {"mono_s": round(news.mono_s, 3), "wall_s": self._stamp_wall()}
        for event in _as_it_came(news.events, refusals):
            seq = self._append(self._ring.append_event, {**stamp, **event})
            self._captures.follow(event, seq, news.mono_s)
        if news.row is not None:
            self._append(self._ring.append_row, {**stamp, **news.row})
        if news.now is not None:
            self._publish({**stamp, **news.now})
        refused = {command.token: refusal for command, refusal in zip(news.simulate, refusals, strict=True)}
        for token, accepted, reasons in news.answers:
            self._answer(token, accepted, reasons, refused.get(token))

    def _append(self, append: Callable[[dict[str, Any]], int], message: dict[str, Any]) -> int | None:
        """The number given to the message; None where it cannot be sent."""
        try:
            return append(message)
        except LinkError as error:
            log.error("the record lost a line: %s", error)
            return None

    def _keep_captured(self, captured: Iterable[dict[str, Any]]) -> None:
        stamp = {"mono_s": round(time.monotonic(), 3), "wall_s": self._stamp_wall()}
        for piece in captured:
            self._append(self._ring.append_event, {**stamp, **piece})

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

    def _moment(self) -> Moment:
        return Moment(self._stamp_wall(), round(time.monotonic(), 3), self._identity.host_boot)

    def _keep_latch(self) -> None:
        """One write after the other: first what a command waits for."""
        file_writer = self._file_writer
        file_writer.poll()
        self._follow_clock()
        while file_writer.busy_s is None and self._begin_write(time.monotonic()):
            file_writer.poll()
        if (file_writer.busy_s or 0.0) > LATCH_RETRY_S:
            self._note_writable("it does not answer")

    def _follow_clock(self) -> None:
        """The clock was set since the file was stamped: by the old stamp that would count as time away."""
        if self._retained is None or self._latch_waiting is not None:
            return
        now, saved = self._moment(), self._retained.saved
        gone_s = (now.mono_s or 0.0) - (saved.mono_s or 0.0)
        then_s = None if now.wall_s is None else round(now.wall_s - gone_s, 3)
        if then_s is None or saved.wall_s is None:
            moved = then_s is not saved.wall_s
        else:
            moved = abs(then_s - saved.wall_s) > CLOCK_MOVED_S
        if moved:
            self._latch_waiting = replace(self._retained, saved=replace(saved, wall_s=then_s))

    def _begin_write(self, now_s: float) -> bool:
        """Begin the next write, if one is due."""
        if self._makes:
            command, made = self._makes.popleft()
            changed = made.change(self._calibrations)
            content = calibration_file.encode(changed)
            self._file_writer.begin(self._calibrations_path, content, partial(self._calibrated, command, changed))
        elif self._latch_waiting is not None and (self._promised or now_s >= self._latch_retry_s):
            retained, promised = self._latch_waiting, tuple(self._promised)
            self._latch_waiting, self._promised = None, []
            self._file_writer.begin(
                self._latch_path, retained_file.encode(retained), partial(self._written, retained, promised)
            )
        else:
            return False
        return True

    def _calibrated(self, command: Command, changed: Calibrations, error: OSError | None) -> None:
        if error is None:
            self._calibrations = changed
        else:
            log.error("%s cannot be written (%s): nothing was calibrated", self._calibrations_path, error.strerror)
        self._commands.put(replace(command, unfiled=error is not None))

    def _written(self, retained: RetainedState, promised: Iterable[Command], error: OSError | None) -> None:
        """The newest latch holds all that was ordered up to it, so it fulfils every promise, or none."""
        if error is None:
            self._world.tell_latch_writable(True)
            self._retained = retained
        else:
            self._latch_waiting = self._latch_waiting or retained
            self._latch_retry_s = time.monotonic() + LATCH_RETRY_S
            self._note_writable(error.strerror)
        for command in promised:
            self._commands.put(replace(command, unfiled=error is not None))

    def _note_writable(self, problem: str | None) -> None:
        if self._world.latch_writable:
            log.error("%s cannot be written (%s): starts are refused", self._latch_path, problem)
        self._world.tell_latch_writable(False)

    # ---- from the link ----------------------------------------------------------------------------

    def _on_command(self, message: Message, peer: Peer) -> None:
        token = f"{peer.token}:{message['id']}"
        try:
            origin = Origin(message.get("origin", "cli"))
        except ValueError:
            origin = Origin.PLANT
        if origin not in FROM_LINK:
            self._answer(
                token, False, [Reason("origin_unknown", {"origin": str(message.get("origin"))[:ORIGIN_TOLD]})], None
            )
            return
        arguments = {key: value for key, value in message.items() if key not in ("command", "id", "origin", "who")}
        wall_s = self._wall_s()
        command = Command(
            message["command"],
            with_resolved_until(arguments, wall_s),
            origin,
            str(message.get("who", ""))[:WHO_KEPT],
            token,
            wall_s=wall_s,
        )
        self._commands.put(command)
