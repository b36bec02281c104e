"""For each protection that can be played: the worst fault for it, and what the protected thing then got to stand.

Measured on the boat's truth, never on its sensors. The parts are as slow as the table of protections takes them to be
aboard: a cell that answers in 10 s, a valve that takes 1 s, a pump that runs down in 1 s.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from halocline.config import demo_document, settings_from_document, with_overrides
from halocline.config.checks.lookup import field_of
from halocline.config.checks.protecting import ABOARD, Part, Protection
from halocline.config.checks.protections import PROTECTIONS
from halocline.config.problems import ConfigError
from halocline.control.inputs import Command
from halocline.control.permissives.permissive import FIRST_READINGS_S
from halocline.plant.settings import Settings
from halocline.rehearsal.scenario import from_document
from halocline.rehearsal.scenario_runner import START_S, ScenarioRunner

STEP_S = 0.05
OPEN_BAR = 7.0
"""More than a pump makes against an open regulator: from there on a hand raises the pressure."""

HP, FEED = "high_pressure_pump", "feed_pump"
ROWS = {protection.id: protection for protection in PROTECTIONS}

SLOWEST = {"probe_lag_s": "10s", "diverter_travel_s": "1s", "pump_run_down_s": "1s", "contactor_s": "50ms"}
SOON: dict[str, Any] = {
    "drive": {"raise_bar_s": 1.0},
    "sequence": {"prime_s": "5s", "settle_s": "1s"},
    "limits": {"accept_reason": "tried near its bounds"},
    "inputs": {
        "product_pressure": {"kind": "current_loop", "address": 0x4A, "mux": 0, "low": 0, "high": 4, "error": 0.02}
    },
}
"""What makes a run begin soon and touches no protection that is played."""

BASE = with_overrides(demo_document(), SOON)


def refused(document: dict[str, Any]) -> list[str]:
    """The keys for which a real plant would be refused."""
    try:
        settings_from_document(document, "x")
    except ConfigError as error:
        return [problem.key for problem in error.problems]
    return []


def settings_of(document: dict[str, Any]) -> Settings:
    """Aboard; for documents that are accepted."""
    return settings_from_document(document, "x")


def with_key(document: dict[str, Any], settings: Settings, key: str, value: float) -> dict[str, Any]:
    """The document with a number under a key, as a file writes it."""
    *tables, last = key.split(".")
    change: Any = {last: f"{value:.6f}s" if field_of(settings, key).metadata["unit"] == "s" else value}
    for table in reversed(tables):
        change = {table: change}
    return with_overrides(document, change)


def keyed(protection: Protection, settings: Settings, key: str) -> Part:
    """The part of a protection's sum that a key sets."""
    return next(part for part in protection.parts(settings, ABOARD) or () if part.key == key)


def bound_of(protection: Protection, settings: Settings, key: str) -> float:
    """The value of a key at which the protected thing gets to stand just what it can."""
    part = keyed(protection, settings, key)
    over = sum(each.amount for each in protection.parts(settings, ABOARD) or ()) - protection.limit(settings)
    return part.value - over / part.factor


def inward_of(settings: Settings, key: str) -> float:
    """-1 where a smaller value is safer, 1 where a larger one is."""
    return -1.0 if next(_parts_with(settings, key))[1].factor > 0 else 1.0


def strictest_bound(settings: Settings, key: str) -> float:
    """The bound of the protection that asks most of a key, or of the key's own range."""
    bounds = [bound_of(protection, settings, key) for protection, _part in _parts_with(settings, key)]
    own = field_of(settings, key).metadata
    if inward_of(settings, key) < 0:
        return min(*bounds, math.inf if own["high"] is None else own["high"])
    return max(*bounds, -math.inf if own["low"] is None else own["low"])


def _parts_with(settings: Settings, key: str) -> Iterator[tuple[Protection, Part]]:
    for protection in PROTECTIONS:
        yield from ((protection, part) for part in protection.parts(settings, ABOARD) or () if part.key == key)


class Played:
    """One run on the simulated boat."""

    def __init__(self, document: dict[str, Any], plant: dict[str, Any], seed: int = 1) -> None:
        scenario = {"duration": "1h", "settings": document, "plant": {**SLOWEST, **plant}}
        self.stage = ScenarioRunner(from_document(scenario, "x.toml"), seed)
        self.settings = self.stage.core.plant.settings
        self.t_s = 0.0

    @property
    def truth(self) -> Any:
        return self.stage.sea.truth(START_S + self.t_s)

    @property
    def state(self) -> str:
        return self.stage.core.plant.state.value

    def live(self, seconds: float) -> None:
        self.t_s += seconds
        self.stage.live_until(self.t_s)

    def start(self) -> None:
        """Once every channel had its turn: before, a start is refused."""
        self.live(FIRST_READINGS_S + 0.5)
        self.stage.give(Command("start"))
        self.live(0.5)

    def breaks(self, fault: str, **arguments: Any) -> None:
        self.stage.give(Command("fault", {"fault": fault, **arguments}))

    def until(self, there: Callable[["Played"], bool], longest_s: float, step_s: float = STEP_S) -> float:
        """Seconds until something is so, or all of `longest_s`."""
        began_s = self.t_s
        while not there(self) and self.t_s < began_s + longest_s:
            self.live(step_s)
        return self.t_s - began_s

    def reach(self, *states: str) -> None:
        self.until(lambda now: now.state in states, 900.0, 0.5)
        assert self.state in states, (self.state, self.stage.core.why)


def pump_is_off(now: Played) -> bool:
    return not now.truth.effective_outputs[HP]


def dry(now: Played) -> float:
    now.start()
    now.reach("pressurising")
    now.live(6.0)
    now.breaks("seacock_closed")
    now.live(25.0)
    return now.truth.hp_pump_dry_s


def creeping(now: Played) -> float:
    """The hard-wired switch is taken away: the program alone has to be in time."""
    now.start()
    now.reach("diverting")
    now.breaks("sensor_offset", channel="vessel_pressure", value=-now.settings.inputs["vessel_pressure"].error)
    now.breaks("regulator_drift", bar_per_min=100.0)
    now.until(pump_is_off, 30.0)
    now.live(1.0)
    return now.truth.peak_vessel_pressure_bar


def closed_regulator(now: Played) -> float:
    """Seconds of check that were needed, the run-up among them."""
    limit_bar = now.settings.limits.regulator_closed_bar
    now.breaks("regulator_left_at", bar=2.0 * limit_bar)
    now.start()
    now.reach("pressurising")
    needed_s = now.until(lambda each: each.state == "tripped", 30.0)
    assert now.stage.core.first_out == "regulator_closed", now.stage.core.first_out
    return needed_s


def turned_too_fast(now: Played) -> float:
    """Bar gained at a forbidden rate."""
    gained_bar, limit = 0.0, now.settings.limits.pressure_rise_trip_bar_s
    now.start()
    now.reach("pressurising")
    while now.state == "pressurising" and now.truth.vessel_pressure_bar < 54.0:
        before_bar = now.truth.vessel_pressure_bar
        now.live(STEP_S)
        risen_bar = now.truth.vessel_pressure_bar - before_bar
        gained_bar += risen_bar if before_bar > OPEN_BAR and risen_bar > 0.9 * limit * STEP_S else 0.0
    return gained_bar


def hose_bursts(now: Played) -> float:
    """A pump that dies takes the pressure as a burst hose does; the pressure's own fall is not the program's time."""
    now.start()
    now.reach("diverting")
    now.breaks("hp_pump_dead")
    lost_bar = now.stage.core.last.expectation.working_minimum_bar - now.settings.limits.pressure_lost_bar
    now.until(lambda each: each.truth.vessel_pressure_bar < lost_bar, 20.0)
    return now.until(lambda each: each.state == "tripped", 90.0)


def no_pressure(now: Played) -> float:
    now.breaks("hp_pump_dead")
    now.start()
    now.reach("pressurising")
    return now.until(lambda each: each.state == "tripped", 600.0, 0.5)


def no_feed(now: Played) -> float:
    now.breaks("seacock_closed")
    now.start()
    return now.until(lambda each: not each.truth.effective_outputs[FEED], 900.0, 0.5)


def torn(now: Played) -> float:
    """Begun after salt had stood on both sides; then the membrane passes fifty times the salt."""
    now.start()
    now.reach("producing")
    now.live(15.0)
    now.breaks("membrane_leak", factor=50.0)
    now.reach("diverting", "stopping", "tripped")
    now.live(3.0)
    return now.truth.tank_worst_tds_mg_l


def line_shut(now: Played) -> float:
    now.start()
    now.reach("diverting")
    now.breaks("product_line_closed")
    limit_bar = now.settings.limits.product_pressure_high_bar
    now.until(lambda each: each.truth.product_pressure_bar > limit_bar, 20.0)
    return now.until(pump_is_off, 60.0)


def seen_by_a_contact(fault: str, **arguments: Any) -> Callable[[Played], float]:
    def play(now: Played) -> float:
        now.start()
        now.reach("pressurising")
        now.live(3.0)
        now.breaks(fault, **arguments)
        return now.until(lambda each: each.state == "tripped", 30.0)

    return play


@dataclass(frozen=True)
class Worst:
    """The worst fault for a protection, and the keys tried near their bounds.

    `settings` and `plant` are what is tried with, `together` a key that is given the same value. `needs_check`: the
    measured figure must not be more than the regulator check lasts, instead of what the row says is stood.
    """

    row: str
    keys: tuple[str, ...]
    play: Callable[[Played], float]
    plant: dict[str, Any] = field(default_factory=dict)
    settings: dict[str, Any] = field(default_factory=dict)
    together: str = ""
    needs_check: bool = False
    slow: bool = False


SALTY_REST = {"rested_product_g_l": 20.0, "rested_feed_g_kg": 36.0}
WORST: tuple[Worst, ...] = (
    Worst("pump without water", ("inputs.feed_pressure.smoothing_s", "limits.feed_pressure_low_low_s"), dry),
    Worst(
        "slow overpressure",
        ("limits.vessel_pressure_high_high_bar",),
        creeping,
        {"pressure_switch_bar": 100.0},
        {"plant": {"pressure_switch_bar": 68.5}, "inputs": {"vessel_pressure": {"error": 0.3}}},
    ),
    Worst(
        "start against a closed regulator",
        ("inputs.vessel_pressure.smoothing_s", "sequence.regulator_check_s"),
        closed_regulator,
        needs_check=True,
    ),
    Worst("pressure raised too fast", ("limits.pressure_rise_trip_bar_s",), turned_too_fast),
    Worst("pressure lost", ("inputs.vessel_pressure.smoothing_s",), hose_bursts),
    Worst("pressure never made", ("sequence.pressure_limit_s",), no_pressure, slow=True),
    Worst("feed never comes", ("sequence.prime_limit_s",), no_feed, slow=True),
    Worst(
        "salt to the tank",
        ("inputs.product_conductivity.smoothing_s", "limits.reject_tds_mg_l"),
        torn,
        SALTY_REST,
        {"limits": {"reject_at_once_tds_mg_l": 1400}},
        slow=True,
    ),
    Worst(
        "salt to the tank",
        ("sequence.quality_hold_s",),
        torn,
        SALTY_REST,
        {"sequence": {"quality_hold_s": "55s"}},
        slow=True,
    ),
    Worst("product line shut", ("inputs.product_pressure.smoothing_s",), line_shut, {"product_relief_bar": 4.0}),
    Worst("stop button", ("inputs.stop_button.debounce_s",), seen_by_a_contact("stop_button")),
    Worst("pressure switch", ("inputs.pressure_switch.debounce_s",), seen_by_a_contact("pressure_switch")),
    Worst("water in the bilge", ("inputs.bilge_wet.debounce_s",), seen_by_a_contact("bilge_wet")),
    Worst(
        "diverter that does not obey",
        ("inputs.diverter_at_tank.debounce_s",),
        seen_by_a_contact("valve_stuck", output="product_to_tank", position="on"),
        together="inputs.diverter_overboard.debounce_s",
    ),
)


def tried(worst: Worst, key: str, share: float, bus_khz: float = 100.0) -> dict[str, Any]:
    """The configuration whose key lies so much of its bound away from it, inside where `share` is positive."""
    document = with_overrides(with_overrides(BASE, worst.settings), {"plant": {"adc_bus_khz": bus_khz}})
    settings = settings_of(document)
    bound = strictest_bound(settings, key)
    value = bound + inward_of(settings, key) * share * abs(bound)
    for each in filter(None, (key, worst.together)):
        document = with_key(document, settings, each, value)
    return document


def stood(worst: Worst, document: dict[str, Any], seed: int = 1) -> tuple[float, float]:
    """What the protected thing got to stand with this configuration, and what it can."""
    settings = settings_of(document)
    plant = dict(worst.plant)
    if worst.row == "pressure raised too fast":
        plant["hand_raise_bar_s"] = 1.2 * settings.limits.pressure_rise_trip_bar_s
    got = worst.play(Played(document, plant, seed))
    if worst.needs_check:
        return got, settings.sequence.regulator_check_s
    return got, ROWS[worst.row].limit(settings)
