"""The board without copper: converter chips at register level, a bus, and pins."""

from halocline_hw.emulated.ads1115 import EmulatedAds1115
from halocline_hw.emulated.board import EmulatedBoard
from halocline_hw.emulated.bus import CHIP_FAULTS, EmulatedBus
from halocline_hw.emulated.channel_faults import CHANNEL_FAULTS, ChannelFault, ChannelFaults
from halocline_hw.emulated.pins import EmulatedPins, PinEvent

__all__ = [
    "CHANNEL_FAULTS",
    "CHIP_FAULTS",
    "ChannelFault",
    "ChannelFaults",
    "EmulatedAds1115",
    "EmulatedBoard",
    "EmulatedBus",
    "EmulatedPins",
    "PinEvent",
]
