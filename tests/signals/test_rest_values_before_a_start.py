"""What sensors read at rest tells offsets, exchanged wires and crossed addresses."""

from halocline.plant.sensors import CurrentLoop, Input, Pulses, ResistiveSender, Thermistor, Voltage
from halocline.plant.vocabulary import CHANNELS, Reading
from halocline.signals.rest_checks import rest_findings
from halocline.signals.signal_validation import ChannelValidator

SENSORS: dict[str, Input] = {
    "vessel_pressure": CurrentLoop(address=0x48, mux=0, low=0.0, high=100.0, error=0.5),
    "feed_pressure": CurrentLoop(address=0x48, mux=1, low=-1.0, high=4.0, error=0.02),
    "product_conductivity": CurrentLoop(address=0x48, mux=2, low=0.0, high=30_000.0, error=90.0),
    "sea_temperature": Thermistor(address=0x48, mux=3, low=-2.0, high=50.0, error=0.3),
    "filter_inlet_pressure": CurrentLoop(address=0x49, mux=0, low=-1.0, high=4.0, error=0.02),
    "battery_voltage": Voltage(address=0x49, mux=1, low=0.0, high=16.0, error=0.05, volts_high=16.0, divider=5.0),
    "battery_current": Voltage(
        address=0x49, mux=2, low=-200.0, high=200.0, error=2.0, volts_low=0.5, volts_high=4.5, divider=1.5
    ),
    "tank_fill": ResistiveSender(address=0x49, mux=3, low=0.0, high=100.0, error=3.0, empty_ohm=10.0, full_ohm=180.0),
    "product_flow": Pulses(pin=21, pulses_per_l=2200.0, high=250.0),
}

REST_V = {
    "vessel_pressure": 0.600,  # 4.0 mA
    "feed_pressure": 1.104,  # 7.36 mA: 0.05 bar
    "product_conductivity": 0.603,  # 30 µS/cm
    "sea_temperature": 1.85,
    "filter_inlet_pressure": 1.104,
    "battery_voltage": 2.56,
    "battery_current": 1.667,
    "tank_fill": 0.95,
}


def readings(volts: dict[str, float]) -> dict[str, Reading]:
    seen = {}
    for channel, volt in volts.items():
        judge = ChannelValidator(channel, SENSORS[channel])
        judge.update(0.0, volt)
        seen[channel] = judge.reading(0.0, 2.0)
    seen["product_flow"] = Reading(0.0, 0.0, CHANNELS["product_flow"].unit, seen["tank_fill"].quality, 0.0)
    return seen


def findings(changes: dict[str, float], *, vented: bool = True) -> list[tuple[str, tuple[object, ...]]]:
    found = rest_findings(readings({**REST_V, **changes}), SENSORS, vented=vented)
    return [(finding.id, tuple(finding.values.values())[:2]) for finding in found]


def exchanged(one: str, other: str) -> dict[str, float]:
    return {one: REST_V[other], other: REST_V[one]}


def test_a_plant_at_rest_is_fit_to_start() -> None:
    assert findings({}) == []


def test_a_zero_off_by_more_than_two_percent_of_the_span_refuses() -> None:
    off = rest_findings(readings({**REST_V, "vessel_pressure": 0.600 + 2.5 * 0.024}), SENSORS, vented=True)
    assert [finding.id for finding in off] == ["zero_off"]
    assert off[0].values["channel"] == "vessel_pressure"
    assert round(float(off[0].values["value"]), 2) == 2.5
    assert (off[0].values["low"], off[0].values["high"]) == (-2.0, 2.3)


def test_a_zero_within_two_percent_passes() -> None:
    assert findings({"vessel_pressure": 0.600 - 1.0 * 0.024}) == []


def test_the_head_of_the_sea_is_no_zero_error_but_suction_is() -> None:
    per_bar = 2.4 / 5.0
    assert findings({"feed_pressure": 1.08 + 0.3 * per_bar}) == []
    assert findings({"feed_pressure": 1.08 - 0.2 * per_bar})[0][0] == "zero_off"


def test_zeros_are_judged_only_when_vented() -> None:
    assert findings({"vessel_pressure": 1.9}, vented=False) == []


def test_exchanged_pressure_wires_are_named() -> None:
    assert findings(exchanged("vessel_pressure", "feed_pressure")) == [
        ("channels_swapped", ("vessel_pressure", "feed_pressure"))
    ]


def test_a_battery_on_the_wrong_input_is_named() -> None:
    assert ("channels_swapped", ("vessel_pressure", "battery_voltage")) in findings(
        exchanged("vessel_pressure", "battery_voltage")
    )


def test_crossed_addresses_are_told_as_one_finding() -> None:
    crossed: dict[str, float] = {}
    for one, other in (
        ("vessel_pressure", "filter_inlet_pressure"),
        ("feed_pressure", "battery_voltage"),
        ("product_conductivity", "battery_current"),
        ("sea_temperature", "tank_fill"),
    ):
        crossed |= exchanged(one, other)
    assert findings(crossed) == [("addresses_crossed", ("0x48", "0x49"))]


def test_a_dead_wire_is_not_taken_for_an_exchange() -> None:
    assert findings({"product_conductivity": 0.0}) == []
    assert findings({"vessel_pressure": 0.0}) == []


def test_a_battery_nobody_has_aboard_is_told() -> None:
    assert findings({"battery_voltage": 1.0}) == [("rest_value_off", ("battery_voltage", 5.0))]


def test_a_channel_never_read_is_left_to_others() -> None:
    assert rest_findings({}, SENSORS, vented=True) == []
