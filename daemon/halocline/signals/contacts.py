"""Normally closed contacts: open, broken or unreadable all mean active."""

from halocline.plant.sensors import ContactInput
from halocline.plant.thresholds import ROUNDING_S

UNSEEN_S = 2.0
"""A contact nobody has looked at for this long counts as active. As long as any reading may be old (chosen)."""


class ContactValidator:
    """One contact, debounced in both directions."""

    __slots__ = ("_active", "_debounce_s", "_seen_active", "_since_s", "_taken_s")

    def __init__(self, contact: ContactInput) -> None:
        self._debounce_s = contact.debounce_s
        self._active = True
        self._seen_active: bool | None = None
        self._since_s = 0.0
        self._taken_s = 0.0

    def update(self, now_s: float, closed: bool | None) -> None:
        """One look at the pin: whether the circuit is closed, None where it could not be read.

        The first look counts at once; later changes must last for the contact's debounce time.
        """
        active = closed is not True
        if self._seen_active is None:
            self._active = active
        if active is not self._seen_active:
            self._seen_active = active
            self._since_s = now_s
        self._taken_s = now_s
        if active is not self._active and self._lasted(now_s):
            self._active = active

    def active(self, now_s: float) -> bool:
        """Whether the contact is active; true as well when it was never, or not lately, looked at."""
        if self._active or self._seen_active is None:
            return True
        return now_s - self._taken_s > UNSEEN_S or (self._seen_active and self._lasted(now_s))

    def _lasted(self, now_s: float) -> bool:
        return now_s - self._since_s >= self._debounce_s - ROUNDING_S
