"""The Raspberry Pi's own I2C bus, through the kernel."""

import errno
import fcntl
from collections.abc import Sequence

from smbus2 import SMBus, i2c_msg

from halocline_hw.bus import Step
from halocline_hw.device_files import remedy

# <linux/i2c-dev.h>; the time-out counts in units of 10 ms
I2C_RETRIES = 0x0701
I2C_TIMEOUT = 0x0702
TIMEOUT_10_MS = 5  # 50 ms: a transfer takes under 1 ms; adapters that ignore this wait about 1 s

_REMEDY = {
    errno.ENOENT: "switch I2C on (dtparam=i2c_arm=on in config.txt) and start the computer again",
}
_NOT_ALLOWED = (errno.EACCES, errno.EPERM)


class SmbusBus:
    """The bus object the driver needs. Errors: OSError, TimeoutError."""

    def __init__(self, number: int) -> None:
        path = f"/dev/i2c-{number}"
        try:
            self._bus = SMBus(path)
        except OSError as error:
            number = error.errno or errno.EIO
            do = remedy(path, "i2c") if number in _NOT_ALLOWED else _REMEDY.get(number, "is it the right bus number?")
            raise OSError(number, f"cannot open {path}: {do}") from error
        # The Raspberry Pi's adapter takes one read a call, as the last message; others take many.
        self._one_read_a_call = False
        file_descriptor = self._bus.fd
        if file_descriptor is not None:
            fcntl.ioctl(file_descriptor, I2C_TIMEOUT, TIMEOUT_10_MS)
            # No silent retries: whoever asked counts them and knows what is still in time.
            fcntl.ioctl(file_descriptor, I2C_RETRIES, 0)

    def try_lock(self) -> bool:
        return True

    def unlock(self) -> None:
        pass

    def writeto(self, address: int, buffer: bytes | bytearray, *, start: int = 0, end: int | None = None) -> None:
        self._bus.i2c_rdwr(i2c_msg.write(address, buffer[start:end]))

    def readfrom_into(self, address: int, buffer: bytearray, *, start: int = 0, end: int | None = None) -> None:
        stop = len(buffer) if end is None else end
        message = i2c_msg.read(address, stop - start)
        self._bus.i2c_rdwr(message)
        buffer[start:stop] = bytes(message)

    def writeto_then_readfrom(
        self,
        address: int,
        out_buffer: bytes | bytearray,
        in_buffer: bytearray,
        *,
        out_start: int = 0,
        out_end: int | None = None,
        in_start: int = 0,
        in_end: int | None = None,
    ) -> None:
        stop = len(in_buffer) if in_end is None else in_end
        message = i2c_msg.read(address, stop - in_start)
        self._bus.i2c_rdwr(i2c_msg.write(address, out_buffer[out_start:out_end]), message)
        in_buffer[in_start:stop] = bytes(message)

    def transfer(self, address: int, steps: Sequence[Step]) -> list[bytes]:
        """One call of the system for all steps, or one for each read where the adapter takes only one read a call."""
        if self._one_read_a_call:
            return self._read_by_read(address, steps)
        try:
            return self._in_one_call(address, steps)
        except OSError as error:
            if error.errno != errno.EOPNOTSUPP:
                raise
            # Refused before anything was sent: nothing was written twice.
            self._one_read_a_call = True
            return self._read_by_read(address, steps)

    def _read_by_read(self, address: int, steps: Sequence[Step]) -> list[bytes]:
        answers, waiting = [], []
        for step in steps:
            waiting.append(step)
            if step[1]:
                answers += self._in_one_call(address, waiting)
                waiting = []
        return answers + (self._in_one_call(address, waiting) if waiting else [])

    def _in_one_call(self, address: int, steps: Sequence[Step]) -> list[bytes]:
        messages, reads = [], []
        for data, count in steps:
            messages.append(i2c_msg.write(address, data))
            if count:
                reads.append(i2c_msg.read(address, count))
                messages.append(reads[-1])
        self._bus.i2c_rdwr(*messages)
        return [bytes(message) for message in reads]

    def close(self) -> None:
        self._bus.close()
