"""Where each thing stands under the boat's prefix."""

import re
import unicodedata
from dataclasses import dataclass

_ALARM_ID = re.compile(r"[a-z0-9_]{1,80}")


@dataclass(frozen=True, slots=True)
class Topics:
    """The topics of one boat."""

    prefix: str

    @property
    def status(self) -> str:
        """Whether what stands under `now` and `alarm/…` is alive; retained, and the last will."""
        return f"{self.prefix}/status"

    @property
    def now(self) -> str:
        """The public snapshot; retained."""
        return f"{self.prefix}/now"

    @property
    def event(self) -> str:
        """What happened."""
        return f"{self.prefix}/event"

    @property
    def health(self) -> str:
        """How the plant ages; retained."""
        return f"{self.prefix}/health"

    @property
    def duties(self) -> str:
        """What is due by hand; retained."""
        return f"{self.prefix}/duties"

    @property
    def plan(self) -> str:
        """The next run that is planned; retained."""
        return f"{self.prefix}/plan"

    @property
    def forecast(self) -> str:
        """A forecast of sun and sea."""
        return f"{self.prefix}/forecast"

    @property
    def command(self) -> str:
        """Where commands come in."""
        return f"{self.prefix}/command"

    @property
    def answer(self) -> str:
        """What became of it."""
        return f"{self.prefix}/answer"

    @property
    def every_alarm(self) -> str:
        """The filter for all alarms."""
        return f"{self.prefix}/alarm/+"

    def alarm(self, alarm_id: str) -> str:
        """One alarm; retained while it is not normal."""
        return f"{self.prefix}/alarm/{alarm_id}"

    def is_alarm(self, topic: str) -> bool:
        """Whether `topic` is that of an alarm."""
        head, _, alarm_id = topic.rpartition("/")
        return head == f"{self.prefix}/alarm" and is_alarm_id(alarm_id)


def topics_of(prefix: str, boat: str) -> Topics:
    """The topics under `prefix`, or under `halocline/<boat>` if it is empty."""
    return Topics(prefix or f"halocline/{slug(boat)}")


def slug(name: str) -> str:
    """A name as one part of a topic: small letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "boat"


def is_alarm_id(text: str) -> bool:
    """Whether `text` may stand as the last part of an alarm's topic."""
    return _ALARM_ID.fullmatch(text) is not None
