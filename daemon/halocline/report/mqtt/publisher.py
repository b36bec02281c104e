"""Keeps a broker informed, whatever becomes of it, without ever making its own side wait."""

import logging
import queue
import threading
import time
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from halocline.plant.command_definitions import COMMANDS
from halocline.plant.settings import MqttSettings, UnitSettings
from halocline.report.mqtt import texts
from halocline.report.mqtt.announcer import Announcer
from halocline.report.mqtt.command_filter import CommandFilter, Order, Refusal, taken
from halocline.report.mqtt.command_queue import CommandQueue, SendCommand
from halocline.report.mqtt.connection import (
    Account,
    Confirmed,
    Connect,
    Connection,
    Down,
    Heard,
    News,
    Subscription,
    SubscriptionRefused,
    Up,
)
from halocline.report.mqtt.echo import DEAF_AFTER_S, HEARD_WITHIN_S, Echo
from halocline.report.mqtt.failures import NO_REPLY, Failure
from halocline.report.mqtt.outbox import OLD_AFTER_S, Outbox, Post
from halocline.report.mqtt.payloads import Payload, last_will
from halocline.report.mqtt.tls import TlsFileError, tls_files
from halocline.report.mqtt.topics import slug, topics_of
from halocline.report.parts import Part, of_peer

TICK_S = 0.2
LOOK_EVERY_S = 0.25
LET_IN_S = 20.0
STOOD_S = 10.0
BACKOFF_FIRST_S = 1.0
BACKOFF_LAST_S = 120.0
FAREWELL_S = 0.7
ANSWERED = frozenset({"not_allowed", "stale"})
"""The others are no command, or one whose answer is given once more."""

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Health:
    """How it goes with the broker; `problem` is a sentence for people, None while all is well. `hearing`: commands are
    wanted, and one that is published would arrive."""

    connected: bool
    hearing: bool
    problem: str | None
    connections: int
    events_waiting: int
    events_dropped: int
    publications_refused: int
    commands_dropped: Mapping[str, int]


class Publisher:
    """The boat's voice at a broker.

    `send_command` gets {command, origin, who, …arguments} and returns {accepted, reasons}; it may wait and may raise
    LinkError, for it is called in a thread of its own. `snapshots`, if given, is asked for the public snapshot four
    times a second; otherwise it is handed to `take_snapshot`. `on_forecast` gets what is published as a forecast, if
    the owner wants that, and must not wait. `announced` is the file that remembers what home hubs were told, `page` the
    address that they are told. `clock` is monotonic seconds.
    """

    def __init__(
        self,
        settings: MqttSettings,
        boat: str,
        *,
        send_command: SendCommand,
        password: str = "",
        units: UnitSettings | None = None,
        snapshots: Callable[[], Payload] | None = None,
        on_forecast: Callable[[bytes], object] | None = None,
        announced: Path | None = None,
        page: str | None = None,
        clock: Callable[[], float] = time.monotonic,
        connect: Connect = Connection,
    ) -> None:
        units = units or UnitSettings()
        self.topics = topics_of(settings.prefix, boat)
        self._account = Account(
            host=settings.host,
            port=settings.port,
            username=settings.username,
            password=password,
            client_id=f"{slug(self.topics.prefix)}-plant",
            keepalive_s=settings.keepalive_s,
            will_topic=self.topics.status,
            will=last_will(boat),
            tls=tls_files(settings),
        )
        self._accepting = settings.accept_commands
        self._on_forecast = on_forecast if settings.accept_forecast else None
        self._announcer = Announcer(
            self.topics,
            prefix=settings.discovery_prefix if settings.discovery else None,
            commands=[name for name in COMMANDS if self._accepting and name in taken(settings.commands)],
            page=page,
            memory=announced,
        )
        self._birth_topic = self._announcer.birth_topic
        self._subscriptions = (
            Subscription(self.topics.status),
            Subscription(self.topics.every_alarm),
            *((Subscription(self.topics.forecast, lane="forecast"),) if self._on_forecast is not None else ()),
            *((Subscription(self._birth_topic),) if self._birth_topic is not None else ()),
            *((Subscription(self.topics.command, own=True, lane="command"),) if self._accepting else ()),
        )
        self._snapshots = snapshots
        self._clock = clock
        self._connect = connect
        self._outbox = Outbox(self.topics, boat, units)
        self._outbox.heard = not self._accepting
        self._outbox.announced = self._announcer.wanted
        self._echo = Echo()
        self._problem_told = False
        self._refused: set[str] = set()
        self._shown: Payload | None = None
        self._bears_deafness_s = DEAF_AFTER_S
        self._gate = CommandFilter(settings.commands)
        self._courier = CommandQueue(send_command, self._answered, units)
        self._connection: Connection | None = None
        self._on_their_way: dict[int, Post] = {}
        self._up = False
        self._began_s = self._retry_at_s = self._look_at_s = float("-inf")
        self._backoff_s = BACKOFF_FIRST_S
        self._counts: Counter[str] = Counter()
        self._problem: str | None = str(NO_REPLY)
        self._why_logged: str | None = None
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, name="mqtt", daemon=True)

    def start(self) -> None:
        """Begins to seek the broker; returns at once."""
        if self._accepting:
            self._courier.start()
        self._thread.start()

    def stop(self) -> None:
        """Says offline if it still can, and ends within two seconds."""
        self._ending.set()
        self._courier.stop()
        if self._thread.is_alive():
            self._thread.join(1.5)

    def take_snapshot(self, public: Payload) -> None:
        """The newest public snapshot. Never waits."""
        self._shown = public
        self._outbox.take_snapshot(public, self._clock())

    def take_health(self, said: Payload) -> None:
        """The newest answer to how the plant ages. Never waits."""
        self._outbox.take_health(said)

    def take_duties(self, said: Payload) -> None:
        """What is due by hand now. Never waits."""
        self._outbox.take_duties(said)

    def take_plan(self, told: Payload) -> None:
        """The newest plan of the days ahead. Never waits."""
        self._outbox.take_plan(told)

    def take_event(self, boot: str, event: Payload) -> None:
        """An event of the link, told once. Never waits."""
        self._outbox.take_event(boot, event)

    def health(self) -> Health:
        """How it goes; may be asked by any thread."""
        return Health(
            connected=self._up,
            hearing=self._up and self._accepting and self._outbox.heard,
            problem=self._problem,
            connections=self._counts["connections"],
            events_waiting=len(self._outbox.events),
            events_dropped=self._outbox.events.dropped,
            publications_refused=self._counts["refused"],
            commands_dropped=dict(self._gate.dropped),
        )

    def part(self) -> Part:
        """How it goes, for whoever watches over report."""
        return of_peer(self._thread.is_alive(), self._up, self._problem)

    def turn(self, wait_s: float) -> None:
        """One turn of the thread's work: hear what came, mend the connection, say what is due."""
        now_s = self._clock()
        if self._snapshots is not None and now_s >= self._look_at_s:
            self._look_at_s = now_s + LOOK_EVERY_S
            self.take_snapshot(self._snapshots())
        if self._connection is None:
            self._ending.wait(wait_s)
            if self._clock() >= self._retry_at_s:
                self._open()
            return
        down = self._hear(self._connection, wait_s)
        problem = down or self._trouble(self._connection, self._clock())
        if problem is not None:
            self._give_up(self._connection, problem)
        elif self._up:
            self._post(self._connection)

    def _run(self) -> None:
        while not self._ending.is_set():
            try:
                self.turn(TICK_S)
            except Exception:
                log.exception("the broker's client stumbled")
                self._stumbled()
        try:
            self._take_leave()
        except Exception:
            log.exception("the broker's client could not take leave")

    def _stumbled(self) -> None:
        """Whoever stumbles at every turn neither hears nor speaks: then the broker's last word must not be online."""
        if self._connection is not None:
            self._give_up(self._connection, Failure(texts.STUMBLED))
        self._ending.wait(BACKOFF_FIRST_S)

    # ---- the connection ------------------------------------------------------------------------

    def _open(self) -> None:
        self._began_s = self._clock()
        self._retry_at_s = self._began_s + self._backoff_s
        self._counts["connections"] += 1
        self._outbox.start_over()
        self._on_their_way.clear()
        try:
            connection = self._connect(self._account, self._subscriptions)
        except TlsFileError as error:
            self._no_use(str(error))
            return
        connection.start()
        self._connection = connection

    def _trouble(self, connection: Connection, now_s: float) -> Failure | None:
        if connection.ended:
            return Failure(texts.THREAD_ENDED)
        if not self._up:
            return NO_REPLY if now_s - self._began_s > LET_IN_S else None
        if self._accepting and self._echo.deaf_s(now_s) > self._bears_deafness_s:
            self._bears_deafness_s = min(self._bears_deafness_s * 2, BACKOFF_LAST_S)
            return Failure(texts.DEAF)
        return Failure(texts.STALLED) if self._outbox.unconfirmed_s(now_s) > self._account.keepalive_s else None

    def _no_use(self, why: str) -> None:
        """This attempt is over; the next comes later, and later each time. Each reason stands in the log once."""
        self._problem = texts.LOST.format(where=self._account.where, why=why, seconds=self._backoff_s)
        log.log(logging.WARNING if self._up or why != self._why_logged else logging.DEBUG, self._problem)
        self._why_logged = why
        self._retry_at_s = self._clock() + self._backoff_s
        self._backoff_s = min(self._backoff_s * 2, BACKOFF_LAST_S)

    def _give_up(self, connection: Connection, why: Failure) -> None:
        if self._up and self._clock() - self._began_s >= STOOD_S:
            self._backoff_s = BACKOFF_FIRST_S
        self._no_use(str(why))
        self._connection, self._up = None, False
        self._outbox.heard = not self._accepting
        self._outbox.start_over()
        connection.abandon()

    def _take_leave(self) -> None:
        connection, self._connection = self._connection, None
        if connection is None:
            return
        if not self._up:
            connection.abandon()
            return
        self._up = False
        post = self._outbox.farewell(self._clock())
        last = connection.publish(post.topic, post.payload, retain=post.retain)
        until_s = time.monotonic() + FAREWELL_S
        while last is not None and (left_s := until_s - time.monotonic()) > 0:
            try:
                news = connection.news.get(timeout=left_s)
            except queue.Empty:
                break
            if isinstance(news, Down) or (isinstance(news, Confirmed) and news.mid == last):
                break
        connection.leave(FAREWELL_S / 2)

    # ---- what comes ----------------------------------------------------------------------------

    def _hear(self, connection: Connection, wait_s: float) -> Failure | None:
        """Why the connection is down, if it is."""
        until_s = time.monotonic() + wait_s
        while True:
            left_s = until_s - time.monotonic()
            try:
                news = connection.news.get(timeout=left_s) if left_s > 0 else connection.news.get_nowait()
            except queue.Empty:
                return None
            if isinstance(news, Down):
                return self._why_down(news)
            self._take(news, connection)
            if left_s <= 0:
                return None

    def _why_down(self, news: Down) -> Failure:
        """A broker may answer a message above its own limit with nothing but the end of the connection."""
        unconfirmed = self._on_their_way.values()
        largest = max(unconfirmed, key=lambda post: len(post.payload), default=None)
        if largest is None or not self._up or self._clock() - self._began_s >= STOOD_S:
            return news.why
        return Failure(texts.BROKEN_BY.format(why=news.why.what, topic=largest.topic, bytes=len(largest.payload)))

    def _take(self, news: News, connection: Connection) -> None:
        match news:
            case Up():
                self._up = True
                self._problem = self._why_logged = None
                self._echo.start_over(self._clock())
                log.info(texts.CONNECTED.format(where=self._account.where))
                self._post(connection)
            case Confirmed(mid, refused):
                self._confirmed(mid, refused)
            case SubscriptionRefused(topic, why):
                log.warning(texts.SUBSCRIPTION_REFUSED.format(why=why, topic=topic))
            case Heard(topic) if topic == self.topics.command:
                self._judge(news)
            case Heard(topic, sent) if topic == self.topics.forecast:
                if self._on_forecast is not None and sent.payload:
                    self._on_forecast(sent.payload)
            case Heard(topic, sent) if topic == self._birth_topic:
                self._announcer.heard(sent.payload)
            case Heard(topic, sent):
                self._outbox.foreign(topic, sent.payload)

    def _confirmed(self, mid: int, refused: str | None) -> None:
        post = self._on_their_way.pop(mid, None)
        if post is not None:
            self._outbox.confirmed(post)
            if refused is None:
                self._announcer.stands(post.topic)
        if refused is not None:
            self._counts["refused"] += 1
            own = post is None or post.topic.startswith(f"{self.topics.prefix}/")
            topic = f"{self.topics.prefix}/#" if own or post is None else post.topic
            if topic not in self._refused:
                self._refused.add(topic)
                log.warning(texts.REFUSED.format(why=refused, topic=topic))

    def _judge(self, heard: Heard) -> None:
        if self._echo.heard(heard.sent.payload):
            self._bears_deafness_s = DEAF_AFTER_S
            return
        judged = self._gate.judge(heard.sent, self._outbox.wall_s(self._clock()))
        if isinstance(judged, Refusal):
            if judged.why == "retained":
                log.warning(texts.RETAINED_COMMAND.format(topic=self.topics.command))
            if judged.why in ANSWERED:
                self._refuse(judged)
            elif judged.why == "repeated":
                self._outbox.answer_again(judged.nonce)
        elif not self._courier.offer(judged):
            self._refuse(self._gate.flooded(judged))

    def _refuse(self, refusal: Refusal) -> None:
        reasons = [{"id": refusal.why, "text": texts.REFUSALS[refusal.why]}]
        self._outbox.take_answer(refusal.command, refusal.nonce, accepted=False, reasons=reasons, now_s=self._clock())

    # ---- what goes -----------------------------------------------------------------------------

    def _answered(self, order: Order, accepted: bool, reasons: list[dict[str, str]]) -> None:
        self._outbox.take_answer(order.command, order.nonce, accepted=accepted, reasons=reasons, now_s=self._clock())

    def _post(self, connection: Connection) -> None:
        if connection.overflowed:
            self._gate.dropped["flooded"] += connection.overflowed
            connection.overflowed = 0
        self._outbox.count_commands_dropped(self._gate.dropped)
        if self._shown is not None:
            self._announcer.look(self._shown)
        if self._announcer.again(self._clock()):
            self._outbox.announce_again()
        if self._accepting:
            self._outbox.heard = self._hearing(connection)
        self._tell_problem()
        room = max(0, connection.window - len(self._on_their_way))
        for post in self._outbox.due(self._clock(), room, spare=connection.window // 10):
            mid = connection.publish(post.topic, post.payload, retain=post.retain)
            if mid is not None:
                self._on_their_way[mid] = post

    def _hearing(self, connection: Connection) -> bool:
        """Says a word under `command`, and learns from those that have come back whether commands would."""
        now_s = self._clock()
        if connection.crowded:
            connection.crowded = False
            self._echo.crowded(now_s)
        word = self._echo.due(now_s)
        if word is not None:
            connection.murmur(self.topics.command, word, lives_s=int(HEARD_WITHIN_S))
        return self._echo.hears(now_s)

    def _why_not_online(self, now_s: float) -> str | None:
        """What keeps this connection from being believed, for people."""
        if self._accepting and self._echo.deaf_s(now_s) > HEARD_WITHIN_S:
            return texts.DEAF_NOW.format(where=self._account.where, prefix=self.topics.prefix)
        if self._accepting and self._echo.doubts(now_s):
            return texts.IN_DOUBT.format(where=self._account.where, prefix=self.topics.prefix)
        if self._outbox.unconfirmed_s(now_s) > OLD_AFTER_S:
            return texts.UNCONFIRMED.format(where=self._account.where, seconds=OLD_AFTER_S)
        return None

    def _tell_problem(self) -> None:
        """Once in the log, until all was well again."""
        self._problem = self._why_not_online(self._clock())
        if self._problem is not None:
            log.log(logging.DEBUG if self._problem_told else logging.WARNING, self._problem)
            self._problem_told = True
        elif self._outbox.heard:
            self._problem_told = False
