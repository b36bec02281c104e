"""The ADS1115's registers, as its data sheet numbers them. Shared by the real and the emulated side's tables.

Source of every constant here: ADS111x data sheet, register map.
"""

CONVERSION, CONFIG, LO_THRESH, HI_THRESH = range(4)

OS = 0x8000  # written: start a conversion; read: 1 = no conversion going on
MUX_SHIFT = 12
MUX_MASK = 0x7000
SINGLE_ENDED = 4  # mux codes 4..7 are inputs 0..3 against ground
GAIN_SHIFT = 9
GAIN_MASK = 0x0E00
MODE_SINGLE = 0x0100
RATE_SHIFT = 5
RATE_MASK = 0x00E0
WINDOW = 0x0010
ACTIVE_HIGH = 0x0008
LATCHING = 0x0004
QUEUE_MASK = 0x0003
QUEUE_OFF = 3

POWER_ON_CONFIG = 0x8583
POWER_ON_LO_THRESH = 0x8000
POWER_ON_HI_THRESH = 0x7FFF

RATES_SPS = (8, 16, 32, 64, 128, 250, 475, 860)
FULL_SCALE_V = (6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256)
QUEUE_LENGTHS = (1, 2, 4)
RATE_TOLERANCE = 0.10  # the chip's own oscillator: up to 10 % slow or fast


def rate_sps(config: int) -> int:
    """Samples per second that a config word asks for."""
    return RATES_SPS[(config & RATE_MASK) >> RATE_SHIFT]


def full_scale_v(config: int) -> float:
    """Full-scale range in V that a config word asks for."""
    return FULL_SCALE_V[(config & GAIN_MASK) >> GAIN_SHIFT]


def mux_code(config: int) -> int:
    """Multiplexer code 0..7 of a config word."""
    return (config & MUX_MASK) >> MUX_SHIFT


def input_words(config: int) -> str:
    """The multiplexer setting of a config word in words."""
    code = mux_code(config)
    return f"input {code - SINGLE_ENDED}" if code >= SINGLE_ENDED else f"the differential pair {code}"


def signed(word: int) -> int:
    """A register's 16 bits as two's complement."""
    return word - 0x10000 if word & 0x8000 else word
