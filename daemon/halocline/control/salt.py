"""The salt of the product: what is measured, on average; what is foreseen; whether it rises; how far it is noise."""

from halocline.plant.thresholds import AHEAD_S, HOLDS_AHEAD
from halocline.signals.noise import Noise
from halocline.signals.trend import Mean, Rise, Slope

FAST_S, SLOW_S = 1.0, 3.0
"""A steep rise shows within the first, a slower one stands out of the noise only over the second (chosen; tried against
noise and tears in tests/control/test_noise_makes_no_news.py)."""
RUSH_NOISES = 6.0
"""A rise is looked ahead along where it is this many times what noise makes of the difference of two values. The noise
that is learned wanders by a third about the true one, so that six may be four in truth: by chance noise of 10 % closed
the tank once in seventy simulated hours, with five once in ten. More would find a slow tear later than it is measured
(chosen by these trials)."""
RECENT_S = 1.5
"""What is measured and what is foreseen are averaged so long: four values of the cell. Noise is halved by that
(computed)."""
RISING_S = (10.0, 60.0)
"""Windows over which salt must not rise before the tank opens: a rise of some seconds, and one that takes a minute
(chosen)."""
HOLD_PARTS = 3
"""Where the quality hold is short, the shorter window is this part of it, and the longer one all of it (chosen)."""
RISING_MG_L = 5.0
"""What salt may still rise over the shorter window, with a share of its value: less than a meter's last digits tell at
500 mg/L (chosen)."""
RISING_FRACTION = 0.03
"""The share that goes with it (chosen)."""
RISING_NOISES = 6.0
"""Times what noise makes of such a rise: fewer, and noise would keep the tank shut, more, and it would open on a rise.
Four broke the hold of a minute 13 times an hour by chance, whatever the noise; six do so once in five hours (chosen;
tried against noise in tests/control/test_noise_makes_no_news.py)."""
LEAST_MG_L = 1.0
"""The noise of a good cell and its converter is 1 to 4 mg/L on a span of 40 mS/cm, of which one code is about this
(computed)."""


class Salt:
    """Follows the salt reading; all its means and windows are parts of the quality hold where that is short.

    recent: mean of the last 1.5 s. mean: over as long as the look ahead. foreseen: what will be measured when a valve
    told now has moved, if the salt goes on rising like this; as `recent` while nothing rises beyond the noise. rising:
    whether it still rises, None until that can be told. All in mg/L; None where it is not known.
    """

    def __init__(self, hold_s: float) -> None:
        self.ahead_s = min(AHEAD_S, hold_s / HOLDS_AHEAD)
        self.noise = Noise(LEAST_MG_L)
        self.recent: float | None = None
        self.foreseen: float | None = None
        self.mean: float | None = None
        self.rising: bool | None = None
        self._fast, self._slow = Slope(FAST_S), Slope(SLOW_S)
        self._recent, self._coming = Mean(RECENT_S), Mean(RECENT_S)
        self._mean = Mean(self.ahead_s)
        self._rises = (Rise(min(RISING_S[0], hold_s / HOLD_PARTS)), Rise(min(RISING_S[1], hold_s)))

    def update(self, tds_mg_l: float | None, now_s: float) -> None:
        """One tick's reading; None is a gap, after which everything begins anew but for the noise."""
        self.noise.update(tds_mg_l, now_s)
        rate = self._rush(tds_mg_l, now_s)
        coming = None if tds_mg_l is None else tds_mg_l + self.ahead_s * rate
        self.recent = self._recent.update(tds_mg_l, now_s)
        self.foreseen = self._coming.update(coming, now_s)
        self.mean = self._mean.update(tds_mg_l, now_s)
        self.rising = self._still_rises(tds_mg_l, now_s)

    def _rush(self, tds_mg_l: float | None, now_s: float) -> float:
        """The rate of a rise that is more than noise, else 0; what the last second does not bear out is over."""
        fast = self._fast.per_second(tds_mg_l, now_s) or 0.0
        slow = self._slow.per_second(tds_mg_l, now_s) or 0.0
        chance = RUSH_NOISES * 2**0.5 * self.noise.present
        steep = fast if fast * FAST_S > chance else 0.0
        steady = min(slow, fast + chance / FAST_S) if slow * SLOW_S > chance else 0.0
        return max(steep, steady)

    def _still_rises(self, tds_mg_l: float | None, now_s: float) -> bool | None:
        short, long = self._rises
        risen, risen_in_all = short.update(tds_mg_l, now_s), long.update(tds_mg_l, now_s)
        if tds_mg_l is None or risen is None:
            return None
        allowed = (RISING_MG_L + RISING_FRACTION * tds_mg_l) / short.window_s
        return self._is_rise(short, risen, allowed) or (
            risen_in_all is not None and self._is_rise(long, risen_in_all, allowed)
        )

    def _is_rise(self, rise: Rise, risen: float, allowed: float) -> bool:
        return risen > allowed * rise.window_s and risen > RISING_NOISES * rise.noise(self.noise.usual)
