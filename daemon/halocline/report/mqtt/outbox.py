"""What has to be told to the broker, and what it has confirmed. Values and times only; nothing here waits.

State (`status`, `now`, plan, health, duties, alarms) is never queued: what stands at the broker is compared with what
should stand there, and the newest difference goes out. Events are queued, in a ring that forgets its oldest.
"""

import hashlib
import json
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import chain, islice

from halocline.plant.settings import UnitSettings
from halocline.report.mqtt import payloads
from halocline.report.mqtt.payloads import Payload, encode, envelope, seconds
from halocline.report.mqtt.topics import Topics, is_alarm_id
from halocline.report.public import iso

EVENTS_KEPT = 1000
ANSWERS_KEPT = 16
ANSWERS_REMEMBERED = 100
AT_A_TIME = 10
ALARMS_KNOWN = 300
NOW_EVERY_S = 1.0
STATUS_EVERY_S = 5.0
STATUS_AGAIN_S = 1.0
OLD_AFTER_S = 5.0

FOREIGN = "foreign"
"""Something stands there that is not of this connection's making."""


@dataclass(frozen=True, slots=True)
class Post:
    """One publication. `mark` is what stands at the broker once it is confirmed; None: nothing any more."""

    key: str
    topic: str
    payload: bytes
    retain: bool
    mark: str | None = None


class Ring:
    """Numbered payloads waiting to be confirmed; the oldest makes room for the newest. Thread-safe."""

    def __init__(self, name: str, limit: int) -> None:
        self._name = name
        self._limit = limit
        self._lock = threading.Lock()
        self._number = 0
        self._waiting: dict[str, bytes] = {}
        self.dropped = 0

    def __len__(self) -> int:
        return len(self._waiting)

    def put(self, payload: bytes) -> None:
        """One more."""
        with self._lock:
            self._number += 1
            self._waiting[f"{self._name}:{self._number}"] = payload
            if len(self._waiting) > self._limit:
                self._waiting.pop(next(iter(self._waiting)))
                self.dropped += 1

    def oldest(self, count: int) -> list[tuple[str, bytes]]:
        """The first `count` with their keys."""
        with self._lock:
            return [item for item, _ in zip(self._waiting.items(), range(count), strict=False)]

    def confirmed(self, key: str) -> None:
        """It has arrived; one that was dropped meanwhile is no matter."""
        with self._lock:
            self._waiting.pop(key, None)


class Outbox:
    """Everything on its way to the broker. `take_…` may be called by any thread, the rest by one."""

    def __init__(self, topics: Topics, boat: str, units: UnitSettings) -> None:
        self._topics = topics
        self._boat = boat
        self._units = units
        self._newest: tuple[Payload, float, int] | None = None
        self._wall_ahead_s: float | None = None
        self._standing: dict[str, str] = {}
        self._in_flight: dict[str, tuple[float, str | None]] = {}
        self._health: Payload | None = None
        self._plan: Payload | None = None
        self._duties: Payload | None = None
        self.announced: Mapping[str, bytes] = {}
        self._now_due_s = float("-inf")
        self._status_posted_s = float("-inf")
        self._status_told: tuple[int, Mapping[str, int]] = (0, {})
        self._commands_dropped: Mapping[str, int] = {}
        self.heard = True
        self.events = Ring("event", EVENTS_KEPT)
        self.answers = Ring("answer", ANSWERS_KEPT)
        self._given: dict[str, bytes] = {}

    def take_snapshot(self, public: Payload, now_s: float) -> None:
        """The newest public snapshot replaces the one before."""
        if (public.get("link") or {}).get("control") == "live":
            wall_s = seconds(public.get("time"))
            self._wall_ahead_s = None if wall_s is None else wall_s - now_s
        number = self._newest[2] + 1 if self._newest else 1
        self._newest = (public, now_s, number)

    def take_health(self, said: Payload) -> None:
        """The newest answer to how the plant ages replaces the one before."""
        self._health = payloads.health(said)

    def take_duties(self, said: Payload) -> None:
        """What is due by hand replaces what was."""
        self._duties = payloads.duties(said)

    def take_plan(self, told: Payload) -> None:
        """The newest plan of the days ahead replaces the one before."""
        self._plan = payloads.plan(told)

    def take_event(self, boot: str, event: Payload) -> None:
        """Something happened; kept until the broker has it, or until too much has happened since."""
        public = self._newest[0] if self._newest else None
        head = envelope(self._boat, public, None)
        self.events.put(encode(payloads.event(head, boot, event, self._units)))

    def take_answer(
        self, command: str | None, nonce: str | None, *, accepted: bool, reasons: list[dict[str, str]], now_s: float
    ) -> None:
        """What became of a command."""
        answer = payloads.answer(self._head(now_s), command, nonce, accepted=accepted, reasons=reasons)
        payload = encode(answer)
        if nonce is not None:
            self._given[nonce] = payload
            if len(self._given) > ANSWERS_REMEMBERED:
                self._given.pop(next(iter(self._given)), None)
        self.answers.put(payload)

    def answer_again(self, nonce: str | None) -> None:
        """A command came once more: its answer may have been lost. Nothing if it has had none yet."""
        given = self._given.get(nonce or "")
        if given is not None:
            self.answers.put(given)

    def announce_again(self) -> None:
        """Whoever reads what is announced knows nothing of it any more."""
        for topic in self.announced:
            self._standing.pop(topic, None)

    def count_commands_dropped(self, dropped: Mapping[str, int]) -> None:
        """What the next status says about commands that were none."""
        self._commands_dropped = dict(dropped)

    def wall_s(self, now_s: float) -> float | None:
        """The time of day as control last told it; None while its clock is not set or it was never heard."""
        return None if self._wall_ahead_s is None else now_s + self._wall_ahead_s

    def start_over(self) -> None:
        """A connection has begun or ended: nothing is known of what stands at the broker, nothing is on its way."""
        self._standing.clear()
        self._in_flight.clear()
        self._now_due_s = self._status_posted_s = float("-inf")

    def foreign(self, topic: str, payload: bytes) -> None:
        """Another client, or this program before a restart, has published under a topic of ours."""
        ours = topic == self._topics.status or self._topics.is_alarm(topic)
        if not payload:
            self._standing.pop(topic, None)
        elif ours and (topic in self._standing or len(self._standing) < ALARMS_KNOWN):
            self._standing[topic] = FOREIGN

    def confirmed(self, post: Post) -> None:
        """The broker has taken it."""
        if self._in_flight.get(post.key, (0.0, None))[1] == post.mark:
            self._in_flight.pop(post.key, None)
        self.events.confirmed(post.key)
        self.answers.confirmed(post.key)
        if post.mark is not None:
            self._standing[post.key] = post.mark
        else:
            self._standing.pop(post.key, None)

    def unconfirmed_s(self, now_s: float) -> float:
        """How long the oldest post has been waiting for its confirmation; 0 if none is."""
        return max((now_s - sent_s for sent_s, _ in self._in_flight.values()), default=0.0)

    def online(self, now_s: float) -> bool:
        """Whether what is published is alive (snapshots keep coming and control is behind them) and confirmed by the
        broker, and a command would be `heard`. What is not confirmed is not published anew over this connection."""
        if self._newest is None or not self.heard or self.unconfirmed_s(now_s) > OLD_AFTER_S:
            return False
        public, heard_s, _ = self._newest
        return now_s - heard_s <= OLD_AFTER_S and (public.get("link") or {}).get("control") == "live"

    def due(self, now_s: float, room: int, spare: int = 0) -> list[Post]:
        """What has to go out now, at most `room`, the most important first; each counts as on its way from here on.

        `spare` places stay free for a status that has to be corrected, should nothing be confirmed any more.
        """
        state = chain(self._alarms(now_s), self._now(now_s), self._told(now_s), self._hubs())
        others = chain(state, self._queued())
        posts = list(islice(chain(self._status(now_s), islice(others, max(0, room - spare))), room))
        for post in posts:
            self._in_flight[post.key] = (now_s, post.mark)
        return posts

    def farewell(self, now_s: float) -> Post:
        """The last word of an orderly end."""
        return self._status_post("offline", now_s)

    def _head(self, now_s: float) -> dict[str, object]:
        public = self._newest[0] if self._newest else None
        return envelope(self._boat, public, iso(self.wall_s(now_s)))

    def _status(self, now_s: float) -> Iterator[Post]:
        word = "online" if self.online(now_s) else "offline"
        standing = self._standing.get(self._topics.status)
        age_s = now_s - self._status_posted_s
        outdated = standing == FOREIGN or self._status_told != self._dropped()
        again = age_s >= (STATUS_AGAIN_S if outdated else STATUS_EVERY_S)
        on_its_way = self._in_flight.get(self._topics.status)
        changed = standing not in {word, FOREIGN} if on_its_way is None else on_its_way[1] != word
        # A word that is not true any more is overtaken though it is not confirmed yet: it may never be.
        if changed or (again and on_its_way is None):
            self._status_posted_s = now_s
            self._status_told = self._dropped()
            yield self._status_post(word, now_s)

    def _dropped(self) -> tuple[int, Mapping[str, int]]:
        return self.events.dropped, self._commands_dropped

    def _status_post(self, word: str, now_s: float) -> Post:
        topic = self._topics.status
        payload = payloads.status(
            self._head(now_s),
            online=word == "online",
            events_dropped=self.events.dropped,
            commands_dropped=self._commands_dropped,
        )
        return Post(topic, topic, encode(payload), retain=True, mark=word)

    def _now(self, now_s: float) -> Iterator[Post]:
        topic = self._topics.now
        if self._newest is None or topic in self._in_flight or now_s < self._now_due_s:
            return
        public, _, number = self._newest
        if self._standing.get(topic) == str(number):
            return
        late_s = now_s - self._now_due_s
        self._now_due_s = self._now_due_s + NOW_EVERY_S if late_s < NOW_EVERY_S else now_s + NOW_EVERY_S
        yield Post(topic, topic, encode(public), retain=True, mark=str(number))

    def _told(self, now_s: float) -> Iterator[Post]:
        """What stands at the broker until it is another: the plan, health, what is due by hand."""
        for topic, said in (
            (self._topics.plan, self._plan),
            (self._topics.health, self._health),
            (self._topics.duties, self._duties),
        ):
            if said is None or topic in self._in_flight:
                continue
            mark = json.dumps(said, default=str)
            if self._standing.get(topic) != mark:
                yield Post(topic, topic, encode({**self._head(now_s), **said}), retain=True, mark=mark)

    def _hubs(self) -> Iterator[Post]:
        for topic, payload in tuple(self.announced.items()):
            mark = hashlib.sha256(payload).hexdigest()
            if self._standing.get(topic) != mark and topic not in self._in_flight:
                yield Post(topic, topic, payload, retain=True, mark=mark)

    def _alarms(self, now_s: float) -> Iterator[Post]:
        alarms = self._newest[0].get("alarms") if self._newest else None
        if alarms is None:
            return
        active = {
            self._topics.alarm(alarm["id"]): alarm
            for alarm in alarms
            if alarm.get("state") != "normal" and is_alarm_id(str(alarm.get("id")))
        }
        for topic, alarm in active.items():
            mark = json.dumps([alarm.get(key) for key in ("state", "priority", "values")], default=str)
            if self._standing.get(topic) != mark and topic not in self._in_flight:
                yield Post(topic, topic, encode(payloads.alarm(self._head(now_s), alarm)), retain=True, mark=mark)
        for topic in tuple(self._standing):
            if self._topics.is_alarm(topic) and topic not in active and topic not in self._in_flight:
                yield Post(topic, topic, b"", retain=True)

    def _queued(self) -> Iterator[Post]:
        for ring, topic in ((self.events, self._topics.event), (self.answers, self._topics.answer)):
            for key, payload in ring.oldest(AT_A_TIME):
                if key not in self._in_flight:
                    yield Post(key, topic, payload, retain=False)
