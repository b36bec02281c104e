"""The ways one input lies, put between the circuit and a chip's input."""

from collections import deque
from dataclasses import dataclass
from math import inf
from random import Random

from halocline_hw.emulated.ads1115 import Volts

CHANNEL_FAULTS = ("off", "stuck", "garbage", "wrong", "slow", "delayed", "intermittent")
HISTORY = 4096  # samples kept for `delayed`: 8 s of a chip that does nothing else


@dataclass(frozen=True, slots=True)
class ChannelFault:
    """One input's fault and its size. Only the arguments its kind names are used."""

    kind: str
    offset_v: float = 0.5  # wrong: added
    factor: float = 1.0  # wrong: multiplied before
    period_s: float = 1.0  # slow: one new value in each
    seconds: float = 1.0  # delayed: the value of so long ago
    fraction: float = 0.5  # intermittent: share of conversions that read 0 V
    highest_v: float = 5.0  # garbage: evenly between 0 V and this

    def __post_init__(self) -> None:
        if self.kind not in CHANNEL_FAULTS:
            raise ValueError(f"no channel fault is called {self.kind}; there are {', '.join(CHANNEL_FAULTS)}")


class ChannelFaults:
    """A chip's `volts` with faults on any of its inputs; without one the true voltage passes."""

    def __init__(self, volts: Volts, *, seed: int = 0) -> None:
        self._volts = volts
        self._random = Random(seed)
        self._faults: dict[int, ChannelFault] = {}
        self._held: dict[int, tuple[float, float]] = {}  # time and value last taken over
        self._history: dict[int, deque[tuple[float, float]]] = {}

    def set(self, number: int, fault: ChannelFault) -> None:
        """Give input `number` a fault, in place of any it has."""
        self.clear(number)
        self._faults[number] = fault

    def clear(self, number: int) -> None:
        """Let input `number` tell the truth again."""
        self._faults.pop(number, None)
        self._held.pop(number, None)
        self._history.pop(number, None)

    def __call__(self, number: int, t_s: float) -> float:
        true_v = self._volts(number, t_s)
        fault = self._faults.get(number)
        return true_v if fault is None else self._shown(number, fault, t_s, true_v)

    def _shown(self, number: int, fault: ChannelFault, t_s: float, true_v: float) -> float:
        shown_v = 0.0  # off: the input's resistor pulls an open wire to ground
        match fault.kind:
            case "stuck":
                shown_v = self._renewed(number, inf, t_s, true_v)
            case "garbage":
                shown_v = self._random.uniform(0.0, fault.highest_v)
            case "wrong":
                shown_v = true_v * fault.factor + fault.offset_v
            case "slow":
                shown_v = self._renewed(number, fault.period_s, t_s, true_v)
            case "delayed":
                shown_v = self._earlier(number, t_s - fault.seconds, t_s, true_v)
            case "intermittent" if self._random.random() >= fault.fraction:
                shown_v = true_v
        return shown_v

    def _renewed(self, number: int, period_s: float, t_s: float, true_v: float) -> float:
        taken_s, value = self._held.get(number, (t_s, true_v))
        if t_s - taken_s >= period_s:
            taken_s, value = t_s, true_v
        self._held[number] = (taken_s, value)
        return value

    def _earlier(self, number: int, wanted_s: float, t_s: float, true_v: float) -> float:
        history = self._history.setdefault(number, deque(maxlen=HISTORY))
        history.append((t_s, true_v))
        while len(history) > 1 and history[1][0] <= wanted_s:
            history.popleft()
        return history[0][1]
