#!/opt/halocline/bin/python -I
"""The boat behind the rig's board: reads the output lines, lets the simulated plant live by them, writes volts,
contacts and pulses back. As root in the guest, with the package that is installed there.

Lines written into the FIFO /run/rig-bridge: `fault NAME key=value ...`, `clear NAME ...`, `button` (the button at the
plant is pressed), `truth` (the boat's truth as JSON into /run/rig-truth). Its log: what moved the boat, with the time.
"""

import argparse
import contextlib
import dataclasses
import json
import os
import sys
import threading
import time
from pathlib import Path

from halocline.config import load_control
from halocline.config import quick as shortened
from halocline.link.client import LinkClient
from halocline.link.messages import LinkError
from halocline.rehearsal.board_wiring import wiring_of
from halocline.simulation import PlantParameters, Sea

GPIO = "/sys/module/rig_gpio/parameters"
CONVERTERS = "/sys/module/rig_i2c/parameters"
FIFO = Path("/run/rig-bridge")
TRUTH = Path("/run/rig-truth")
SOCKET = "/run/halocline/control.sock"
CHIPS = 4
FIRST_ADDRESS = 0x48
TURN_S = 0.008
VOLTS_EVERY_TURNS = 3
PULSES_A_TURN = 3


class Bridge:
    """One simulated plant on the guest's own pins and bus."""

    def __init__(self, config: Path, *, quick: bool) -> None:
        settings = load_control(config)
        settings = shortened(settings) if quick else settings
        parameters = PlantParameters.for_settings(settings)
        self.lock = threading.RLock()
        self.wiring = wiring_of(settings)
        self.sea = Sea(settings, parameters.quick() if quick else parameters, 1, time.monotonic(), slip=True)
        self._level = os.open(f"{GPIO}/level", os.O_RDONLY)
        self._driven = os.open(f"{GPIO}/output", os.O_RDONLY)
        self._low = os.open(f"{GPIO}/low", os.O_WRONLY)
        self._pulse = os.open(f"{GPIO}/pulse", os.O_WRONLY)
        self._volts = os.open(f"{CONVERTERS}/uv", os.O_WRONLY)
        self._on: dict[str, bool] = {}
        self._counted: dict[str, int] = {}
        self._mask = -1
        self._turns = 0

    def turn(self) -> None:
        """Outputs in, the boat's time, inputs out."""
        with self.lock:
            now_s = time.monotonic()
            self._read_outputs(now_s)
            self.sea.advance(now_s)
            self._turns += 1
            if self._turns % VOLTS_EVERY_TURNS == 0:
                os.pwrite(self._volts, self.volts(now_s).encode(), 0)
            self._close_contacts(now_s)
            self._send_pulses(now_s)

    def volts(self, now_s: float) -> str:
        """The microvolts at every converter's inputs, as the module takes them."""
        wired = self.wiring.chip_addresses()
        return ",".join(
            str(round(self.sea.volts(address, mux, now_s) * 1e6) if address in wired else 0)
            for address in range(FIRST_ADDRESS, FIRST_ADDRESS + CHIPS)
            for mux in range(4)
        )

    def _read_outputs(self, now_s: float) -> None:
        levels, driven = (int(os.pread(file, 32, 0), 16) for file in (self._level, self._driven))
        for name, output in self.wiring.outputs.items():
            # a pin that is not driven has its gate's pull-down
            on = bool(driven >> output.pin & 1) and bool(levels >> output.pin & 1) is output.active_high
            if self._on.get(name) is not on:
                self._on[name] = on
                self.sea.set_output(name, on, now_s)

    def _close_contacts(self, now_s: float) -> None:
        mask = sum(1 << pin.pin for name, pin in self.wiring.contacts.items() if self.sea.contact_closed(name, now_s))
        if mask != self._mask:
            self._mask = mask
            os.pwrite(self._low, b"%x" % mask, 0)

    def _send_pulses(self, now_s: float) -> None:
        for name, pin in self.wiring.pulses.items():
            count = self.sea.edges(name, now_s)[0]
            sent = self._counted.setdefault(name, count)
            for _ in range(min(count - sent, PULSES_A_TURN)):
                os.pwrite(self._pulse, b"%d" % pin.pin, 0)
                self._counted[name] += 1

    def order(self, words: list[str]) -> None:
        """One line of the FIFO."""
        now_s = time.monotonic()
        match words:
            case ["fault" | "clear" as what, name, *rest]:
                arguments = {key: _number(value) for key, _, value in (word.partition("=") for word in rest)}
                self.sea.inject(name, now_s, clear=what == "clear", **arguments)
            case ["button"]:
                self.sea.press_plant_button(now_s)
            case ["truth"]:
                aside = TRUTH.with_suffix(".new")
                aside.write_text(json.dumps(dataclasses.asdict(self.sea.truth(now_s)), default=str))
                aside.replace(TRUTH)


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _listen(bridge: Bridge) -> None:
    # an order that came before there was a place for it has made a file
    if not FIFO.is_fifo():
        FIFO.unlink(missing_ok=True)
        os.mkfifo(FIFO)
    while True:
        with FIFO.open() as lines:
            for line in lines:
                try:
                    with bridge.lock:
                        bridge.order(line.split())
                except (ValueError, TypeError) as error:
                    print(f"{time.monotonic():.3f} refused: {line.strip()}: {error}", flush=True)


def _read_the_page(bridge: Bridge) -> None:
    """The hand that does what the page asks; without a page nothing is asked."""
    while True:
        with contextlib.suppress(LinkError, OSError), LinkClient(SOCKET, "hand") as client:
            while True:
                message = client.receive(1.0)
                with bridge.lock:
                    if message is None:
                        bridge.sea.ask(None, time.monotonic())
                    elif "now" in message:
                        bridge.sea.ask(message["now"].get("ask"), time.monotonic())
        with bridge.lock:
            bridge.sea.ask(None, time.monotonic())
        time.sleep(0.5)


def main() -> None:
    """Run until killed; with --write-rest only write the volts of a plant at rest."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--config", type=Path, default=Path("/etc/halocline/halocline.toml"))
    parser.add_argument("--quick", action="store_true", help="a tenth of the time and the litres")
    parser.add_argument("--write-rest", type=Path, metavar="FILE")
    arguments = parser.parse_args()
    bridge = Bridge(arguments.config, quick=arguments.quick)
    if arguments.write_rest:
        bridge.sea.advance(time.monotonic())
        arguments.write_rest.write_text(bridge.volts(time.monotonic()) + "\n")
        sys.exit()
    for work in (_listen, _read_the_page):
        threading.Thread(target=work, args=(bridge,), daemon=True).start()
    while True:
        bridge.turn()
        time.sleep(TURN_S)


if __name__ == "__main__":
    main()
