"""An ADS1115 as its registers show it: what the driver writes and reads, and when.

Modelled after the ADS111x data sheet: pointer, config with the operational-status bit, conversion time
by rate with the oscillator's tolerance, gain and its clipping, the limit the supply sets to any input,
both comparator modes with queue, polarity and latch, and the conversion-ready use of the ALERT pin.
A start is ignored while a conversion goes on, though the config register takes the new bits.
"""

from collections.abc import Callable
from threading import RLock

from halocline_hw import registers
from halocline_hw.clock import Clock

Volts = Callable[[int, float], float]

# The input protection conducts beyond 0.3 V outside the supply (absolute maximum ratings).
BELOW_GROUND_V = 0.3
# Free-running conversions nobody looked at are forgotten: only so many of the latest are made up for.
CATCH_UP = 8
DIFFERENTIAL = ((0, 1), (0, 3), (1, 3), (2, 3))


class EmulatedAds1115:
    """One chip.

    volts(input, t_s) gives the voltage on input 0..3 when a conversion ends. t_s never decreases from
    call to call, but may lie a poll's length in the past: a plant that has gone on answers with what it
    has. supply_v limits what an input can show. rate_error: relative error of the chip's oscillator,
    -0.1..0.1.
    """

    def __init__(self, volts: Volts, clock: Clock, *, supply_v: float = 3.3, rate_error: float = 0.0) -> None:
        if abs(rate_error) > registers.RATE_TOLERANCE:
            raise ValueError(f"the data sheet allows 10 % rate error, not {100.0 * rate_error:.0f} %")
        self._volts = volts
        self._clock = clock
        self._lock = RLock()  # a relay hangs on the ALERT pin while another thread talks to the registers
        self._supply_v = supply_v
        self._time_factor = 1.0 / (1.0 + rate_error)
        self.hangs = False  # never finishes a conversion
        self.resets_when_started = False  # its supply collapses with every conversion
        self.drops_mux = False  # takes all of a config write but the channel
        self.power_on()

    def power_on(self) -> None:
        """Every register as after a supply failure."""
        self._pointer = registers.CONVERSION
        self._config = registers.POWER_ON_CONFIG & ~registers.OS
        self._lo_thresh = registers.signed(registers.POWER_ON_LO_THRESH)
        self._hi_thresh = registers.signed(registers.POWER_ON_HI_THRESH)
        self._code = 0
        self._converting = False
        self._ends_s = 0.0
        self._sampled = self._config  # the settings the running conversion was started with
        self._beyond = 0  # conversions in a row beyond a threshold
        self._alert = False
        self._ready_pulse = False

    # -- as the bus sees it ----------------------------------------------------------------------

    def write(self, data: bytes | bytearray) -> None:
        """The bytes of one write transfer after the address."""
        with self._lock:
            self._write(data)

    def _write(self, data: bytes | bytearray) -> None:
        if not data:
            return
        self._pointer = data[0] & 3
        if len(data) < 3:
            return
        self._finish()
        word = data[1] << 8 | data[2]
        if self._pointer == registers.CONFIG:
            self._write_config(word)
        elif self._pointer == registers.LO_THRESH:
            self._lo_thresh = registers.signed(word)
        elif self._pointer == registers.HI_THRESH:
            self._hi_thresh = registers.signed(word)

    def read(self) -> int:
        """The 16 bits of the register the pointer stands on."""
        with self._lock:
            return self._read()

    def read_register(self, register: int) -> int:
        """Move the pointer, as a write of one byte does, and read."""
        with self._lock:
            self._pointer = register & 3
            return self._read()

    def _read(self) -> int:
        if self._converting:
            self._finish()
        pointer = self._pointer
        if pointer == registers.CONFIG:
            return self._config if self._converting else self._config | registers.OS
        if pointer == registers.CONVERSION:
            if self._config & registers.LATCHING:
                self._alert = False
            self._ready_pulse = False
            return self._code & 0xFFFF
        return (self._lo_thresh if pointer == registers.LO_THRESH else self._hi_thresh) & 0xFFFF

    # -- as the circuit sees it ------------------------------------------------------------------

    @property
    def alert_asserted(self) -> bool:
        """Whether the comparator (or the ready signal) asserts the ALERT pin now."""
        with self._lock:
            self._finish()
            return self._ready_pulse if self._is_ready_pin() else self._alert

    @property
    def alert_level(self) -> bool:
        """The ALERT pin's level: open drain with a pull-up, let go while the comparator is off."""
        if self._config & registers.QUEUE_MASK == registers.QUEUE_OFF:
            return True
        active_high = bool(self._config & registers.ACTIVE_HIGH)
        return self.alert_asserted == active_high

    # -- inside ----------------------------------------------------------------------------------

    def _write_config(self, word: int) -> None:
        start = word & registers.OS
        word &= ~registers.OS
        if self.drops_mux:
            word = word & ~registers.MUX_MASK | self._config & registers.MUX_MASK
        self._config = word
        if word & registers.QUEUE_MASK == registers.QUEUE_OFF:
            self._alert, self._beyond = False, 0
        if self._converting:
            return
        if start or not word & registers.MODE_SINGLE:
            if self.resets_when_started:
                self.power_on()
                return
            self._begin(self._clock.now())

    def _begin(self, at_s: float) -> None:
        self._converting = True
        self._sampled = self._config
        self._ends_s = at_s + self._conversion_s()

    def _conversion_s(self) -> float:
        return _CONVERSION_S[(self._config & registers.RATE_MASK) >> registers.RATE_SHIFT] * self._time_factor

    def _finish(self) -> None:
        """Let every conversion that has ended by now take effect."""
        if not self._converting or self.hangs:
            return
        now_s = self._clock.now() + 1e-9  # the sum of start and duration may round up
        if now_s < self._ends_s:
            return
        behind = int((now_s - self._ends_s) / self._conversion_s()) - CATCH_UP
        if behind > 0 and not self._config & registers.MODE_SINGLE:
            self._ends_s += behind * self._conversion_s()
        while self._converting and now_s >= self._ends_s:
            self._code = self._convert(self._ends_s)
            self._compare(self._code)
            self._converting = False
            if not self._config & registers.MODE_SINGLE:
                self._begin(self._ends_s)

    def _convert(self, at_s: float) -> int:
        config = self._sampled
        code = registers.mux_code(config)
        if code >= registers.SINGLE_ENDED:
            volts = self._input_v(code - registers.SINGLE_ENDED, at_s)
        else:
            plus, minus = DIFFERENTIAL[code]
            volts = self._input_v(plus, at_s) - self._input_v(minus, at_s)
        code = round(volts * 32768.0 / registers.full_scale_v(config))
        return min(max(code, -32768), 32767)

    def _input_v(self, number: int, at_s: float) -> float:
        return min(max(self._volts(number, at_s), -BELOW_GROUND_V), self._supply_v)

    def _is_ready_pin(self) -> bool:
        enabled = self._config & registers.QUEUE_MASK != registers.QUEUE_OFF
        return enabled and self._hi_thresh < 0 <= self._lo_thresh

    def _compare(self, code: int) -> None:
        queue = self._config & registers.QUEUE_MASK
        if queue == registers.QUEUE_OFF:
            return
        if self._is_ready_pin():
            self._ready_pulse = True
            return
        window = self._config & registers.WINDOW
        beyond = code > self._hi_thresh or (bool(window) and code < self._lo_thresh)
        self._beyond = self._beyond + 1 if beyond else 0
        if self._beyond >= registers.QUEUE_LENGTHS[queue]:
            self._alert = True
        elif self._alert and not self._config & registers.LATCHING and not beyond:
            # Without a window the low threshold is the return point: between the two nothing changes.
            self._alert = not window and code >= self._lo_thresh


_CONVERSION_S = tuple(1.0 / rate for rate in registers.RATES_SPS)
