"""A model checker for the whole core: breadth-first over everything that can happen to it, nothing played by hand.

What is searched is the product itself: the real `Core` with its table, permissions, causes and clocks, copied before
every step. A step is one tick of a second (or a long wait) with readings, contacts and lost chips out of an alphabet
in which every threshold of the plant has a value on either side, together with a command, or a restart from what is
on file. Whatever the plant can do to its instruments is a walk through that alphabet; the alphabet also holds what no
plant would do.

Two cores count as the same state when they agree in `look`: the state of the sequence, every latch, whether trips wait
for a person, and all clocks as far as a threshold divides them. `Account` is what the rules remember by themselves;
it shares nothing with the core and is part of the searched state.
"""

from collections import deque
from dataclasses import dataclass, field, replace
from itertools import product

from cloning import clone
from hand_driven_plant import quick_settings, reading

from halocline.control.core import Core
from halocline.control.inputs import Command, Inputs
from halocline.control.retained.retained_state import FlushConsent, RetainedState, decode, encode
from halocline.physics.conductivity import conductivity_25c_us_cm
from halocline.plant.alarms import DEFINITIONS, Effect
from halocline.plant.purges import ORDER
from halocline.plant.vocabulary import Origin, Quality, State
from obligations import acts, by_time, forgotten, owed
from safety_invariants import (
    AT_REST,
    FEED,
    FLUSH,
    HP,
    PUMPING,
    RUN,
    SIGNALS,
    TANK,
    Alone,
    AloneBounds,
    Bounds,
    Instruments,
    Part,
    Step,
    accepted_in,
    broken,
    raised_in,
    told_by,
    trips_in,
)

S = State
TICK_S, LONG_S = 1.0, 3700.0
"""One long wait is more than the motor may work in one go, and more than any rest lasts."""

SETTINGS = quick_settings(
    plant={"feed_side_volume_l": 0.02, "product_side_volume_l": 0.02, "wetted_volume_l": 0.1},
    sequence={
        "prime_s": 2.0,
        "prime_after_opening_s": 3.0,
        "prime_limit_s": 4.0,
        "regulator_check_s": 1.5,
        "pressure_limit_s": 4.0,
        "raise_limit_s": 4.0,
        "settle_s": 1.0,
        "quality_hold_s": 3.0,
        "divert_limit_s": 12.0,
        "stop_open_s": 3.0,
        "flush_l": 0.1,
        "flush_limit_s": 4.0,
        "flush_supply_s": 2.0,
        "purge_s": 4.0,
        "purge_preservative_s": 4.0,
        "rinse_volumes": 1.0,
        "motor_starts": 2,
        "automatic_flush": True,
        "flush_shut_off": "valve",
    },
    drive={"motor": "brush"},
)
SEQUENCE = SETTINGS.sequence
WALL_S, DAY_S = 1_800_000_000.0, 86_400.0
QUIET_S, NOTICE_S, STAYS_PERCENT, SWAYS_PERCENT = 600.0, 60.0, 30.0, 2.0
"""Of a flush that nobody orders (common practice, but for the first two, which are chosen), written out here on
purpose."""
MOTOR_RUN_S, MOTOR_REST_S = 3600.0, 900.0
"""Of a brush motor (common practice), written out here on purpose."""

BOUNDS = Bounds(
    worst_mg_l=SETTINGS.limits.reject_at_once_tds_mg_l,
    salty_s=3.0,
    dry_s=3.0,
    stop_s=SEQUENCE.stop_open_s + TICK_S,
    motor_run_s=MOTOR_RUN_S,
    motor_starts=SEQUENCE.motor_starts,
)
"""The settings' figures, and a step more where the core may need one."""

INVARIANTS = told_by(set(Part) - {Part.PEAK})
"""The search knows what the instruments say, not what is true of a boat."""


# ---- what can happen ------------------------------------------------------------------------------


NOTHING = Instruments(None, None, None, None, None)


@dataclass(frozen=True)
class Seen:
    """What the instruments say in one tick; None is a broken wire. `active` are contacts away from their rest."""

    bar: float | None = 0.0
    feed_bar: float | None = 1.5
    tds_mg_l: float | None = 330.0
    temperature_c: float | None = 20.0
    flow_l_h: float | None = 60.0
    active: frozenset[str] = frozenset()
    lost: tuple[int, ...] = ()
    missed: int = 0
    writable: bool = True
    battery_v: float = 13.2
    tank_percent: float | None = 30.0
    clock: bool = True

    def instruments(self):
        """What these readings tell; the converter at 0x48 has the needed sensors."""
        if 0x48 in self.lost:
            return replace(NOTHING, active=self.active)
        return Instruments(self.bar, self.feed_bar, self.tds_mg_l, self.temperature_c, self.flow_l_h, self.active)

    def is_good(self):
        """Water that may go to the tank."""
        seen = self.instruments()
        return seen.measure_the_water and seen.tds_mg_l <= SETTINGS.limits.accept_tds_mg_l

    def inputs(self, now_s, to_tank, product_l, flush_l, *, flushing=False):
        values = {
            "vessel_pressure": self.bar,
            "feed_pressure": self.feed_bar,
            "product_conductivity": None if self.tds_mg_l is None else conductivity_25c_us_cm(self.tds_mg_l),
            "sea_temperature": self.temperature_c,
            "product_flow": self.flow_l_h,
            "filter_inlet_pressure": 1.6,
            "battery_voltage": self.battery_v,
            "battery_current": -2.0,
            "tank_fill": self.tank_percent,
            "flush_flow": 360.0 if flushing else 0.0,
        }
        readings = {
            channel: reading(channel, value, Quality.OPEN if value is None else Quality.GOOD)
            for channel, value in values.items()
        }
        for channel, sensor in SETTINGS.inputs.items():
            if getattr(sensor, "address", None) in self.lost:
                readings[channel] = reading(channel, None, Quality.MISSING)
        disagrees = "diverter" in self.active
        active = {contact: contact in self.active for contact in SETTINGS.contacts}
        active["diverter_at_tank"] = to_tank is not disagrees
        active["diverter_overboard"] = to_tank is disagrees
        return Inputs(
            now_s,
            readings,
            active,
            product_total_l=product_l,
            flush_total_l=flush_l,
            lost_chips=self.lost,
            missed_ticks=self.missed,
            clock_set=self.clock,
            wall_s=WALL_S + now_s if self.clock else None,
            latch_writable=self.writable,
        )


PRESSURES = (None, 0.0, 4.0, 7.0, 20.0, 55.0, 65.0)
FEEDS = (None, -0.3, 0.05, 0.2, 0.6, 1.5)
WATERS = (
    {"tds_mg_l": 550.0},
    {"tds_mg_l": 700.0},
    {"tds_mg_l": 1500.0},
    {"tds_mg_l": 5.0},
    {"tds_mg_l": None},
    {"temperature_c": None},
    {"flow_l_h": 0.0},
    {"flow_l_h": None},
)
CONTACTS = ("stop_button", "bilge_wet", "pressure_switch", "diverter", "tank_float")
LOST = ((0x48,), (0x49,))


def alphabet():
    """Every combination of the two pressures; water, contacts and chips each at rest and under pressure."""
    seen = [Seen(bar=bar, feed_bar=feed_bar) for bar, feed_bar in product(PRESSURES, FEEDS)]
    for bar in (0.0, 55.0):
        seen += [Seen(bar=bar, **water) for water in WATERS]
        seen += [Seen(bar=bar, active=frozenset({contact})) for contact in CONTACTS]
        seen += [Seen(bar=bar, lost=lost) for lost in LOST]
        seen += [Seen(bar=bar, missed=12), Seen(bar=bar, writable=False)]
    seen += [Seen(battery_v=10.0), Seen(tank_percent=99.0), Seen(temperature_c=44.0)]
    return tuple(seen)


START, STOP, FLUSH_NOW = Command("start"), Command("stop", origin=Origin.MQTT), Command("flush")
ACKNOWLEDGE, RESET = Command("acknowledge"), Command("reset")
TRY_PUMP = Command("bench", {"output": HP, "seconds": 2.0})
TRY_DIVERTER = Command("bench", {"output": TANK, "seconds": 5.0})
TRY_FLUSH_VALVE = Command("bench", {"output": FLUSH, "seconds": 5.0})
RUNNING_IT = (START, STOP, FLUSH_NOW, ACKNOWLEDGE, RESET, TRY_PUMP)
KEEPING_IT = (
    Command("lay_up"),
    Command("recommission"),
    TRY_DIVERTER,
    TRY_FLUSH_VALVE,
    Command("service_lock", {"name": "ann", "reason": "filter"}),
    Command("service_unlock"),
    Command("log", {"kind": "cleaned"}),
    Command("log", {"kind": "tank_chlorinated"}),
    Command("log", {"kind": "chlorine_strip_zero"}),
    Command("log", {"kind": "purge_confirmed", "confirmed": list(ORDER)}),
)


CONSENT, WITHDRAW = Command("consent_flush", {"name": "ann", "days": 7.0}), Command("withdraw_flush_consent")
LEAVING_IT = (
    CONSENT,
    WITHDRAW,
    STOP,
    FLUSH_NOW,
    Command("service_lock", {"name": "ann", "reason": "filter"}),
    Command("service_unlock"),
)
COMING_BACK = (
    ACKNOWLEDGE,
    RESET,
    Command("lay_up"),
    Command("log", {"kind": "tank_chlorinated"}),
    Command("log", {"kind": "chlorine_strip_zero"}),
    Command("silence", origin=Origin.MQTT),
)


@dataclass(frozen=True)
class Move:
    """One step: readings, perhaps a command in the same tick, and how long it takes; or a restart."""

    seen: Seen
    command: Command | None = None
    seconds: float = TICK_S
    restart: bool = False


def moves(seen, commands, by_hand):
    """Everything that can happen in a step; a command comes under what `by_hand` says as well."""
    return (
        *(Move(each) for each in seen),
        *(Move(each, command) for each in by_hand for command in commands),
        *(Move(each, seconds=LONG_S) for each in (Seen(), Seen(bar=55.0))),
        Move(Seen(), restart=True),
    )


PRESSED = Seen(bar=55.0)
FEW = (
    *(Seen(bar=bar) for bar in PRESSURES),
    Seen(feed_bar=None),
    Seen(feed_bar=0.05),
    Seen(bar=55.0, feed_bar=0.05),
    Seen(bar=55.0, feed_bar=None),
    Seen(bar=55.0, tds_mg_l=700.0),
    Seen(bar=55.0, tds_mg_l=1500.0),
    Seen(bar=55.0, tds_mg_l=None),
    Seen(bar=55.0, flow_l_h=0.0),
    Seen(active=frozenset({"stop_button"})),
    Seen(bar=55.0, active=frozenset({"pressure_switch"})),
    Seen(bar=55.0, lost=(0x48,)),
)
HANDS = (Seen(), Seen(feed_bar=0.05), Seen(bar=4.0), Seen(bar=7.0), PRESSED)
ENOUGH = Seen(tank_percent=60.0)
AWAY = (
    ENOUGH,
    Seen(tank_percent=None),
    Seen(tank_percent=20.0),
    Seen(tank_percent=60.0, active=frozenset({"bilge_wet"})),
    Seen(tank_percent=60.0, clock=False),
)
FAR_AWAY = (
    Seen(tank_percent=29.0),
    Seen(tank_percent=60.0, bar=4.0),
    Seen(tank_percent=60.0, active=frozenset({"stop_button"})),
    Seen(tank_percent=60.0, writable=False),
    Seen(tank_percent=60.0, lost=(0x49,)),
)
ALONE = (
    *(Move(each) for each in AWAY),
    *(Move(ENOUGH, command) for command in LEAVING_IT),
    *(Move(ENOUGH, seconds=seconds) for seconds in (QUIET_S + 1.0, NOTICE_S, DAY_S + 1.0, 8 * DAY_S)),
    *(Move(replace(ENOUGH, **worse), seconds=NOTICE_S) for worse in ({"writable": False}, {"tank_percent": 29.0})),
    Move(ENOUGH, restart=True),
)
"""What may happen to a boat that nobody is on, and who comes back to it."""
SMALL = {
    "running": (*moves(FEW, RUNNING_IT, (Seen(), PRESSED)), Move(Seen(active=frozenset({"stop_button"})), RESET)),
    "keeping": moves((Seen(), PRESSED, Seen(writable=False)), (*RUNNING_IT[:5], *KEEPING_IT), (Seen(),)),
    "alone": ALONE,
}
LARGE = {
    "running": moves(alphabet(), RUNNING_IT, HANDS),
    "keeping": moves((*FEW, Seen(writable=False)), (*RUNNING_IT, *KEEPING_IT), HANDS),
    "alone": (
        *ALONE,
        *(Move(each) for each in FAR_AWAY),
        *(Move(ENOUGH, command) for command in COMING_BACK),
        Move(ENOUGH, seconds=NOTICE_S - 10.0),
    ),
}
"""Three searches each: everything about a run, about looking after the plant, and about leaving it alone."""


# ---- what the rules remember by themselves ---------------------------------------------------------


@dataclass
class Account:
    """Kept from outside: commands, readings and outputs go in, nothing of the core's memory."""

    now_s: float = 1000.0
    product_l: float = 0.0
    flush_l: float = 0.0
    newest: RetainedState = RetainedState()
    filed: RetainedState = newest
    asked: bool = False
    waiting: frozenset[str] = frozenset()
    cut_off: bool = False
    card_lags: bool = False
    stopped_s: float | None = None
    dry_s: float = 0.0
    good_s: float = -1.0
    bad_s: float = 0.0
    steady_feed_s: float = 0.0
    working_s: float = 0.0
    gone_s: float = 0.0
    pressed_s: float = 0.0
    pump_worked_s: float = 0.0
    pump_off_s: float = 1e9
    starts_s: tuple[float, ...] = ()
    feed_on_s: float = 0.0
    on: frozenset[str] = frozenset()
    consent: bool = False
    until_s: float = 0.0
    failures: int = 0
    alone: bool = False
    alone_at_s: float = -1e9
    hands_at_s: float = 1000.0
    notice_s: float = -1.0

    def rested(self, seconds):
        """Whether the motor may start now, after `seconds` more."""
        return self.pump_worked_s < MOTOR_RUN_S or self.pump_off_s + seconds >= MOTOR_REST_S

    def memory(self, state):
        """How long what the state waits for has held without a break."""
        if state in (S.PRIMING, S.BENCH):
            return min(3, int(self.steady_feed_s))
        if state is S.PRESSURISING:
            return min(2, int(self.working_s))
        if state in (S.DIVERTING, S.PRODUCING):
            return min(3, int(self.good_s)), self.working_s >= 1.0, min(4, int(self.dry_s))
        if state is S.STANDBY:
            return min(1, int(self.pressed_s))
        return min(2, int(self.gone_s)) if state in (S.STOPPING, S.HAND_RUN) else None

    def key(self, state):
        """What of this a rule may ask next in that state."""
        recent = sum(self.now_s - at_s < SEQUENCE.motor_starts_window_s for at_s in self.starts_s)
        driven = state in PUMPING or HP in self.on
        return (
            self.asked,
            bool(self.waiting),
            self.cut_off,
            None if self.stopped_s is None else min(4, int(self.now_s - self.stopped_s)),
            min(3, int(self.dry_s)) if driven else 0,
            min(3, int(self.good_s)) if driven else 0,
            min(3, int(self.bad_s)) if driven else 0,
            self.memory(state),
            (self.pump_worked_s >= MOTOR_RUN_S, self.pump_off_s >= MOTOR_REST_S),
            min(2, recent),
            self.on,
            self.left_alone(),
        )

    def left_alone(self):
        """What matters to a flush that nobody orders; nothing where nobody ever gave consent."""
        if not (self.consent or self.alone_at_s > 0):
            return None
        return (
            self.consent,
            self.failures,
            self.alone,
            self.now_s >= self.until_s,
            self.now_s - self.alone_at_s >= DAY_S,
            self.now_s - self.hands_at_s >= QUIET_S,
            cut(self.notice_s, 0.0, NOTICE_S - 10.0, NOTICE_S),
        )


@dataclass(frozen=True)
class Taken:
    """One move: what it led to, and the step as the list of invariants looks at it."""

    move: Move
    core: Core
    account: Account
    step: Step
    raised: frozenset[str] = frozenset()

    @property
    def before(self):
        return self.step.before

    @property
    def state(self):
        return self.step.state


def take(core, account, move):
    """One move on copies."""
    core, account = clone(core), replace(account)
    if move.restart:
        return _restarted(core, account, move)
    before, was_on, was_owed = core.plant.state, account.on, owed(core.plant.retained)
    was_cut_off, was_waiting, was_rested = account.cut_off, bool(account.waiting), account.rested(move.seconds)
    off_s = account.pump_off_s + move.seconds
    account.now_s += move.seconds
    account_before = replace(account)
    seen = move.seen
    if seen.bar is not None and seen.bar > 27.0:
        account.product_l += 0.3 * min(move.seconds, 5.0)
    if FLUSH in was_on:
        account.flush_l += 0.06
    on_now = {"to_tank": TANK in was_on, "flushing": FLUSH in was_on}
    inputs = seen.inputs(account.now_s, product_l=account.product_l, flush_l=account.flush_l, **on_now)
    ordered = [] if move.command is None else [replace(move.command, wall_s=inputs.wall_s)]
    outcome = core.tick(inputs, ordered)
    events = list(outcome.events)
    _file(account, outcome, seen)
    if outcome.persist:
        account.newest = outcome.persist[-1][1]
        _file(account, outcome, seen)
        account.now_s += 0.05
        again = inputs._replace(now_s=account.now_s)
        outcome = core.tick(again, [replace(command, unfiled=not seen.writable) for command, _ in outcome.persist])
        events += outcome.events
        _file(account, outcome, seen)
    accepted, raised = accepted_in(events), raised_in(events)
    outputs, instruments = frozenset(outcome.outputs), seen.instruments()
    alone = _alone(account_before, move)
    flushed = next((event["complete"] for event in events if event["kind"] == "flush_ended"), None)
    _keep(account, move, before, core.plant.state, outputs, accepted, raised, flushed)
    step = Step(
        accepted=accepted,
        must_trip=frozenset(at_once(seen, before)) | trips_in(raised, before),
        stop_given=move.command is not None and move.command.name == "stop",
        feeds_another=off_s > 3.0 and (instruments.bar or 0.0) > 5.0,
        forgotten=frozenset(forgotten(was_owed, owed(core.plant.retained), acts(events) | by_time(core))),
        was_waiting=was_waiting,
        was_cut_off=was_cut_off,
        rested=was_rested,
        alone=alone,
        **_seen_from_outside(core, account, instruments, before, was_on, outputs),
    )
    return Taken(move, core, account, step, raised)


def _seen_from_outside(core, account, instruments, before, was_on, outputs):
    """What every step tells, a restart too."""
    fed = instruments.feed_bar is not None and instruments.feed_bar >= 0.5
    fills = TANK in outputs and core.plant.state is not S.BENCH
    in_state_s = account.now_s - core.plant.position.since_s
    return {
        "before": before,
        "state": core.plant.state,
        "was_on": was_on,
        "outputs": outputs,
        "bounds": BOUNDS,
        "asked": account.asked,
        "water_proven": account.good_s >= SEQUENCE.quality_hold_s,
        "feed_proven": fed and account.steady_feed_s >= 2.0,
        "instruments": instruments,
        "retained": core.plant.retained,
        "first_out": core.first_out,
        "cut_off": account.cut_off,
        "after_stop_s": -1.0 if account.stopped_s is None else account.now_s - account.stopped_s,
        "tank_mg_l": instruments.tds_mg_l if fills else None,
        "salty_s": account.bad_s,
        "dry_s": account.dry_s,
        "starts": sum(account.now_s - at_s <= SEQUENCE.motor_starts_window_s for at_s in account.starts_s),
        "worked_s": account.pump_worked_s,
        "stopping": core.plant.state is S.STOPPING and in_state_s <= SEQUENCE.stop_open_s + TICK_S,
    }


def _file(account, outcome, seen):
    """Housekeeping writes the newest latch, and again until the card takes it."""
    account.newest = outcome.retained or account.newest
    if seen.writable:
        account.filed = account.newest
    account.card_lags = account.filed is not account.newest


def _restarted(core, account, move):
    """Killed and started again: everything off, memory is what is on file."""
    before, was_on, was_owed = core.plant.state, account.on, owed(core.plant.retained)
    lagged = account.card_lags
    if lagged:
        was_owed &= owed(account.filed)
    account.newest = account.filed
    account.now_s += 5.0
    core = Core(SETTINGS, decode(encode(account.filed)), account.now_s, boot="b", simulated=True, off_s=5.0)
    account.asked, account.stopped_s, account.on = False, None, frozenset()
    if not lagged and account.alone:
        account.failures += 1
    account.hands_at_s, account.notice_s, account.alone = account.now_s, -1.0, False
    if lagged:
        on_file = account.filed.flush_consent
        account.consent = on_file is not None and on_file.ended is None
    account.pump_off_s = min(account.pump_off_s + 5.0, 1e9) if HP not in was_on else 5.0
    account.waiting = frozenset({"before the restart"}) if core.plant.state is S.TRIPPED else frozenset()
    account.cut_off = account.cut_off or (before not in AT_REST and not account.card_lags)
    inputs = move.seen.inputs(account.now_s, False, account.product_l, account.flush_l)
    outcome = core.tick(inputs)
    lost = forgotten(was_owed, owed(core.plant.retained), by_time(core))
    outputs = frozenset(outcome.outputs)
    _file(account, outcome, move.seen)
    _keep(account, move, before, core.plant.state, outputs, frozenset(), frozenset())
    step = Step(
        accepted=frozenset(),
        restart=True,
        may_forget=lagged,
        feeds_another=True,
        forgotten=frozenset(lost),
        was_waiting=True,
        was_cut_off=True,
        alone=_alone(account, move),
        **_seen_from_outside(core, account, move.seen.instruments(), before, was_on, outputs),
    )
    return Taken(move, core, account, step)


def _alone(had, move):
    """What is known of a flush that nobody orders, as the move comes."""
    seen, command = move.seen, move.command
    return Alone(
        consent=had.consent and had.now_s < had.until_s,
        failures=had.failures,
        last_s=had.now_s - had.alone_at_s,
        quiet_s=had.now_s - had.hands_at_s,
        notice_s=had.notice_s + move.seconds,
        bounds=AloneBounds(DAY_S, QUIET_S + NOTICE_S, NOTICE_S, STAYS_PERCENT, SWAYS_PERCENT),
        tank_percent=None if 0x49 in seen.lost else seen.tank_percent,
        watched=not seen.active & {"bilge_wet", "stop_button"} and seen.clock and seen.writable,
        goes_on=had.alone,
        called_off=command is not None and (command.origin is not Origin.MQTT or command.name in ("stop", "flush")),
    )


def _keep_alone(account, move, before, state, outputs, accepted, flushed):
    """Consent, hands, notice and failures, as whoever stands beside the plant would count them."""
    command = move.command
    if command is not None and (command.origin is not Origin.MQTT or command.name in ("stop", "flush")):
        account.hands_at_s = account.now_s
    if account.alone and state is not S.FLUSHING:
        if flushed:
            account.failures = 0
        elif command is None:
            account.failures += 1
        account.alone = False
    if before is S.STANDBY and state is S.FLUSHING and "flush" not in accepted:
        account.alone, account.alone_at_s = True, account.now_s
    buzzes = state is S.STANDBY and "buzzer" in outputs
    account.notice_s = (account.notice_s + move.seconds if account.notice_s >= 0 else 0.0) if buzzes else -1.0
    if "consent_flush" in accepted:
        account.consent, account.failures, account.until_s = True, 0, account.now_s + 7 * DAY_S
    ended = accepted & {"withdraw_flush_consent", "lay_up"} or state is S.TRIPPED or account.failures >= 2
    if ended or account.now_s >= account.until_s:
        account.consent = False


def _keep(account, move, before, state, outputs, accepted, raised, flushed=None):
    _keep_alone(account, move, before, state, outputs, accepted, flushed)
    seen, seconds, was_on, on = move.seen, move.seconds, account.on, outputs - SIGNALS
    if state in AT_REST:
        account.asked = False
    elif accepted & {"start", "bench"}:
        account.asked = True
    if "stop" in accepted:
        account.stopped_s = account.now_s
    elif accepted & {"start", "bench"} or state in AT_REST:
        account.stopped_s = None
    if "acknowledge" in accepted:
        account.waiting, account.cut_off = frozenset(), False
    account.waiting |= {cause for cause in raised if DEFINITIONS[cause].effect is Effect.TRIP}
    if "reset" in accepted:
        account.waiting = frozenset()
    dry = seen.feed_bar is not None and seen.feed_bar < 0.15 and HP in was_on and HP in on
    account.dry_s = account.dry_s + seconds if dry else 0.0
    good = seen.is_good() and before in PUMPING
    account.good_s = (account.good_s + seconds if account.good_s >= 0 else 0.0) if good else -1.0
    bad = (seen.tds_mg_l or 0.0) > SETTINGS.limits.reject_tds_mg_l
    account.bad_s = account.bad_s + seconds if bad else 0.0
    fed = FEED in was_on and seen.feed_bar is not None and seen.feed_bar >= 0.5
    account.steady_feed_s = account.steady_feed_s + seconds if fed else 0.0
    account.working_s = account.working_s + seconds if (seen.bar or 0.0) == 55.0 else 0.0
    account.pressed_s = account.pressed_s + seconds if (seen.bar or 0.0) > 10.0 else 0.0
    account.gone_s = account.gone_s + seconds if seen.bar is not None and seen.bar < 5.0 else 0.0
    if HP in was_on:
        account.pump_worked_s += seconds
    if HP in on:
        account.pump_off_s = 0.0
    else:
        account.pump_off_s += seconds
        if account.pump_off_s > MOTOR_REST_S:
            account.pump_worked_s = 0.0
    if HP in on - was_on:
        account.starts_s = (*account.starts_s[-2:], account.now_s)
    account.on = on


# ---- the state as the search sees it -----------------------------------------------------------------


def cut(value, *limits):
    """In which of the spans that the limits divide the value lies."""
    return sum(value >= limit for limit in limits)


TIMED = {
    S.STANDBY: 0,
    S.PRIMING: 4,
    S.PRESSURISING: 4,
    S.DIVERTING: 1,
    S.PRODUCING: 1,
    S.STOPPING: 4,
    S.FLUSHING: 4,
    S.TRIPPED: 4,
    S.LAID_UP: 0,
    S.HAND_RUN: 2,
    S.BENCH: 12,
}
"""For how many ticks in a state the time there makes a difference. What is longer is reached by a long wait."""


def ticks_in_state(core, account):
    """Counted tick by tick: a span of several would never be left in steps of one."""
    return min(TIMED[core.plant.state], int(account.now_s - core.plant.position.since_s))


def fine(core, account):
    """The abstract state: what tells two cores apart in what they may do next."""
    retained, clocks, purge, state = core.plant.retained, core.clocks, core.plant.retained.purge, core.plant.state
    trips = core.plant.alarms.trips
    return (
        state,
        ticks_in_state(core, account),
        cut(clocks.pump_off_s, 1.0, 3.0, 15.0, 900.0),
        cut(clocks.pump_on_s, 0.0, 1.5, 4.0),
        cut(clocks.feed_pump_on_s, 0.0, 3.0),
        cut(core.plant.quality.held_s, 0.0, 1.0, 2.0, 3.0),
        (
            retained.laid_up,
            retained.lock is None,
            retained.flush_owed,
            retained.circuit_opened,
            retained.chlorine_suspected,
        ),
        None if purge is None else (purge.rinsed_l > 0, purge.left_s > 0),
        (any(a.state.value != "latched" for a in trips), any(a.holds for a in trips), bool(trips)),
        None if core.plant.flush is None else core.plant.flush.valve_open_s >= 0,
        core.plant.work.bench if state is S.BENCH else None,
        retained.under_way,
        looked_after(core),
        account.key(state),
    )


def coarse(core, account):
    """A coarser abstract state, for a search in seconds."""
    retained, clocks, purge, state = core.plant.retained, core.clocks, core.plant.retained.purge, core.plant.state
    trips = core.plant.alarms.trips
    return (
        state,
        ticks_in_state(core, account),
        clocks.pump_on_s >= 0,
        cut(core.plant.quality.held_s, 0.0, 1.0, 2.0, 3.0),
        retained.laid_up,
        retained.lock is None,
        purge is None,
        retained.chlorine_suspected,
        any(a.state.value != "latched" for a in trips),
        any(a.holds for a in trips),
        (account.cut_off, retained.cut_off is None),
        (retained.flush_owed, account.card_lags) if state in AT_REST else None,
        None if core.plant.flush is None else core.plant.flush.valve_open_s >= 0,
        core.plant.work.bench if state is S.BENCH else None,
        retained.under_way,
        account.asked,
        None if account.stopped_s is None else account.now_s - account.stopped_s >= 3.0,
        not account.rested(0.0),
        account.on,
        account.memory(state),
        looked_after(core),
        account.left_alone(),
    )


def left(core, account):
    """The abstract state of a plant that is left alone: no pump ever turns in it."""
    retained, state = core.plant.retained, core.plant.state
    return (
        state,
        min(2, ticks_in_state(core, account)) if state is S.FLUSHING else None,
        retained.laid_up,
        retained.chlorine_suspected,
        retained.cut_off is None,
        retained.under_way,
        any(a.state.value != "latched" for a in core.plant.alarms.trips),
        any(a.holds for a in core.plant.alarms.trips),
        account.card_lags,
        account.on,
        looked_after(core),
        account.left_alone(),
    )


def looked_after(core):
    """What of a flush that nobody orders tells two cores apart; nothing where nobody ever gave consent."""
    retained, now_s = core.plant.retained, core.last.now_s if core.last else 0.0
    consent, alone = retained.flush_consent, core.plant.alone
    if consent is None and retained.flush_tried_ago_s is None:
        return None
    return (
        None if consent is None else (consent.failures, consent.ended is None, consent.left_l >= SEQUENCE.flush_l),
        alone.announced,
        cut(alone.tried_ago_s(now_s), DAY_S),
        cut(core.clocks.idle_s, 5 * DAY_S),
        retained.way_out_open,
        retained.lock is None,
        retained.circuit_opened,
        core.plant.flush is not None and core.plant.flush.alone,
    )


# ---- what must trip ---------------------------------------------------------------------------------


def at_once(seen, before):
    """What must trip in the very tick it is seen, written out by hand from the list of trips."""
    awake = before not in (S.TRIPPED, S.LAID_UP)
    bar = None if 0x48 in seen.lost else seen.bar
    if awake and "stop_button" in seen.active:
        yield "stop_button"
    if awake and "pressure_switch" in seen.active:
        yield "pressure_switch"
    if awake and bar is not None and bar > 64.0:
        yield "vessel_pressure_high_high"
    if awake and before is not S.STANDBY:
        if 0x48 in seen.lost:
            yield "adc_lost"
        if bar is None:
            yield "sensor_fault_vessel_pressure"
        if seen.missed >= 10:
            yield "scan_overrun"
    feeds = {*RUN, S.FLUSHING, S.HAND_RUN}
    if before in feeds and (seen.feed_bar is None or 0x48 in seen.lost):
        yield "sensor_fault_feed_pressure"


# ---- the search ------------------------------------------------------------------------------------


@dataclass
class Found:
    """What a search came to. `kept`: a core and an account for every abstract state. `violations`: rule and what it
    said → the step that met it."""

    steps: int = 0
    kept: dict = field(default_factory=dict)
    violations: dict = field(default_factory=dict)
    edges: set = field(default_factory=set)

    @property
    def states(self):
        return len(self.kept)

    def sequence_states(self):
        return {key[0] for key in self.kept}

    def of(self, *states):
        """What was kept in these states of the sequence."""
        return [kept for key, kept in self.kept.items() if key[0] in states]


def beginning():
    """A plant at rest, just switched on."""
    return Core(SETTINGS, RetainedState(), 1000.0, boot="b", simulated=True), Account()


def left_alone():
    """A plant that was flushed well, has stood for long, and has a person's consent."""
    now_s = 1000.0
    consent = FlushConsent("ann", WALL_S + now_s + 7 * DAY_S, left_l=0.5)
    retained = RetainedState(idle_s=8 * DAY_S, way_out_open=True, flush_consent=consent)
    core = Core(SETTINGS, retained, now_s, boot="b", simulated=True)
    return core, Account(newest=retained, filed=retained, consent=True, until_s=now_s + 7 * DAY_S)


BEGINNINGS = {"running": beginning, "keeping": beginning, "alone": left_alone}
LOOKS = {"running": coarse, "keeping": coarse, "alone": left}


def search(every, look=None, roots=None, *, stop_at_first=False, most_steps=None):
    """Everything that can be reached from the roots by these moves, and every rule broken on the way."""
    look = look or coarse
    found = Found()
    waiting = deque(roots or [beginning()])
    for core, account in waiting:
        found.kept.setdefault(look(core, account), (core, account))
    while waiting:
        core, account = waiting.popleft()
        for move in every:
            if most_steps is not None and found.steps >= most_steps:
                return found
            step = take(core, account, move)
            found.steps += 1
            found.edges.add((step.before, step.state))
            _judge(step, found)
            if found.violations and stop_at_first:
                return found
            key = look(step.core, step.account)
            if key not in found.kept:
                found.kept[key] = step.core, step.account
                waiting.append((step.core, step.account))
    return found


def _judge(step, found):
    for name, sentence in broken(step.step, INVARIANTS):
        found.violations.setdefault((name, sentence), step)
