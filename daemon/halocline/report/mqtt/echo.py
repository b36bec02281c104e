"""Whether a command that is published now would be heard: a word of our own under `command`, listened for.

A connection can stand while nothing comes through it: access rules that keep messages back without a word, a broker
that has stalled, or one whose places for this client are taken for ever. Only hearing shows that one can hear. The
word goes to the very topic that commands go to, because rules are made for each topic.
"""

import json
import secrets

from halocline.report.mqtt.command_filter import OLDEST_S

EVERY_S = 2.0
"""Often enough that two are on trial within the time below, seldom enough not to matter on any network."""

HEARD_WITHIN_S = 5.0
"""`online` promises news of control that is at most so old; of the way back it promises the same."""

DEAF_AFTER_S = OLDEST_S
"""A command that needs longer is refused as too old, so a connection this slow is worth nothing: a new one is made."""

ON_THEIR_WAY = 16


class Echo:
    """The words of one connection after the other. Values and times only; for one thread."""

    def __init__(self) -> None:
        self.start_over(float("-inf"))

    def start_over(self, now_s: float) -> None:
        """A connection begins: words that went over another prove nothing about this one."""
        self._token = secrets.token_hex(8)
        self._number = 0
        self._sent_s: dict[str, float] = {}
        self._due_s = now_s
        self._began_s = now_s
        self._newest_s: float | None = None
        self._lost_s: float | None = None

    def due(self, now_s: float) -> bytes | None:
        """The word that has to go out now, if any."""
        if now_s < self._due_s:
            return None
        self._due_s = now_s + EVERY_S
        self._number += 1
        word = f"{self._token}-{self._number}"
        self._sent_s[word] = now_s
        if len(self._sent_s) > ON_THEIR_WAY:
            self._sent_s.pop(next(iter(self._sent_s)))
        return json.dumps({"echo": word}).encode()

    def heard(self, payload: bytes) -> bool:
        """Whether `payload` is a word of ours, come back; a word counts once."""
        word = self._word_in(payload)
        if word is None:
            return False
        if word in self._sent_s:
            self._took(word)
        return True

    def _took(self, word: str) -> None:
        """A broker keeps the order of what is published under a topic: what is older and not here will not come."""
        for older in tuple(self._sent_s):
            sent_s = self._sent_s.pop(older)
            if older == word:
                self._newest_s = sent_s
                return
            self._doubt(sent_s)

    def crowded(self, now_s: float) -> None:
        """More came at once than a broker may keep for us: between two words it may have dropped a stop unseen."""
        self._doubt(now_s)

    def _doubt(self, at_s: float) -> None:
        self._lost_s = at_s if self._lost_s is None else max(self._lost_s, at_s)

    def hears(self, now_s: float) -> bool:
        """Whether something that is at most `HEARD_WITHIN_S` old has come through, and nothing of that age was lost or
        may have been: a broker that cannot keep up with a flood drops messages, and the next may be a stop."""
        return _within(self._newest_s, now_s) and not self.doubts(now_s)

    def doubts(self, now_s: float) -> bool:
        """Whether something that is at most `HEARD_WITHIN_S` old was lost, or may have been."""
        return _within(self._lost_s, now_s)

    def deaf_s(self, now_s: float) -> float:
        """For how long nothing has come through: since the newest word that has, or since the connection began."""
        return now_s - (self._began_s if self._newest_s is None else self._newest_s)

    def _word_in(self, payload: bytes) -> str | None:
        """The word in `payload` if it is one of this connection's, also of one that has come back already."""
        head = f'{{"echo": "{self._token}-'.encode()
        if not payload.startswith(head) or len(payload) > len(head) + 24:
            return None
        return payload.removeprefix(b'{"echo": "').removesuffix(b'"}').decode("ascii", "replace")


def _within(sent_s: float | None, now_s: float) -> bool:
    return sent_s is not None and now_s - sent_s <= HEARD_WITHIN_S
