"""A core driven by hand-made inputs on virtual time, beside a plant of a few lines that follows its outputs.

Nothing here is simulated physics: pressure moves at a fixed pace to where the script wants it, product flows above
27 bar, salt is what the test says it is. Whatever a test pins with `read`, `lose` or `press` stays so.
"""

from dataclasses import replace

from cloning import clone

from halocline.config import load_demo
from halocline.control.core import Core
from halocline.control.hmi.snapshot_builder import now_message
from halocline.control.inputs import Command, Inputs
from halocline.control.retained.retained_state import RetainedState
from halocline.physics.conductivity import conductivity_25c_us_cm
from halocline.plant.vocabulary import CHANNELS, Ask, Origin, Quality, Reading, State

TICK_S = 0.05
MAKES_WATER_FROM_BAR = 27.0
PRODUCT_L_H_PER_BAR = 60.0 / 28.0
QUICK = load_demo(quick=True)[0]
FULL = load_demo()[0]


def quick_settings(base=QUICK, **tables):
    """The quick demonstration boat; `limits={...}`, `sequence={...}`, … replace single settings of a table."""
    changed = {name: replace(getattr(base, name), **values) for name, values in tables.items()}
    return replace(base, **changed)


def reading(channel, value, quality=Quality.GOOD, *, raw=None, age_s=0.02):
    """A reading as the judges would give it; without raw volts, so that wiring checks leave it alone."""
    return Reading(value, raw, CHANNELS[channel].unit, quality, age_s)


class Plant:
    """One plant. `tick` once, `wait` some seconds, `until` a state; `give` a command and get its answer."""

    def __init__(self, settings=QUICK, retained=None, *, now_s=1000.0, simulated=True):
        self.settings = settings
        self.now_s = now_s
        self.core = Core(
            settings, RetainedState() if retained is None else retained, now_s, boot="b", simulated=simulated
        )
        self.pinned = {}
        self.active = dict.fromkeys(settings.contacts, False)
        if "diverter_overboard" in settings.contacts:
            self.active["diverter_overboard"] = True
        self.pinned_contacts = {}
        self.extra = {}
        self.pressure_bar = 0.0
        self.feed_bar = 0.1
        self.tds_mg_l = 330.0
        self.temperature_c = 20.0
        self.product_l = 0.0
        self.flush_l = 0.0
        self.raising = False
        self.hand_switch = False
        self.relay_welded = False
        self.hand_is_there = True
        self.outcome = None
        self.events = []
        self.latches = []
        self.states = [self.core.plant.state]

    # ---- what a test does ---------------------------------------------------------------------------

    def read(self, channel, value, quality=Quality.GOOD, **more):
        """From now on the channel reads this."""
        self.pinned[channel] = reading(channel, value, quality, **more)

    def lose(self, channel, quality=Quality.OPEN):
        """From now on the channel carries no value."""
        self.pinned[channel] = reading(channel, None, quality)

    def mend(self, *channels):
        """The channels follow the plant again; all of them when none is named."""
        for channel in channels or tuple(self.pinned):
            self.pinned.pop(channel, None)

    def press(self, contact, active=True):
        """A contact opens and stays so, until `active=False` gives it back to the plant."""
        if active:
            self.pinned_contacts[contact] = True
        else:
            self.pinned_contacts.pop(contact, None)

    def give(self, name, /, *, origin=Origin.CLI, who="ann", **arguments):
        """Give one command in a tick of its own; its reasons, empty when accepted."""
        self.tick(Command(name, arguments, origin, who, "1:x"))
        return self.answers_after_persisting()

    def answers_after_persisting(self):
        """The reasons of the last tick's one answer; a command that had to be put on file is given again first."""
        if self.outcome.persist:
            self.tick(*[command for command, _ in self.outcome.persist])
        ((_, accepted, reasons),) = self.outcome.answers
        assert accepted or reasons
        return [] if accepted else [reason.id for reason in reasons]

    def tick(self, *commands, dt=TICK_S, **extra):
        """One tick; `extra` are fields of `Inputs` for this tick only."""
        self.now_s += dt
        self._move(dt)
        self.outcome = self.core.tick(self.inputs(**extra), commands)
        self.events += self.outcome.events
        if self.outcome.retained is not None:
            self.latches.append(self.outcome.retained)
        if self.core.plant.state is not self.states[-1]:
            self.states.append(self.core.plant.state)
        return self.outcome

    def wait(self, seconds, dt=TICK_S):
        """Let time pass."""
        until_s = self.now_s + seconds - dt / 2
        while self.now_s < until_s:
            self.tick(dt=dt)
        return self

    def until(self, state, within_s=300.0, dt=TICK_S):
        """Let time pass until the plant is in `state`; the seconds it took."""
        began_s = self.now_s
        while self.core.plant.state != state:
            assert self.now_s - began_s < within_s, f"still {self.core.plant.state} after {within_s} s: {self.core.why}"
            self.tick(dt=dt)
        return self.now_s - began_s

    def brought_to(self, state, **start):
        """Taken on the ordinary way to a state of a run, of a flush, or out of the ordinary."""
        if not start and self._is_untouched():
            if state not in _BEEN_THERE:
                _bring(self, State(state), start)
                _BEEN_THERE[state] = self
            return clone(_BEEN_THERE[state])
        _bring(self, State(state), start)
        return self

    def _is_untouched(self):
        fresh = vars(Plant())
        return (
            type(self) is Plant
            and all(value == fresh[name] for name, value in vars(self).items() if name != "core")
            and self.core.plant.retained == RetainedState()
        )

    # ---- what a test sees ---------------------------------------------------------------------------

    @property
    def state(self):
        return self.core.plant.state.value

    @property
    def on(self):
        """Actuators that are on."""
        return set(self.outcome.outputs) - {"heartbeat", "buzzer", "beacon"}

    def alarm(self, cause):
        """The state of an alarm, None while it is normal."""
        alarm = self.core.plant.alarms.get(cause)
        return None if alarm is None else alarm.state.value

    @property
    def alarms(self):
        return {alarm.cause.id for alarm in self.core.plant.alarms.alarms}

    def unmet(self):
        """The open questions about the product."""
        return [reason.id for reason in self.core.plant.quality.unmet]

    def event(self, kind):
        """The last event of a kind."""
        return next(event for event in reversed(self.events) if event["kind"] == kind)

    def refused(self, command, **arguments):
        """The reasons against a command if it were given now, by id."""
        return [reason.id for reason in self.core.decisions.refused(command, self.core.last)]

    # ---- the plant of a few lines -----------------------------------------------------------------------

    def snapshot(self):
        """What control tells its readers after the last tick."""
        return now_message(self.core.plant, self.core.decisions, self.core.last)

    def inputs(self, **extra):
        """What the instruments say now."""
        readings = {channel: reading(channel, value) for channel, value in self._values().items()}
        measured = {
            "now_s": self.now_s,
            "readings": {**readings, **self.pinned},
            "active": {**self.active, **self.pinned_contacts},
            "product_total_l": self.product_l,
            "flush_total_l": self.flush_l,
        }
        return Inputs(**{**measured, **self.extra, **extra})

    def _values(self):
        return {
            "vessel_pressure": self.pressure_bar,
            "feed_pressure": self.feed_bar,
            "product_conductivity": conductivity_25c_us_cm(self.tds_mg_l),
            "sea_temperature": self.temperature_c,
            "product_flow": self.product_l_h,
            "filter_inlet_pressure": self.feed_bar + 0.1,
            "battery_voltage": 13.2,
            "battery_current": -60.0 if self._turning() else -2.0,
            "tank_fill": 30.0,
            "flush_flow": self.flush_l_h,
        }

    @property
    def product_l_h(self):
        return max(0.0, self.pressure_bar - MAKES_WATER_FROM_BAR) * PRODUCT_L_H_PER_BAR

    @property
    def flush_l_h(self):
        return 360.0 if "flush_valve" in self.core.on else 0.0

    def _turning(self):
        return "high_pressure_pump" in self.core.on or self.hand_switch or self.relay_welded

    def _move(self, dt):
        ask, on = self.core.ask(), self.core.on
        if self.hand_is_there:
            self.raising = ask is Ask.RAISE_PRESSURE or (self.raising and ask is not Ask.OPEN_REGULATOR)
        aim_bar = 0.0
        if self._turning():
            aim_bar = self.settings.drive.working_pressure_bar if self.raising or self.hand_switch else 3.0
        rate_bar_s = self.settings.drive.raise_bar_s if aim_bar > self.pressure_bar else 30.0
        step = rate_bar_s * dt
        self.pressure_bar += max(-step, min(step, aim_bar - self.pressure_bar))
        fed = 1.5 if "feed_pump" in on else (0.6 if "flush_valve" in on else 0.1)
        self.feed_bar += max(-4.0 * dt, min(4.0 * dt, fed - self.feed_bar))
        self.product_l += self.product_l_h * dt / 3600
        self.flush_l += self.flush_l_h * dt / 3600
        to_tank = "product_to_tank" in on
        for contact, active in (("diverter_at_tank", to_tank), ("diverter_overboard", not to_tank)):
            if contact in self.settings.contacts:
                self.active[contact] = active


_WAYS = {
    State.PRIMING: ("start", State.PRIMING),
    State.PRESSURISING: ("start", State.PRESSURISING),
    State.DIVERTING: ("start", State.DIVERTING),
    State.PRODUCING: ("start", State.PRODUCING),
    State.FLUSHING: ("flush", State.FLUSHING),
}
_BEEN_THERE = {}


def _bring(plant, state, start):
    if state in _WAYS:
        command, aim = _WAYS[state]
        assert plant.give(command, **start) == []
        plant.until(aim)
    elif state is State.STOPPING:
        _bring(plant, State.PRODUCING, start)
        plant.hand_is_there = False
        assert plant.give("stop") == []
    elif state is State.TRIPPED:
        _bring(plant, State.PRODUCING, start)
        plant.press("stop_button")
        plant.tick()
        plant.press("stop_button", active=False)
    elif state is State.LAID_UP:
        assert plant.give("lay_up") == []
    elif state is State.HAND_RUN:
        plant.hand_switch = True
        plant.until(State.HAND_RUN)
    elif state is State.BENCH:
        assert plant.give("bench", output="feed_pump", seconds=10.0) == []
    else:
        plant.tick()
    assert plant.core.plant.state is state
