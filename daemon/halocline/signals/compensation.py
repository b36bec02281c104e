"""Conductivity referred to 25 °C, once, and never to good news."""

from halocline.physics.conductivity import Method, at_25c
from halocline.plant.sensors import Compensation as Setting

COLDEST_ASSUMED_C = 5.0
"""Assumed where the temperature is not known: the colder the water, the more salt the same reading means. By default
the warning for cold water stands here (chosen)."""

BELIEVED_C = (-2.0, 45.0)
"""The sea freezes at -1.9 °C, and 45 °C is past what a membrane is rated for: outside, a sender is at fault (common
practice)."""
NATURAL_C = (0.0, 35.9)
"""The table of ISO 7888 ends here; beyond it the sodium-chloride curve takes over (equal within 1.5 %)."""

SAME_K = 0.01
"""A temperature that moved by less changes the reading by 0.02 % (computed: 2 % a kelvin)."""


class Compensation:
    """The factor from a conductivity as measured to one at 25 °C; 1 where the transmitter has done it."""

    __slots__ = ("_at_c", "_factor", "_method")

    def __init__(self, setting: Setting) -> None:
        self._method: Method | None = None if setting == "done" else setting
        self._factor = 1.0
        self._at_c: float | None = None
        self.know(None)

    def know(self, temperature_c: float | None) -> None:
        """The water's temperature, None unless it is good."""
        if self._method is None:
            return
        if temperature_c is None or not BELIEVED_C[0] <= temperature_c <= BELIEVED_C[1]:
            temperature_c = COLDEST_ASSUMED_C
        if self._at_c is not None and abs(temperature_c - self._at_c) < SAME_K:
            return
        tabled = NATURAL_C[0] <= temperature_c <= NATURAL_C[1]
        method: Method = "nacl" if self._method == "natural" and not tabled else self._method
        self._factor = at_25c(1.0, temperature_c, method)
        self._at_c = temperature_c

    def apply(self, value_us_cm: float) -> float:
        """The value at 25 °C; what noise makes negative is 0."""
        return value_us_cm * self._factor if value_us_cm > 0.0 else 0.0
