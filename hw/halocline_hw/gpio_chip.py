"""What the kernel says of a GPIO chip, asked without the GPIO library: that takes a tenth of a second to let go of one,
for each chip of the computer, while a plant waits for its control."""

import fcntl
import os
import struct

GET_CHIP_INFO = 0x8044B401
"""GPIO_GET_CHIPINFO_IOCTL: `_IOR(0xB4, 0x01, struct gpiochip_info)` (linux/gpio.h)."""

CHIP_INFO = struct.Struct("32s32sI")
"""struct gpiochip_info: name, label, number of lines (linux/gpio.h)."""


def chip_label(path: str) -> str:
    """The label of the chip behind a device file; empty where it cannot be opened or is none."""
    try:
        device = os.open(path, os.O_RDWR | os.O_CLOEXEC)
    except OSError:
        return ""
    try:
        told = fcntl.ioctl(device, GET_CHIP_INFO, bytes(CHIP_INFO.size))
    except OSError:
        return ""
    finally:
        os.close(device)
    label: bytes = CHIP_INFO.unpack(told)[1]
    return label.split(b"\0", 1)[0].decode(errors="replace")
