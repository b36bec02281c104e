"""Keeps the message for home hubs at the broker while it is wanted, and takes it away when it no longer is."""

import json
import logging
from collections.abc import Iterable, Mapping
from pathlib import Path

from halocline.plant.own_files import replace_whole
from halocline.plant.regular_file import OURS_MOST_BYTES, read_regular
from halocline.report.mqtt import discovery, texts
from halocline.report.mqtt.payloads import Payload, encode
from halocline.report.mqtt.topics import Topics

FILE_NAME = "announced.json"
BIRTHS_APART_S = 10.0
"""A hub that begins anew, or whoever else writes to its topic, is answered no faster."""

BIRTH = b"online"

log = logging.getLogger(__name__)


class Announcer:
    """What has to stand at the broker for hubs, by topic. A topic where something was announced before, under another
    name or by a configuration that is past, is emptied: `memory` is the file that knows of it."""

    def __init__(
        self,
        topics: Topics,
        *,
        prefix: str | None,
        commands: Iterable[str] = (),
        page: str | None = None,
        memory: Path | None = None,
    ) -> None:
        """prefix: of the convention's topics; None where nothing is to be announced."""
        self._topics = topics
        self._commands = tuple(commands)
        self._page = page
        self._memory = memory
        self.topic = None if prefix is None else discovery.config_topic(prefix, topics)
        self.birth_topic = None if prefix is None else discovery.birth_topic(prefix)
        self._before = self._remembered()
        self._made_of: tuple[object, ...] | None = None
        self._born = False
        self._next_birth_s = float("-inf")
        self._wanted = {topic: b"" for topic in self._before if topic != self.topic}

    @property
    def wanted(self) -> Mapping[str, bytes]:
        """What has to stand where; nothing where something has to go."""
        return self._wanted

    def look(self, public: Payload) -> None:
        """The newest snapshot; one of a lost link does not tell what the plant has."""
        if self.topic is None or (public.get("link") or {}).get("control") != "live":
            return
        made_of = discovery.shown(public)
        if made_of != self._made_of:
            self._made_of = made_of
            self._remember({*self._before, self.topic})
            told = discovery.message(self._topics, public, commands=self._commands, page=self._page)
            self._wanted[self.topic] = encode(told)

    def heard(self, payload: bytes) -> None:
        """Something was said under the hubs' own topic."""
        self._born = self._born or payload == BIRTH

    def again(self, now_s: float) -> bool:
        """Whether a hub has begun anew, and all has to be told again."""
        if not self._born or now_s < self._next_birth_s:
            return False
        self._born = False
        self._next_birth_s = now_s + BIRTHS_APART_S
        return True

    def stands(self, topic: str) -> None:
        """The broker has taken what is wanted there."""
        if self._wanted.get(topic) == b"":
            del self._wanted[topic]
            self._remember(self._before - {topic})

    def _remembered(self) -> frozenset[str]:
        if self._memory is None:
            return frozenset()
        try:
            known = json.loads(read_regular(self._memory, OURS_MOST_BYTES))
        except FileNotFoundError:
            return frozenset()
        except (OSError, ValueError) as error:
            log.warning(texts.ANNOUNCED_UNKNOWN.format(path=self._memory, why=error))
            return frozenset()
        return frozenset(topic for topic in known if isinstance(topic, str)) if isinstance(known, list) else frozenset()

    def _remember(self, topics: Iterable[str]) -> None:
        """Before anything is announced, so that it can be taken away whatever becomes of this process."""
        if (known := frozenset(topics)) == self._before:
            return
        self._before = known
        if self._memory is not None:
            try:
                replace_whole(self._memory, json.dumps(sorted(known)).encode(), 0o640)
            except OSError as error:
                log.warning(texts.ANNOUNCED_NOT_KEPT.format(path=self._memory, why=error.strerror or error))
