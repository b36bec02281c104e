"""What must hold in every step of control, whatever happens: one list, shared by all tests that look at steps.

`Step` is one step as it is seen from outside. Four judges make steps and ask the list about each: the search through
the sequence's table, the search through the core, random stories on the core, and the simulated boat under random
faults. A judge that cannot tell a part of a step (`Part`) leaves it out and is not asked what speaks of it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum, auto

from halocline.control.retained.retained_state import RetainedState
from halocline.physics.conductivity import tds_mg_l
from halocline.plant.alarms import DEFINITIONS, Effect
from halocline.plant.vocabulary import Quality, State
from obligations import acts, by_time, forgotten, owed

S = State
HP, FEED, TANK, FLUSH = "high_pressure_pump", "feed_pump", "product_to_tank", "flush_valve"
SIGNALS = frozenset({"heartbeat", "buzzer", "beacon"})
RUN = frozenset({S.PRIMING, S.PRESSURISING, S.DIVERTING, S.PRODUCING})
PUMPING = RUN - {S.PRIMING}
AT_REST = frozenset({S.STANDBY, S.TRIPPED, S.LAID_UP})
"""Written out here on purpose: the program has its own."""

DRY_CELL_L_H = 2.0
"""Below this product flow the conductivity cell may stand dry."""
FLUSH_BELOW_BAR, RESET_BELOW_BAR, SALTY_ABOVE_BAR = 3.0, 5.0, 10.0


class Part(Enum):
    """What a judge may or may not be able to tell of a step."""

    PERSON = auto()
    WATER_PROOF = auto()
    FEED_PROOF = auto()
    INSTRUMENTS = auto()
    MEMORY = auto()
    OWED = auto()
    ATTENTION = auto()
    CUT_OFF = auto()
    AFTER_STOP = auto()
    SALT = auto()
    DRY = auto()
    PEAK = auto()
    MOTOR = auto()
    SIGNALS = auto()
    ALONE = auto()


@dataclass(frozen=True)
class Instruments:
    """What control was told; None is a reading that is missing, not good or no number."""

    bar: float | None
    feed_bar: float | None
    tds_mg_l: float | None
    temperature_c: float | None
    flow_l_h: float | None
    active: frozenset[str] = frozenset()

    @property
    def measure_the_water(self):
        """Whether conductivity, temperature and flow are there, and the cell is wet."""
        return None not in (self.tds_mg_l, self.temperature_c, self.flow_l_h) and self.flow_l_h >= DRY_CELL_L_H


@dataclass(frozen=True)
class Bounds:
    """How much a judge allows: the settings' figure and the judge's own step, or what the boat's parts add."""

    worst_mg_l: float = math.inf
    salty_s: float = math.inf
    dry_s: float = math.inf
    stop_s: float = math.inf
    relief_bar: float = math.inf
    motor_run_s: float = math.inf
    motor_starts: int = 0


@dataclass(frozen=True)
class AloneBounds:
    """Of a flush that nobody orders: once in so long, after so long without a person, after such a notice; what stays
    in the tank, and how far its level sways."""

    day_s: float
    quiet_s: float
    notice_s: float
    stays_percent: float
    sways_percent: float


@dataclass(frozen=True)
class Alone:
    """What a judge knows by itself of flushes that nobody orders, as the step comes."""

    bounds: AloneBounds
    consent: bool
    """Given, and neither taken back nor past its last day."""
    failures: int
    last_s: float
    """Since the last one began."""
    quiet_s: float
    notice_s: float
    tank_percent: float | None
    watched: bool
    """Bilge dry, stop button closed, clock known, card writing."""
    goes_on: bool
    """One was under way."""
    called_off: bool
    """A person has ordered something."""


@dataclass(slots=True, kw_only=True)
class Step:
    """One step. All but the first seven belong to a `Part`, in the same order."""

    before: State
    state: State
    was_on: frozenset[str]
    outputs: frozenset[str]
    accepted: frozenset[str]
    """Commands accepted in this step."""
    must_trip: frozenset[str] = frozenset()
    """What was seen in this step, and trips in the state before."""
    stop_given: bool = False

    restart: bool = False
    may_forget: bool = False
    """The card had not yet taken what this restart could not know."""
    feeds_another: bool = False
    """A pump that nothing here drives makes pressure: better fed than dry."""
    bounds: Bounds = Bounds()

    asked: bool = True
    """A person started what goes on now, since the last rest, trip or restart."""
    water_proven: bool = True
    """Good water for a whole hold, without a break, up to now."""
    feed_proven: bool = True
    """Enough feed now, and steady for as long as the pump needs."""
    instruments: Instruments | None = None
    retained: RetainedState | None = None
    first_out: str | None = None
    forgotten: frozenset[str] = frozenset()
    was_waiting: bool = False
    """A trip had not been acknowledged."""
    was_cut_off: bool = False
    cut_off: bool = False
    after_stop_s: float = -1.0
    """Since a stop that no start followed; negative without one."""
    tank_mg_l: float | None = None
    """Of the water that runs to the tank; None when none does."""
    salty_s: float = 0.0
    """For how long that was above the reject limit."""
    dry_s: float = 0.0
    risen_to_bar: float = 0.0
    """A new highest true pressure; 0 when there is none."""
    rested: bool = True
    starts: int = 0
    """Of the motor, within the window that counts them."""
    worked_s: float = 0.0
    stopping: bool = False
    """On its way out, within the time of a stop."""
    alone: Alone | None = None

    @property
    def begins_alone(self):
        """A flush that nobody ordered."""
        return self.before is S.STANDBY and self.state is S.FLUSHING and "flush" not in self.accepted

    @property
    def begun(self):
        """Outputs that went on in this step."""
        return self.outputs - self.was_on

    @property
    def fills(self):
        """Water runs to the tank, other than by a try on the bench."""
        return TANK in self.outputs and self.state is not S.BENCH

    @property
    def lets_go(self):
        """Out of a trip."""
        return self.before is S.TRIPPED and self.state is not S.TRIPPED and not self.may_forget


@dataclass(frozen=True)
class Invariant:
    """`id` and `sentence` are the name and the docstring of `holds`; `needs` is what a step has to tell."""

    id: str
    sentence: str
    needs: frozenset[Part]
    holds: Callable[[Step], bool]


INVARIANTS: dict[str, Invariant] = {}


def invariant(*needs):
    """The function below it is a row of the list."""

    def add(holds):
        INVARIANTS[holds.__name__] = Invariant(holds.__name__, holds.__doc__, frozenset(needs), holds)
        return holds

    return add


def told_by(parts):
    """The invariants a judge is asked that can tell these parts of a step."""
    return tuple(each for each in INVARIANTS.values() if each.needs <= frozenset(parts))


def broken(step, invariants):
    """Id and sentence of each that does not hold."""
    return [(each.id, each.sentence) for each in invariants if not each.holds(step)]


# ---- water to the tank -----------------------------------------------------------------------------


@invariant()
def the_tank_is_filled_while_producing(at):
    """Water runs to the tank only while producing, or in a try on the bench."""
    return TANK not in at.outputs or at.state in (S.PRODUCING, S.BENCH)


@invariant(Part.PERSON)
def the_diverter_is_tried_by_a_person(at):
    """On the bench the diverter moves only because a person asked."""
    return TANK not in at.outputs or at.state is not S.BENCH or at.asked


@invariant(Part.INSTRUMENTS)
def water_to_the_tank_is_measured(at):
    """Water runs to the tank only with conductivity, temperature and flow known and the cell wet."""
    return not at.fills or at.instruments.measure_the_water


@invariant(Part.SALT)
def water_to_the_tank_is_never_salt(at):
    """No water above the limit for closing at once runs to the tank."""
    return at.tank_mg_l is None or at.tank_mg_l <= at.bounds.worst_mg_l


@invariant(Part.SALT)
def bad_water_is_turned_away_in_time(at):
    """Water above the reject limit does not go on to the tank."""
    return at.tank_mg_l is None or at.salty_s <= at.bounds.salty_s


@invariant(Part.WATER_PROOF)
def water_to_the_tank_had_its_hold(at):
    """The tank is opened only after a whole hold of good water."""
    return TANK not in at.begun or at.state is not S.PRODUCING or at.water_proven


@invariant(Part.WATER_PROOF)
def producing_begins_out_of_diverting(at):
    """Producing begins only out of diverting, with a whole hold of good water."""
    entered = at.state is S.PRODUCING and at.before is not S.PRODUCING
    return not entered or (at.before is S.DIVERTING and at.water_proven)


@invariant(Part.MEMORY)
def no_preservative_runs_to_the_tank(at):
    """While a purge is owed no water runs to the tank."""
    return not at.fills or at.retained.purge is None


# ---- the pump and its feed -------------------------------------------------------------------------


@invariant()
def the_pump_has_its_feed_pump(at):
    """The high-pressure pump never runs without the feed pump."""
    return HP not in at.outputs or FEED in at.outputs


@invariant()
def the_pump_never_runs_into_an_open_flush_valve(at):
    """The high-pressure pump and the flush valve are never on together."""
    return not {HP, FLUSH} <= at.outputs


@invariant()
def the_pump_runs_only_where_it_should(at):
    """The high-pressure pump is on only while pressure is wanted, while a stop goes on, or on the bench."""
    return HP not in at.outputs or at.state in (*PUMPING, S.STOPPING, S.BENCH)


@invariant(Part.FEED_PROOF)
def the_pump_starts_with_steady_feed(at):
    """The high-pressure pump starts only once its feed is enough and steady."""
    return HP not in at.begun or at.feed_proven


@invariant(Part.INSTRUMENTS)
def the_pump_stops_with_its_feed_unknown(at):
    """The high-pressure pump never runs on with its feed pressure unknown."""
    return HP not in at.outputs or at.instruments.feed_bar is not None


@invariant(Part.DRY)
def the_pump_never_runs_dry(at):
    """The high-pressure pump runs without water for no longer than it can stand."""
    return at.dry_s <= at.bounds.dry_s


@invariant(Part.PEAK)
def pressure_stays_below_the_relief(at):
    """The true pressure never comes to the relief valve's setting."""
    return at.risen_to_bar <= at.bounds.relief_bar


@invariant(Part.MOTOR)
def the_motor_rests(at):
    """The motor starts only after the rest that its work asks for."""
    return HP not in at.begun or at.rested


@invariant(Part.MOTOR)
def the_motor_is_not_started_too_often(at):
    """The motor is started no more often than it may be."""
    return HP not in at.begun or at.starts <= at.bounds.motor_starts


@invariant(Part.MOTOR)
def the_motor_never_works_beyond_its_rating(at):
    """The motor's rated run ends in a stop."""
    return HP not in at.outputs or at.worked_s < at.bounds.motor_run_s or at.stopping


# ---- the flush valve -------------------------------------------------------------------------------


@invariant()
def the_flush_valve_opens_only_for_a_flush(at):
    """The flush valve is open only in a flush or on the bench."""
    return FLUSH not in at.outputs or at.state in (S.FLUSHING, S.BENCH)


@invariant(Part.INSTRUMENTS)
def the_flush_valve_opens_without_pressure(at):
    """The flush valve opens only with the pressure known and gone."""
    bar = at.instruments.bar
    return FLUSH not in at.begun or (bar is not None and bar < FLUSH_BELOW_BAR)


@invariant(Part.MEMORY)
def chlorine_is_never_flushed(at):
    """Water that may hold chlorine never runs through the membrane."""
    return FLUSH not in at.outputs or not at.retained.chlorine_suspected


# ---- a person first --------------------------------------------------------------------------------


@invariant(Part.PERSON)
def no_pump_without_a_person(at):
    """The high-pressure pump runs only because a person asked since the last rest, trip or restart."""
    return HP not in at.outputs or at.asked


@invariant()
def nothing_begins_out_of_rest_without_an_order(at):
    """Out of rest leads only an accepted start, flush or try on the bench; and out of standby a flush by itself."""
    begins = at.before in AT_REST and at.state not in AT_REST | {S.HAND_RUN}
    return not begins or at.begins_alone or bool(at.accepted & {"start", "flush", "bench"})


@invariant()
def a_run_begins_with_a_start_and_priming(at):
    """A run begins only out of standby, by an accepted start, with priming."""
    begins = at.state in RUN and at.before not in RUN
    return not begins or (at.before is S.STANDBY and at.state is S.PRIMING and "start" in at.accepted)


@invariant()
def a_restart_comes_to_rest(at):
    """After a restart the plant is at rest."""
    return not at.restart or at.state in AT_REST


@invariant(Part.CUT_OFF)
def after_a_run_that_was_cut_off_a_person_looks_first(at):
    """Nothing is begun before a person acknowledged the run that was cut off."""
    return not (at.accepted & {"start", "bench"} and at.was_cut_off)


@invariant(Part.CUT_OFF, Part.MEMORY)
def a_run_that_was_cut_off_is_kept(at):
    """What control was killed in the middle of stays on file until a person acknowledged it."""
    return not at.cut_off or at.retained.cut_off is not None


@invariant(Part.MEMORY)
def a_locked_plant_begins_nothing(at):
    """While a person has locked the plant for service nothing goes on."""
    locked = at.retained.lock is not None and "service_lock" not in at.accepted
    return not locked or at.state in AT_REST | {S.HAND_RUN}


# ---- a flush that nobody orders ----------------------------------------------------------------------


@invariant(Part.MEMORY)
def a_flush_by_itself_has_a_consent_on_file(at):
    """A flush begins by itself only under a consent that is not over."""
    consent = at.retained.flush_consent
    return not at.begins_alone or (consent is not None and consent.ended is None)


@invariant(Part.MEMORY)
def a_flush_by_itself_is_counted_before_it_begins(at):
    """A flush that begins by itself is on file as tried and as failed, so that no restart gives it away."""
    consent, tried_s = at.retained.flush_consent, at.retained.flush_tried_ago_s
    return not at.begins_alone or (tried_s is not None and consent is not None and consent.failures > 0)


@invariant(Part.MEMORY)
def a_flush_by_itself_passes_over_nothing(at):
    """No flush begins by itself over a lock, a lay-up, chlorine, a trip, a run cut off, a purge or an open circuit."""
    kept = at.retained
    waits = (
        kept.lock,
        kept.laid_up,
        kept.chlorine_suspected,
        kept.trips,
        kept.cut_off,
        kept.purge,
        kept.circuit_opened,
    )
    return not at.begins_alone or not any(waits)


@invariant(Part.ALONE)
def a_flush_by_itself_was_consented_to(at):
    """A flush begins by itself only while a person's consent stands, up to its last day."""
    return not at.begins_alone or at.alone.consent


@invariant(Part.ALONE)
def two_failures_end_flushes_by_themselves(at):
    """After two that failed in a row no flush begins by itself."""
    return not at.begins_alone or at.alone.failures < 2


@invariant(Part.ALONE)
def a_flush_by_itself_comes_once_a_day(at):
    """No two flushes begin by themselves within a day."""
    return not at.begins_alone or at.alone.last_s >= at.alone.bounds.day_s


@invariant(Part.ALONE)
def a_flush_by_itself_begins_with_nobody_there(at):
    """A flush begins by itself only after quiet, and after its whole notice."""
    alone = at.alone
    heard = alone.quiet_s >= alone.bounds.quiet_s and alone.notice_s >= alone.bounds.notice_s
    return not at.begins_alone or heard


@invariant(Part.ALONE)
def a_flush_by_itself_leaves_the_tank_its_reserve(at):
    """A flush begins by itself only from a tank that is known to hold its reserve."""
    percent = at.alone.tank_percent
    return not at.begins_alone or (percent is not None and percent >= at.alone.bounds.stays_percent)


@invariant(Part.ALONE)
def a_flush_by_itself_is_watched(at):
    """A flush goes by itself only over a dry bilge, with a clock; and begins only with a card that writes."""
    flushes_alone = FLUSH in at.outputs and (at.begins_alone or at.alone.goes_on)
    return not flushes_alone or at.alone.watched


@invariant(Part.ALONE)
def a_flush_by_itself_ends_with_the_reserve(at):
    """A flush that nobody ordered ends once the tank is unknown, or lower than waves can make it."""
    floor = at.alone.bounds.stays_percent - at.alone.bounds.sways_percent
    low = at.alone.tank_percent is None or at.alone.tank_percent < floor
    return not (at.alone.goes_on and low) or FLUSH not in at.outputs


@invariant(Part.ALONE)
def a_person_ends_a_flush_by_itself(at):
    """A flush that nobody ordered ends with a person's order."""
    return not (at.alone.goes_on and at.alone.called_off) or FLUSH not in at.outputs or "flush" in at.accepted


# ---- a stop ----------------------------------------------------------------------------------------


@invariant()
def a_stop_is_never_refused(at):
    """A stop is accepted in every state."""
    return not at.stop_given or "stop" in at.accepted


@invariant()
def a_stop_is_obeyed_in_the_same_step(at):
    """After the step of a stop no run, flush or try goes on, but for the flush that ends the stop itself."""
    goes_on = at.state in RUN | {S.FLUSHING, S.BENCH}
    return not (at.stop_given and goes_on) or (at.before is S.STOPPING and at.state is S.FLUSHING)


@invariant(Part.AFTER_STOP)
def after_a_stop_no_water_runs_to_the_tank(at):
    """After a stop no water runs to the tank."""
    return at.after_stop_s < 0 or not at.fills


@invariant(Part.AFTER_STOP)
def after_a_stop_the_pump_goes_off(at):
    """After a stop the high-pressure pump goes off within the time a hand has to open the regulator."""
    return HP not in at.outputs or at.after_stop_s <= at.bounds.stop_s


# ---- at rest ---------------------------------------------------------------------------------------


@invariant()
def at_rest_nothing_is_on(at):
    """In standby and laid up no actuator is on."""
    return at.state not in (S.STANDBY, S.LAID_UP) or not at.outputs - SIGNALS


@invariant()
def a_pump_run_by_hand_is_only_fed(at):
    """While a pump is run by hand nothing but the feed pump is on."""
    return at.state is not S.HAND_RUN or not at.outputs - SIGNALS - {FEED}


@invariant(Part.MEMORY)
def laid_up_nothing_moves(at):
    """While the plant is laid up nothing is on but the feed of a pump that others run."""
    return not at.retained.laid_up or not at.outputs - SIGNALS - {FEED}


@invariant()
def a_laid_up_plant_wakes_by_recommissioning(at):
    """Out of laid up leads only recommissioning, to standby; a restart may find a trip on file."""
    wakes = at.before is S.LAID_UP and at.state is not S.LAID_UP
    found_tripped = at.restart and at.state is S.TRIPPED
    return not wakes or found_tripped or (at.state is S.STANDBY and "recommission" in at.accepted)


# ---- a trip ----------------------------------------------------------------------------------------


@invariant()
def a_trip_acts_in_the_same_step(at):
    """What trips leads to tripped in the very step in which it is seen."""
    return not at.must_trip or at.state is S.TRIPPED


@invariant()
def tripped_means_off(at):
    """While tripped nothing is on but buzzer, beacon and the feed of a pump that disobeys."""
    return at.state is not S.TRIPPED or not at.outputs - {"buzzer", "beacon", FEED}


@invariant()
def the_step_of_a_trip_takes_the_feed_too(at):
    """In the step of a trip the feed pump goes off as well, unless a pump that nothing here drives needs it."""
    trips = at.state is S.TRIPPED and at.before is not S.TRIPPED
    return not trips or FEED not in at.outputs or at.feeds_another


@invariant(Part.MEMORY)
def what_tripped_first_is_known(at):
    """While tripped it is known what tripped first."""
    return at.state is not S.TRIPPED or at.first_out is not None


@invariant()
def a_trip_stays_until_it_is_reset(at):
    """Out of a trip leads only an accepted reset; a restart is none."""
    return not at.lets_go or (not at.restart and "reset" in at.accepted)


@invariant(Part.ATTENTION)
def a_trip_stays_until_it_is_acknowledged(at):
    """Out of a trip leads nothing before each trip is acknowledged."""
    return not at.lets_go or not at.was_waiting or "acknowledge" in at.accepted


@invariant()
def a_reset_starts_nothing(at):
    """A reset leads to rest."""
    return not at.lets_go or at.state in (S.STANDBY, S.LAID_UP)


@invariant(Part.INSTRUMENTS)
def a_reset_waits_until_the_pressure_is_gone(at):
    """No reset under pressure, or with the pressure unknown."""
    bar = at.instruments.bar
    return not at.lets_go or (bar is not None and bar <= RESET_BELOW_BAR)


@invariant(Part.INSTRUMENTS)
def a_reset_waits_until_the_contacts_are_closed(at):
    """No reset while the stop button or the pressure switch is open."""
    return not at.lets_go or not at.instruments.active & {"stop_button", "pressure_switch"}


@invariant(Part.SIGNALS)
def the_heartbeat_beats_unless_tripped(at):
    """The heartbeat beats, unless tripped."""
    return ("heartbeat" in at.outputs) is not (at.state is S.TRIPPED)


# ---- what is owed ----------------------------------------------------------------------------------


@invariant(Part.OWED)
def what_is_owed_stays_owed_until_it_is_met(at):
    """Nothing that is owed is forgotten."""
    return not at.forgotten


@invariant(Part.MEMORY, Part.INSTRUMENTS)
def sea_water_in_the_membrane_owes_a_flush(at):
    """Sea water in the membrane owes a flush."""
    bar = at.instruments.bar
    salty = bool({FEED, HP} & at.outputs) or (bar is not None and bar > SALTY_ABOVE_BAR)
    return not salty or at.retained.flush_owed


# ---- a judge of a core that goes on tick by tick -----------------------------------------------------

VALUED = (Quality.GOOD, Quality.UNDER, Quality.OVER)
"""Qualities with a value."""


def usable(inputs, channel, *qualities):
    """The value control was given, when it is a number and of one of these qualities."""
    reading = inputs.readings.get(channel)
    sound = reading is not None and reading.quality in qualities and reading.value is not None
    return reading.value if sound and math.isfinite(reading.value) else None


def instruments_of(inputs):
    """What the inputs of a tick tell."""
    # A pressure just beyond its range is known to be there; water is judged by good readings alone.
    bar, feed_bar = (usable(inputs, each, *VALUED) for each in ("vessel_pressure", "feed_pressure"))
    water = ("product_conductivity", "sea_temperature", "product_flow")
    conductivity, temperature_c, flow_l_h = (usable(inputs, each, Quality.GOOD) for each in water)
    return Instruments(
        bar,
        feed_bar,
        None if conductivity is None else tds_mg_l(min(1e5, max(0.0, conductivity))),
        temperature_c,
        flow_l_h,
        frozenset(contact for contact, active in inputs.active.items() if active),
    )


def accepted_in(events):
    """The commands that were accepted."""
    return frozenset(e["command"] for e in events if e["kind"] == "command" and e["accepted"])


def raised_in(events):
    """The alarms that came."""
    ids = {e["id"] for e in events if e["kind"] == "alarm" and e["to"] == "unacknowledged"}
    return frozenset(ids & set(DEFINITIONS))


def trips_in(raised, before):
    """Those of the alarms that trip out of that state."""
    return frozenset(
        id_ for id_ in raised if DEFINITIONS[id_].effect is Effect.TRIP and before in DEFINITIONS[id_].armed
    )


@dataclass
class Watch:
    """Takes the place of a core's `tick` and judges each; keeps its own account, nothing of the core's memory."""

    core: object
    slack_s: float = 0.5
    """A few ticks of the longest kind, on the time of a stop."""
    raises: bool = True
    wrong: list[str] = field(default_factory=list)
    good_since_s: float | None = field(init=False)
    asked: bool = field(init=False)
    stopped_s: float | None = None

    TELLS = (
        Part.PERSON,
        Part.WATER_PROOF,
        Part.INSTRUMENTS,
        Part.MEMORY,
        Part.OWED,
        Part.ATTENTION,
        Part.AFTER_STOP,
        Part.SALT,
        Part.SIGNALS,
    )

    def __post_init__(self):
        state = self.core.plant.state
        self.good_since_s = -math.inf if state is S.PRODUCING else None
        self.asked = state not in AT_REST
        self._tick, self.core.tick = self.core.tick, self.tick
        self._invariants = told_by(self.TELLS)

    def tick(self, inputs, commands=()):
        """One tick of the core. What it broke is noted in `wrong`; raises AssertionError for it where asked to."""
        plant = self.core.plant
        before, was_on, was_owed = plant.state, frozenset(self.core.on), owed(plant.retained)
        was_waiting = any(alarm.state.value != "latched" for alarm in plant.alarms.trips)
        outcome = self._tick(inputs, commands)
        step = self._step(inputs, before, was_on, was_waiting, outcome)
        done = acts(outcome.events) | by_time(self.core)
        step.forgotten = frozenset(forgotten(was_owed, owed(plant.retained), done))
        self.wrong += [f"{before} → {step.state}: {sentence}" for _, sentence in broken(step, self._invariants)]
        assert not (self.raises and self.wrong), self.wrong
        return outcome

    def _step(self, inputs, before, was_on, was_waiting, outcome):
        core, settings, now_s = self.core, self.core.plant.settings, inputs.now_s
        state, outputs, seen = core.plant.state, frozenset(outcome.outputs), instruments_of(inputs)
        accepted = accepted_in(outcome.events)
        self._remember(seen, settings, before, state, accepted, now_s)
        must_trip = trips_in(raised_in(outcome.events), before)
        high_bar = settings.limits.vessel_pressure_high_high_bar
        if before not in (S.TRIPPED, S.LAID_UP):
            if core.last.active("stop_button"):
                must_trip |= {"stop_button"}
            if (core.last.pressure_bar or 0.0) > high_bar or inputs.overpressure_bar is not None:
                must_trip |= {"vessel_pressure_high_high"}
        hold_s = settings.sequence.quality_hold_s - 1e-6
        return Step(
            before=before,
            state=state,
            was_on=was_on,
            outputs=outputs,
            accepted=accepted,
            must_trip=must_trip,
            stop_given="stop" in accepted,
            feeds_another=before not in RUN,
            bounds=Bounds(
                worst_mg_l=settings.limits.reject_at_once_tds_mg_l,
                stop_s=settings.sequence.stop_open_s + self.slack_s,
            ),
            asked=self.asked,
            water_proven=self.good_since_s is not None and now_s - self.good_since_s >= hold_s,
            instruments=seen,
            retained=core.plant.retained,
            first_out=core.first_out,
            was_waiting=was_waiting,
            after_stop_s=-1.0 if self.stopped_s is None else now_s - self.stopped_s,
            tank_mg_l=seen.tds_mg_l if TANK in outputs and state is not S.BENCH else None,
        )

    def _remember(self, seen, settings, before, state, accepted, now_s):
        good = seen.measure_the_water and seen.tds_mg_l <= settings.limits.accept_tds_mg_l and before in PUMPING
        if not good:
            self.good_since_s = None
        elif self.good_since_s is None:
            self.good_since_s = now_s
        if accepted & {"start", "bench"}:
            self.asked, self.stopped_s = True, None
        if "stop" in accepted:
            self.stopped_s = now_s
        if state in AT_REST:
            self.asked = False
