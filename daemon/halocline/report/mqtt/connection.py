"""One connection to a broker, from the first try to its end. It never mends itself: when it has ended, build another.

The library's network thread dies silently when something unforeseen is raised in it, keeps whatever was queued for
the connection before, and waits long for a broker that has stalled. A client that is thrown away with its connection
leaves nothing of that behind.
"""

import contextlib
import logging
import queue
import socket
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple, cast

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from halocline.link.peers import Allowance
from halocline.report.mqtt import texts
from halocline.report.mqtt.command_filter import LARGEST_BYTES, Sent
from halocline.report.mqtt.failures import Failure, of_error, of_reason
from halocline.report.mqtt.lanes import Lane, Lanes
from halocline.report.mqtt.tls import BrokerTls, TlsFiles, tls_context

LARGEST_PACKET_BYTES = 16 * 1024
"""What is larger the broker keeps back itself, so that it costs neither memory nor time here."""

MESSAGES_WAITING = 600
"""More than the lanes let through in a second."""

CROWD_PER_S = 100.0
"""More in a second is a flood. A broker that drops what it cannot deliver has first filled its queue for us, and that
queue comes out of the wire in one go: 1000 messages in mosquitto 2 unless set otherwise, 100 in mosquitto 1
(`max_queued_messages` in mosquitto.conf(5)). So whatever was lost in them, this many are seen."""

IN_FLIGHT = 20
"""Publications on their way at once, unless the broker asks for fewer: what it is sent beyond its wish ends the
connection."""

HEADER_BYTES = 16
"""At most what a publication of ours has besides topic and payload."""

DELIVERY = SubscribeOptions(qos=0)
"""Everything is asked for with quality of service 0. A broker gives a client few places for messages of 1 and 2, and
there are brokers (mosquitto 2.0) in which one that is too large for the client keeps its place for ever: twenty of
them made the plant deaf. With 0 there are no places to take, and as no session outlives its connection nothing is
lost by it."""

OTHERS_ONLY = SubscribeOptions(qos=0, noLocal=True)

library_log = logging.getLogger(f"{__name__}.paho")
library_log.addFilter(lambda record: "Client is not connected" not in str(record.msg))
"""An attempt that failed is no error of the library's; the publisher says so in better words."""


@dataclass(frozen=True, slots=True)
class Account:
    """Where the broker is, who we are there, and what it shall say when we are gone."""

    host: str
    port: int
    username: str
    password: str
    client_id: str
    keepalive_s: float
    will_topic: str
    will: bytes
    tls: TlsFiles | None = None

    @property
    def where(self) -> str:
        """The broker, for people."""
        return f"{self.host}:{self.port}"


class Subscription(NamedTuple):
    """What is listened to; `own` says whether what we publish there ourselves is wanted too."""

    topic: str
    own: bool = False
    lane: Lane = "foreign"


@dataclass(frozen=True, slots=True)
class Up:
    """The broker has let us in."""


@dataclass(frozen=True, slots=True)
class Down:
    """The connection, or the attempt, is over."""

    why: Failure


@dataclass(frozen=True, slots=True)
class Confirmed:
    """The broker has answered a publication; `refused` says why it did not take it."""

    mid: int
    refused: str | None


@dataclass(frozen=True, slots=True)
class SubscriptionRefused:
    """The broker lets us not listen to something."""

    topic: str
    why: str


@dataclass(frozen=True, slots=True)
class Heard:
    """A client has published under a topic that we subscribe to."""

    topic: str
    sent: Sent


News = Up | Down | Confirmed | SubscriptionRefused | Heard


class Connection:
    """A client and its network thread. `news` says what happens, in the order of its happening.

    Raises TlsFileError where a file that TLS needs cannot be used.
    """

    def __init__(self, account: Account, subscriptions: tuple[Subscription, ...]) -> None:
        self.news: queue.SimpleQueue[News] = queue.SimpleQueue()
        self.overflowed = 0
        self.crowded = False
        self.window = IN_FLIGHT
        self._largest_bytes: int | None = None
        self._not_sent = 0
        self._lanes = Lanes(time.monotonic())
        self._crowd = Allowance(CROWD_PER_S, time.monotonic())
        self._lane_of = {each.topic: each.lane for each in subscriptions}
        self._subscriptions = subscriptions
        self._thread: threading.Thread | None = None
        self._closed = False
        self._let_in = False
        self._account = account
        self._tls: BrokerTls | None = None if account.tls is None else tls_context(account.tls)
        self._client = client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=account.client_id,
            protocol=MQTTProtocolVersion.MQTTv5,
            reconnect_on_failure=False,
        )
        client.suppress_exceptions = True
        client.enable_logger(library_log)
        client.max_queued_messages_set(MESSAGES_WAITING)
        if account.username:
            client.username_pw_set(account.username, account.password or None)
        if self._tls is not None:
            client.tls_set_context(self._tls)
        client.will_set(account.will_topic, account.will, qos=1, retain=True)
        client.on_pre_connect = self._on_pre_connect
        client.on_connect = self._on_connect
        client.on_connect_fail = self._on_connect_fail
        client.on_disconnect = self._on_disconnect
        client.on_publish = self._on_publish
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        limits = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        limits.MaximumPacketSize = LARGEST_PACKET_BYTES
        client.connect_async(
            account.host, account.port, keepalive=int(account.keepalive_s), clean_start=True, properties=limits
        )

    def start(self) -> None:
        """Begins to connect; returns at once."""
        self._client.loop_start()

    @property
    def ended(self) -> bool:
        """Whether the network thread has begun and is no more."""
        return self._thread is not None and not self._thread.is_alive()

    def publish(self, topic: str, payload: bytes, *, retain: bool) -> int | None:
        """Hands a message to the network thread; its number, or None if it cannot be sent.

        At most `window` may be unconfirmed at once. One that is larger than the broker takes is refused here: the
        broker would end the connection.
        """
        size = len(topic.encode()) + len(payload) + HEADER_BYTES
        if self._largest_bytes is not None and size > self._largest_bytes:
            self._not_sent += 1
            self.news.put(Confirmed(-self._not_sent, texts.TOO_LARGE.format(bytes=self._largest_bytes)))
            return -self._not_sent
        info = self._client.publish(topic, payload, qos=1, retain=retain)
        return info.mid if info.rc == MQTTErrorCode.MQTT_ERR_SUCCESS else None

    def murmur(self, topic: str, payload: bytes, lives_s: int) -> None:
        """Publishes without waiting for a confirmation; after `lives_s` the broker may forget it."""
        properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
        properties.MessageExpiryInterval = lives_s
        self._client.publish(topic, payload, qos=0, properties=properties)

    def leave(self, timeout_s: float) -> None:
        """Takes leave of the broker, which then keeps the last will to itself."""
        self._closed = True
        self._client.disconnect()
        if self._thread is not None:
            self._thread.join(timeout_s)
        self._shut()

    def abandon(self) -> None:
        """Ends without a word, so that the broker executes the last will. Does not wait for the thread."""
        self._closed = True
        self._client.disconnect(ReasonCode(PacketTypes.DISCONNECT, "Disconnect with will message"))
        self._shut()

    def _shut(self) -> None:
        wire = cast(socket.socket | None, self._client.socket())
        if wire is not None:
            with contextlib.suppress(OSError):
                wire.shutdown(socket.SHUT_RDWR)
            if self.ended:
                wire.close()

    def _on_pre_connect(self, _client: Client, _data: Any) -> None:
        self._thread = threading.current_thread()

    def _on_connect_fail(self, _client: Client, _data: Any) -> None:
        # The library calls this while it handles what the attempt raised, and does not pass it on.
        self.news.put(Down(of_error(sys.exception(), tls=self._tls is not None)))

    def _on_connect(
        self, client: Client, _data: Any, _flags: ConnectFlags, reason: ReasonCode, properties: Properties | None
    ) -> None:
        if reason.is_failure:
            self.news.put(Down(of_reason(reason, client_id=self._account.client_id)))
        elif self._closed:
            client.disconnect()
        else:
            self.window = min(IN_FLIGHT, getattr(properties, "ReceiveMaximum", IN_FLIGHT))
            self._largest_bytes = getattr(properties, "MaximumPacketSize", None)
            wanted = [(each.topic, DELIVERY if each.own else OTHERS_ONLY) for each in self._subscriptions]
            client.subscribe(wanted)
            self._let_in = True
            self.news.put(Up())

    def _on_disconnect(
        self, _client: Client, _data: Any, flags: DisconnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        if flags.is_disconnect_packet_from_server:
            why = of_reason(reason, client_id=self._account.client_id)
        elif self._let_in:
            why = Failure(texts.BROKEN)
        else:
            why = of_error(None if self._tls is None else self._tls.complaint, tls=self._tls is not None)
        self.news.put(Down(why))

    def _on_publish(
        self, _client: Client, _data: Any, mid: int, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        self.news.put(Confirmed(mid, str(reason) if reason.is_failure else None))

    def _on_subscribe(
        self, _client: Client, _data: Any, _mid: int, reasons: list[ReasonCode], _properties: Properties | None
    ) -> None:
        for asked, reason in zip(self._subscriptions, reasons, strict=False):
            if reason.is_failure:
                self.news.put(SubscriptionRefused(asked.topic, str(reason)))

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        payload, now_s = message.payload, time.monotonic()
        if not self._crowd.spend(now_s):
            self.crowded = True
        asked = self._lane_of.get(message.topic, "foreign")
        taken = self._lanes.admit(payload, now_s, asked)
        if not taken or self.news.qsize() >= MESSAGES_WAITING:
            self.overflowed += 1
            return
        expiry_s = getattr(message.properties, "MessageExpiryInterval", None)
        # One byte more than a command may have tells that it has too many.
        looked_at = payload if asked == "forecast" else payload[: LARGEST_BYTES + 1]
        sent = Sent(bytes(looked_at), bool(message.retain), expiry_s)
        self.news.put(Heard(message.topic, sent))


Connect = Callable[[Account, tuple[Subscription, ...]], Connection]
