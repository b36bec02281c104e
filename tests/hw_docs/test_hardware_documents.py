"""The hardware documents hold together: links, names, numbers, and tables written from the code."""

import re
from itertools import pairwise
from pathlib import Path
from urllib.parse import unquote

import pytest

from halocline.config import load_example, wiring_table
from halocline.config.checks.sensors import CHIP_SUPPLY_V
from halocline.control.loop import REST_TURN_S
from halocline.plant import marked_blocks
from halocline.plant.sensors import INPUT_KINDS
from halocline.plant.thresholds import TICK_S
from halocline.plant.vocabulary import ACTUATORS, CHANNELS, CONTACTS, OUTPUTS
from halocline_hw.bus import BoundedBus
from halocline_hw.clock import VirtualClock
from halocline_hw.emulated import EmulatedBoard
from halocline_hw.interlock import Interlock
from halocline_hw.wiring import ADC_ADDRESSES, ContactPin, Wiring

HW = Path(__file__).parents[2] / "hw"
DOCUMENTS = sorted(HW.glob("*.md"))
DEMO = load_example()

LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")


def text(name: str) -> str:
    return (HW / name).read_text(encoding="utf-8")


def anchors(document: str) -> set[str]:
    """The anchors that a heading makes: lower case, spaces to hyphens, other signs dropped."""
    headings = re.findall(r"^#+ (.+)$", document, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)
def test_every_link_leads_somewhere(path: Path) -> None:
    document = path.read_text(encoding="utf-8")
    for target in LINK.findall(document):
        place, _, anchor = unquote(target).partition("#")
        assert "://" not in target, f"{path.name} links out: {target}"
        assert not place or (path.parent / place).exists(), f"{path.name}: {target} leads nowhere"
        if anchor:
            assert anchor in anchors(text(place) if place else document), f"{path.name}: no heading {target}"


def test_the_index_leads_to_every_document_and_drawing() -> None:
    linked = set(LINK.findall(text("README.md")))
    assert {path.name for path in [*HW.glob("*.md"), *HW.glob("*.svg")]} - {"README.md"} <= linked


@pytest.mark.parametrize("path", [path for path in DOCUMENTS if path.name != "README.md"], ids=lambda path: path.name)
def test_cautions_come_first(path: Path) -> None:
    title, opening = path.read_text(encoding="utf-8").split("\n\n")[:2]
    assert title.startswith("# ")
    assert opening.startswith("**"), f"{path.name} must open with its cautions"


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)
def test_tables_are_whole(path: Path) -> None:
    rows = path.read_text(encoding="utf-8").splitlines()
    for above, row in pairwise(rows):
        if above.startswith("|") and row.startswith("|"):
            assert above.count("|") == row.count("|"), f"{path.name}: {row}"


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)
def test_tables_from_the_code_are_current(path: Path) -> None:
    document = path.read_text(encoding="utf-8")
    assert document == wiring_table.filled(document, DEMO), "run: python -m halocline.config.wiring_table --write"


def test_every_table_from_the_code_is_used() -> None:
    used = {name for path in DOCUMENTS for _, name, _ in marked_blocks.MARK.findall(path.read_text(encoding="utf-8"))}
    assert used == set(wiring_table.BLOCKS)


@pytest.mark.parametrize("name", [*CHANNELS, *CONTACTS, *OUTPUTS])
def test_the_pin_map_has_every_channel_contact_and_output(name: str) -> None:
    rows = [row for row in text("pin-map.md").splitlines() if row.startswith(f"| `{name}` |")]
    assert len(rows) == 1


@pytest.mark.parametrize("kind", INPUT_KINDS)
def test_every_kind_of_sensor_is_described(kind: str) -> None:
    assert f"| `{kind}` |" in text("sensors.md")


def test_addresses_are_those_of_the_driver() -> None:
    tied = re.findall(r"^\| (\S.*) \| 0x([0-9a-f]{2}) \|$", text("sensors.md"), re.MULTILINE)
    assert tuple(int(address, 16) for _, address in tied) == ADC_ADDRESSES
    assert [line for line, _ in tied] == ["ground", "3.3 V", "data", "clock"]  # ADS111x data sheet


def test_dividers_drawn_keep_the_chip_alive() -> None:
    drawing = text("sensor-inputs.svg")
    cells = re.findall(r">([^<>]+)</text>", drawing)
    pairs = [(cells[i - 1], cell, cells[i + 1]) for i, cell in enumerate(cells) if re.fullmatch(r"\d+ / \d+ kΩ", cell)]
    assert len(pairs) == 5
    for signal, resistors, ratio in pairs:
        upper, lower = (float(ohm) for ohm in re.findall(r"\d+", resistors))
        highest_v = float(re.findall(r"(\d+(?:\.\d+)?) V", signal)[-1])
        assert (upper + lower) / lower == pytest.approx(float(ratio), abs=0.001), signal
        assert highest_v / float(ratio) <= CHIP_SUPPLY_V, signal


def test_the_heartbeat_is_as_fast_as_the_program_makes_it() -> None:
    rhythm = f"`heartbeat` over every {TICK_S * 1000:.0f} ms (every {REST_TURN_S * 1000:.0f} ms at rest)"
    assert rhythm in text("electrics.md")


def test_pins_in_the_coil_chain_are_those_of_the_demonstration_boat() -> None:
    drawn = {int(pin) for pin in re.findall(r">GPIO (\d+)<", text("coil-chain.svg"))}
    assert drawn == {DEMO.outputs[actuator].pin for actuator in ACTUATORS}


def test_the_interlock_registers_are_what_the_driver_programs() -> None:
    clock = VirtualClock()
    sensor = DEMO.inputs["vessel_pressure"]
    high_v = 0.150 * (4.0 + 16.0 * DEMO.plant.pressure_switch_bar / sensor.high)
    interlock = Interlock(0x4A, 0, low_v=0.54, high_v=high_v)
    wiring = Wiring(contacts={"pressure_switch": ContactPin(12)}, interlock=interlock)
    board = EmulatedBoard(wiring, {0x4A: lambda _mux, _t_s: 1.0}, clock)
    bus = BoundedBus(board.bus, clock)
    interlock.arm(bus)
    interlock.check(bus)
    document = text("comparator-interlock.md")
    for register, name in ((1, "config"), (2, "low threshold"), (3, "high threshold")):
        word = bus.read_register(0x4A, register) & (0x7FFF if register == 1 else 0xFFFF)
        assert f"| {name} | 0x{word:04x} |" in document


@pytest.mark.parametrize(
    "words",
    [
        "cardboard",
        "ISO 13297",
        "ISO 14118",
        "IEC 60204-1",
        "ISO 15748",
        "WHO Guide to Ship Sanitation",
        "licensed",
        "Before opening anything",
        "What software does not protect",
    ],
)
def test_the_safety_page_says(words: str) -> None:
    assert words in " ".join(text("safety.md").split())
