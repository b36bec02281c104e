"""Control and the simulated boat together, on a virtual clock, under random faults, commands and passing of time.

The list of `safety_invariants` is asked twice: about each tick of control, and every quarter of a second about the
truth of the boat, whatever its sensors say: no bad water into the tank, no pump that runs dry for longer than its
limit, no pressure above the relief valve's setting. Where no controller could do better the reason is named in
`EXCUSES`.
"""

import os
import tomllib
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, Verbosity, event, note, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule, run_state_machine_as_test

from halocline.control.inputs import Command
from halocline.rehearsal.scenario import from_document
from halocline.rehearsal.scenario_runner import ScenarioRunner
from halocline.simulation import FAULTS, what_is_fitted
from halocline.simulation.faults import targets_of
from safety_invariants import Bounds, Part, Step, Watch, broken, told_by

FOLDER = Path(__file__).parents[1] / "rehearsals"
SHORT = tomllib.loads((FOLDER / "stop_while_producing.toml").read_text())
"""The boat with its waits and volumes cut to about a tenth, as most scenario files have it."""
BOAT = {"title": "anything", "duration": "1h", "plant": SHORT["plant"], "settings": SHORT["settings"]}

SALTY_MG_L, HIGHEST_BAR = 640.0, 75.0
BOUNDS = Bounds(worst_mg_l=1000.0, salty_s=4.0, dry_s=3.5, relief_bar=69.0)
"""Salty is above the limit of 600 for 2 s, with the lag of the probe, its error, and the valve's travel."""
LOOK_EVERY_S = 0.25
LIES = ("sensor_stuck", "sensor_drift", "sensor_noise", "sensor_offset", "sensor_delayed", "sensor_intermittent")

EXCUSES = {
    Part.SALT: {
        **{
            f"{lie} {channel}": "one probe alone cannot tell that it lies"
            for lie in LIES
            for channel in ("product_conductivity", "sea_temperature", "product_flow")
        },
        "valve_stuck product_to_tank": "the valve stands at the tank, whatever is switched",
        "relay_welded product_to_tank": "the valve's coil stays energised until the time-out relay opens",
        "hoses_swapped": "brine at the cell is at the valve as well, and the valve needs its time to close",
        "adc_wrong_channel 72": "another input may read like good water for the reads it takes to be found out",
        "product_line_closed": "what stood in the shut line is pushed out at once when it opens",
    },
    Part.DRY: {
        **{f"{lie} feed_pressure": "one sensor alone cannot tell that it lies" for lie in LIES},
        "hand_start": "somebody runs the pump past every relay",
        "relay_welded high_pressure_pump": "the pump turns until the time-out relay takes the coil's supply",
        "adc_wrong_channel 72": "another input may read like enough feed for the reads it takes to be found out",
    },
    Part.PEAK: {
        **{f"{lie} vessel_pressure": "one sensor alone cannot tell that it lies" for lie in LIES},
        "brine_blocked": "0.1 to 1 bar a millisecond: the relief valve is faster than any computer",
        "prefilter_clogged": "feed that comes back at once to a regulator turned after it: 0.2 bar a millisecond",
        "hand_start": "somebody runs the pump past every relay",
        "relay_welded high_pressure_pump": "the pump turns until the time-out relay takes the coil's supply",
        "regulator_left_at": "a regulator that stands above the relief's setting gives its pressure within a second",
        "adc_wrong_channel 72": "another input may read like less pressure for the reads it takes to be found out",
    },
}
"""Of each truth: a fault under which it cannot be kept, and why. It counts from the fault to the next quiet boat."""

NUMBERS = {
    # A tear shows ten times as fast with a tenth of the volumes, a probe does not: up to 1000 mg/L here, more in the
    # scenario files that keep the boat's own volumes.
    "membrane_leak": st.floats(1.0, 2.9),
    "regulator_left_at": st.floats(0.0, 70.0),
    "regulator_drift": st.floats(-60.0, 60.0),
    "brine_blocked": st.floats(0.05, 1.0),
    "sea_temperature": st.floats(0.0, 45.0),
    "battery_sag": st.floats(0.0, 4.0),
    "sensor_drift": st.sampled_from([-100.0, -1.0, 1.0, 100.0]),
    "sensor_noise": st.sampled_from([0.1, 5.0, 500.0]),
    "sensor_offset": st.sampled_from([-1000.0, -1.0, -0.2, 0.2, 1.0, 1000.0]),
    "sensor_delayed": st.floats(0.0, 20.0),
}


def near_its_limits(each):
    """A number of an argument's range: as often as not one of its ends or what it is practised with."""
    low, high = max(each.low, 0.0), min(each.high, 100.0)
    ends = [number for number in (low, each.typical, high) if number is not None]
    return st.one_of(st.sampled_from(ends), st.floats(low, high))


@st.composite
def faults(draw, fitted):
    """Any fault the boat can have, each as likely as any other; then its target and its numbers."""
    fault = FAULTS[draw(st.sampled_from(sorted(FAULTS)))]
    arguments = {}
    if fault.target:
        arguments[fault.target] = draw(st.sampled_from(targets_of(fault, fitted)))
    for each in fault.arguments:
        arguments[each.name] = draw(NUMBERS.get(fault.name, near_its_limits(each)))
    if fault.name == "valve_stuck":
        arguments["position"] = draw(st.sampled_from(["on", "off"]))
    return {"fault": fault.name, **arguments}


AFTERWARDS_S = st.sampled_from([0.25, 1.0, 4.0, 12.0])

BROKEN = Counter()
"""How often each fault came, and whether water was being made: `pytest -rP` prints it."""

SCENARIO = from_document(BOAT, "anything.toml")
FITTED = what_is_fitted(SCENARIO.settings)


class Boat(RuleBasedStateMachine):
    """One boat, from rest or from the middle of a run."""

    def __init__(self):
        super().__init__()
        self.stage = ScenarioRunner(SCENARIO, 1)
        self.watch = Watch(self.stage.core, raises=False)  # what control raises, its loop would catch
        self.t_s = 0.0
        self.standing = set()
        self.excused = {}
        self.dry_since_s = self.salty_since_s = None
        self.before = self.truth()
        self.live(1.0)

    def truth(self):
        return self.stage.sea.truth(1000.0 + self.t_s)

    # ---- what happens ----

    @initialize(
        seconds=st.sampled_from([0.0, 12.0, 25.0, 33.0, 36.0, 38.0, 40.0]), what=faults(FITTED), then=AFTERWARDS_S
    )
    def begin(self, seconds, what, then):
        if seconds:
            self.order("start")
            self.live(seconds)
        self.break_it(what, then)

    @rule(seconds=st.sampled_from([0.25, 1.0, 2.0, 5.0]))
    def wait(self, seconds):
        self.live(seconds)

    @rule(command=st.sampled_from(["start", "start", "stop", "flush", "acknowledge", "reset", "silence"]))
    def order(self, command):
        self.stage.give(Command(command))
        self.live(0.25)

    @precondition(lambda self: self.stage.core.plant.state.value in ("standby", "tripped"))
    @rule()
    def make_water_again(self):
        self.mend_everything()
        for command in ("acknowledge", "reset", "start"):
            self.order(command)
        self.live(33.0)

    @rule(what=faults(FITTED), then=AFTERWARDS_S)
    def break_something(self, what, then):
        self.break_it(what, then)

    @rule(what=faults(FITTED), then=AFTERWARDS_S)
    def break_another(self, what, then):
        """The same again: twice as likely, and seldom left out of a story altogether."""
        self.break_it(what, then)

    @precondition(lambda self: self.truth().faults)
    @rule(what=faults(FITTED), then=AFTERWARDS_S)
    def break_another_instead(self, what, then):
        self.mend_everything()
        self.break_it(what, then)

    def break_it(self, what, seconds):
        self.count(what["fault"])
        self.stage.give(Command("fault", what))
        self.live(seconds)

    @precondition(lambda self: self.truth().faults)
    @rule(data=st.data())
    def mend(self, data):
        name = data.draw(st.sampled_from(sorted(self.truth().faults))).partition(" ")[0]
        self.stage.give(Command("fault", {"fault": name, "clear": True}))
        self.live(0.25)

    @precondition(lambda self: self.truth().faults)
    @rule()
    def mend_everything(self):
        for name in {fault.partition(" ")[0] for fault in self.truth().faults}:
            self.stage.give(Command("fault", {"fault": name, "clear": True}))
        self.live(5.0)

    def count(self, fault):
        state = self.stage.core.plant.state.value
        makes_water = self.truth().product_flow_l_h > 0 and state in ("diverting", "producing")
        BROKEN[fault, makes_water] += 1
        event(f"{fault}, {'while water is made' if makes_water else 'otherwise'}")

    # ---- what must hold ----

    def live(self, seconds):
        end_s = self.t_s + seconds
        while self.t_s < end_s - 1e-9:
            self.t_s = min(end_s, self.t_s + LOOK_EVERY_S)
            self.stage.live_until(self.t_s)
            self.look()

    def look(self):
        truth, core = self.truth(), self.stage.core
        bar = truth.vessel_pressure_bar
        note(f"{self.t_s:.2f} s {core.plant.state.value} {sorted(core.on)} {bar:.1f} bar {truth.faults}")
        self.excuse(truth)
        wrong = broken(self.true_step(truth, core), told_by(set(EXCUSES) - self.excused_now()))
        assert not wrong, f"{self.t_s:.2f} s: {wrong}"
        assert not self.watch.wrong, f"{self.t_s:.2f} s: {self.watch.wrong}"
        assert truth.peak_vessel_pressure_bar <= HIGHEST_BAR
        self.before = truth

    def excuse(self, truth):
        """A fault excuses until it is over and pressure and quality have had time to follow."""
        for part, reasons in EXCUSES.items():
            if any(name in reasons for fault in truth.faults for name in (fault, fault.partition(" ")[0])):
                self.excused[part] = self.t_s + 10.0

    def excused_now(self):
        return {part for part, until_s in self.excused.items() if self.t_s <= until_s}

    def true_step(self, truth, core):
        """From look to look, on the boat's truth; the ticks between are judged by `Watch`."""
        state, excused, peak_bar = core.plant.state, self.excused_now(), truth.peak_vessel_pressure_bar
        flowed = truth.tank_added_l > self.before.tank_added_l and Part.SALT not in excused
        worst = max(truth.product_tds_mg_l, self.before.product_tds_mg_l)
        self.salty_since_s = self.since(self.salty_since_s, flowed and worst > SALTY_MG_L)
        dries = truth.hp_pump_dry_s > self.before.hp_pump_dry_s and Part.DRY not in excused
        self.dry_since_s = self.since(self.dry_since_s, dries)
        return Step(
            before=state,
            state=state,
            was_on=core.on,
            outputs=core.on,
            accepted=frozenset(),
            bounds=BOUNDS,
            tank_mg_l=worst if flowed else None,
            salty_s=self.seconds(self.salty_since_s),
            dry_s=self.seconds(self.dry_since_s),
            risen_to_bar=peak_bar if peak_bar > self.before.peak_vessel_pressure_bar else 0.0,
        )

    def since(self, began_s, holds):
        if not holds:
            return None
        return self.t_s if began_s is None else began_s

    def seconds(self, began_s):
        return 0.0 if began_s is None else self.t_s - began_s

    def teardown(self):
        events = self.stage.played.events
        assert not [event for event in events if event["kind"] == "control_failed"]


QUICK_EXAMPLES = 8


def play(examples, steps):
    run_state_machine_as_test(
        Boat,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            verbosity=Verbosity.normal,
            # Not shrunk: that takes a story of minutes for longer than a test lives.
            phases=(Phase.explicit, Phase.reuse, Phase.generate),
        ),
    )


def met():
    """Prints how often each fault came; those that came while water was made."""
    for fault in sorted(FAULTS):
        print(f"{fault}: {BROKEN[fault, True]} while water was made, {BROKEN[fault, False]} otherwise")
    return {fault for fault, makes_water in BROKEN if makes_water}


def test_whatever_breaks_the_boat_stays_safe():
    BROKEN.clear()
    play(examples=QUICK_EXAMPLES, steps=12)
    assert len(met()) > len(FAULTS) / 5


@pytest.mark.soak
@pytest.mark.timeout(7200)
def test_whatever_breaks_in_a_long_time_the_boat_stays_safe():
    BROKEN.clear()
    play(examples=int(os.environ.get("HALOCLINE_EXAMPLES", "1500")), steps=30)
    assert met() == set(FAULTS)
