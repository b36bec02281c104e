"""Commands: refused with every reason, or carried out."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from halocline.control.alarm_conditions.rest import FLUSHED_WARM_S
from halocline.control.duties.attendance import AT_THE_PLANT
from halocline.control.duties.flush_alone import ENDED
from halocline.control.inputs import Command, Reason
from halocline.control.orders import Orders
from halocline.control.permissives import FLUSH_OF_ITS_OWN, hypothetical, reasons_against
from halocline.control.permissives.alarms import ALARM_KINDS, BACK_IN_SERVICE, OUT_OF_SERVICE
from halocline.control.permissives.commissioning import COMMISSIONED
from halocline.control.permissives.flush_alone import next_s
from halocline.control.permissives.motor import last_start
from halocline.control.permissives.people import ANSWERED_THERE
from halocline.control.permissives.permissive import Check, Context
from halocline.control.permissives.upkeep import DUTY_DONE, OPENS_CIRCUIT, PURGE_CONFIRMED
from halocline.control.plant_state import PlantState
from halocline.control.retained.retained_state import (
    FlushConsent,
    Lock,
    OutOfService,
    RetainedState,
    new_purge,
    with_consent_ended,
)
from halocline.control.situation import Situation
from halocline.plant.command_definitions import COMMANDS, NEVER_FROM_MQTT, Bench, ConsentFlush, LayUp, Shelve
from halocline.plant.duties import BY_ID, CHLORINE_FREE_MG_L, PROOF
from halocline.plant.readings import READINGS
from halocline.plant.thresholds import DAY_S
from halocline.plant.vocabulary import Origin, State

FOR_A_PERSON = frozenset({"stop", "flush"})
"""Over a broker a person's word cannot be told from a machine's; of these either means that nothing is to flush by
itself meanwhile."""
OVERRULED_BY_STOP = frozenset({"start", "flush", "bench"})
PURGE_AFTER = {"element_changed": "new_element", "cleaned": "cleaning"}
JUMPED = {"product_flow_jumped": "flow", "product_salt_jumped": "salt"}
"""Acknowledging one of these confirms that a person has looked; from then on the present values are the usual ones."""

CHLORINE = {"tank_chlorinated": True, "shore_water_taken": True, "chlorine_strip_zero": False}
"""Free chlorine destroys the membrane: entry → whether the flush water may hold some from then on."""
NAMED = ("finding", "duty", "part")
"""What an entry is about, where its kind is about one of many."""


def argument_problems(command: Command) -> list[Reason]:
    """What is wrong with a command's arguments, each as a reason; the boat checks those of its faults."""
    definition = COMMANDS.get(command.name)
    if definition is None or definition.takes_more:
        return []
    problems = []
    for key, value in command.arguments.items():
        argument = definition.arguments.get(key)
        if argument is None:
            known = ", ".join(argument.name for argument in definition.given) or "none"
            problems.append(Reason("argument_unknown", {"argument": key, "known": known}))
        elif value is not None and not argument.form.fits(value):
            problems.append(Reason("argument_wrong", {"argument": key, "wanted": argument.form.wanted}))
    return problems


class Decisions:
    """Takes commands for one plant: refuses with every reason, or carries them out."""

    def __init__(self, at: PlantState) -> None:
        self._at = at
        self._effects: Mapping[str, Callable[[Command, Situation, Orders], None]] = {
            "stop": self._stop,
            "acknowledge": self._acknowledge,
            "silence": self._silence,
            "shelve": self._shelve,
            "bench": self._bench,
            "log": self._log,
            "fault": lambda command, _now, orders: orders.simulate.append(command),
            "calibrate": self._calibrate,
        }
        self._promised: list[Command] = []
        self._called_off: list[Command] = []
        self._latched: Mapping[str, Callable[[Command, RetainedState], RetainedState]] = {
            "start": lambda _command, retained: replace(retained, under_way=State.PRIMING.value),
            "log": self._logged,
            "lay_up": self._lay_up,
            "recommission": self._recommission,
            "service_lock": self._lock,
            "service_unlock": lambda _command, retained: replace(retained, lock=None),
            "consent_flush": self._consent,
            "withdraw_flush_consent": lambda _command, retained: replace(retained, flush_consent=None),
        }

    def execute(self, commands: Iterable[Command], now: Situation) -> Orders:
        """Judge and carry out the commands that arrived since the last tick; stop wins over all."""
        orders = Orders()
        for command in sorted(commands, key=lambda command: command.name != "stop"):
            given = {key: value for key, value in command.arguments.items() if value is not None}
            self._take_one(replace(command, arguments=given), now, orders)
        return orders

    def _take_one(self, command: Command, now: Situation, orders: Orders) -> None:
        # Also of what is refused, or has yet to be put on file: whoever gave it is there from now on.
        if command.origin is not Origin.MQTT or command.name in FOR_A_PERSON:
            self._at.alone.hands(now.now_s)
        filed = command.filed is not None and not command.unfiled
        reasons = [] if filed else self.reasons(command, now)
        if orders.stop and command.name in OVERRULED_BY_STOP:
            reasons.append(Reason("stop_command", {"who": orders.who}))
        if command.persisted:
            reasons += self._redeemed(command)
        elif not reasons and self._is_put_off(command, now, orders):
            return
        told = [command.filed.told] if filed else self._to_say(command, now)
        if not reasons:
            self._carry_out(command, now, orders)
        orders.answers.append((command.token, not reasons, reasons or told))
        orders.events.append(
            {
                "kind": "command",
                "command": command.name,
                "origin": command.origin.value,
                "who": command.who,
                "accepted": not reasons,
                "reasons": [reason.as_message() for reason in reasons],
                "arguments": dict(command.arguments),
            }
        )

    def _to_say(self, command: Command, now: Situation) -> list[Reason]:
        """What an accepted command does not do, where whoever gave it may believe that it does; and what it uses up."""
        at = self._at
        if command.name == "start":
            no_flush = [Reason("no_flush_after_this_run")] if at.retained.chlorine_suspected else []
            last = last_start(self.context(command, now))
            return no_flush if last is None else [*no_flush, last]
        if command.name == "stop" and (
            at.state is State.HAND_RUN or (at.driven and at.settings.drive.pump == "watch_only")
        ):
            return [Reason("stop_reaches_no_pump")]
        return []

    def _is_put_off(self, command: Command, now: Situation, orders: Orders) -> bool:
        """Whether something has to be on file before the command counts; then it is asked for."""
        made = self._at.calibrating.made(command, now) if command.name == "calibrate" else None
        if made is None and not self._changes_the_latch(command):
            return False
        again = replace(command, persisted=True, filed=made)
        if made is None:
            self._promised.append(again)
        orders.persist.append((again, made))
        return True

    def _redeemed(self, command: Command) -> list[Reason]:
        """The command is back from being put on file. A stop that came meanwhile has called it off."""
        promise = replace(command, unfiled=False)
        called_off = promise in self._called_off
        for waiting in (self._promised, self._called_off):
            waiting[:] = [other for other in waiting if other != promise]
        return [Reason("stop_command")] if called_off else []

    def _changes_the_latch(self, command: Command) -> bool:
        change, retained = self._latched.get(command.name), self.with_promises(self._at.retained)
        return change is not None and change(command, retained) != retained

    def forget_promises(self) -> None:
        """What was ordered in a tick that failed may never have come to housekeeping: nothing waits for it."""
        self._promised.clear()

    def with_promises(self, retained: RetainedState) -> RetainedState:
        """The latch with what was ordered and waits until it is on file."""
        for command in self._promised:
            retained = self._latched[command.name](command, retained)
        return retained

    def reasons(self, command: Command, now: Situation) -> list[Reason]:
        """Every reason against the command."""
        if command.name == "stop":
            return []  # whatever else it says: nothing is worth refusing a stop for
        if command.unfiled:
            return [Reason("latch_not_writable")]
        if command.name not in COMMANDS:
            return [Reason("command_unknown", {"command": command.name})]
        if command.origin is Origin.MQTT and command.name in NEVER_FROM_MQTT:
            return [Reason("never_from_mqtt", {"command": command.name})]
        problems = argument_problems(command)
        return problems or reasons_against(self.context(command, now))

    def context(self, command: Command, now: Situation) -> Context:
        """What the checks of a command look at."""
        at = self._at
        return Context(
            now=now,
            retained=at.retained,
            alarms=at.alarms,
            command=command,
            starts_ago_s=at.motor.starts_ago_s(now.now_s),
            rested_s=0.0 if at.driven else at.motor.rested_s(now.now_s),
            motor_worked_s=at.motor.worked_s,
            motor_hot_s=at.motor.hot_ago_s(now.now_s),
            person_seen_s=at.attendance.person_ago_s(now.now_s),
            hands_ago_s=at.alone.hands_ago_s(now.now_s),
            flush_tried_s=at.alone.tried_ago_s(now.now_s),
            flushing_alone=at.flush is not None and at.flush.alone,
            simulated=at.simulated,
            against_calibration=lambda: at.calibrating.reasons(command, now),
            calibrations_known=not at.calibrating.in_force.unreadable,
            has_baseline=at.calibrating.in_force.membrane is not None,
            evidence=at.evidence,
        )

    def _carry_out(self, command: Command, now: Situation, orders: Orders) -> None:
        orders.accepted.add(f"{command.name}_accepted")
        orders.commands[command.name] = command
        if command.name in self._latched:
            change = self._latched[command.name]
            self._at.persistence.carry_out(lambda retained: change(command, retained))
        effect = self._effects.get(command.name)
        if effect is not None:
            effect(command, now, orders)

    def refused(self, command: str, now: Situation) -> list[Reason]:
        """Every reason for which the command would be refused if it were given now."""
        return reasons_against(self.context(hypothetical(command), now))

    def may_flush_by_itself(self, now: Situation) -> bool:
        """Whether the flush that ends a stop is permitted."""
        return not reasons_against(self.context(hypothetical("flush"), now), FLUSH_OF_ITS_OWN)

    def against_flush_alone(self, now: Situation, checks: Sequence[Check]) -> list[Reason]:
        """What these checks say of a flush that nobody orders."""
        return reasons_against(self.context(hypothetical("flush"), now), checks)

    def next_flush_alone_s(self, now: Situation) -> float:
        """Time until a flush that nobody orders can begin at the earliest."""
        return next_s(self.context(hypothetical("flush"), now))

    def overview(self, now: Situation) -> tuple[list[str], dict[str, list[Reason]]]:
        """Which commands are open now, and why each of the others is not."""
        refused = {
            name: reasons
            for name in COMMANDS
            if (name != "fault" or self._at.simulated) and (reasons := self.refused(name, now))
        }
        hidden = () if self._at.simulated else ("fault",)
        return [name for name in COMMANDS if name not in refused and name not in hidden], refused

    # ---- effects -----------------------------------------------------------------------------

    def _stop(self, command: Command, _now: Situation, orders: Orders) -> None:
        orders.order_stop(command.who)
        self._called_off += [promise for promise in self._promised if promise.name in OVERRULED_BY_STOP]

    def _acknowledge(self, command: Command, now: Situation, _orders: Orders) -> None:
        self._at.attendance.take_answer(command, now.now_s)
        nobodys = ANSWERED_THERE if command.origin is Origin.MQTT else frozenset()
        for cause in self._at.alarms.acknowledge(command.arguments.get("alarm"), but=nobodys):
            if cause in ("restarted_unexpectedly", "flush_failed"):
                self._at.notes.clear(cause)
            if cause == "restarted_unexpectedly":
                self._at.persistence.cut_off_is_seen()
            if cause == ENDED:
                self._at.persistence.flush_consent_is_seen()
            if cause in JUMPED:
                self._at.performance.adopt(JUMPED[cause])

    def _calibrate(self, command: Command, _now: Situation, orders: Orders) -> None:
        at = self._at
        at.calibrating.take_over(command.filed)
        orders.put_in_force(at.calibrating.in_force)
        if not at.calibrating.in_force.unreadable:
            at.notes.clear("calibrations_unreadable")
        at.notes.clear("calibrations_outdated")
        orders.events.append({"kind": "calibration", "who": command.who, **command.filed.record})

    def _silence(self, _command: Command, _now: Situation, _orders: Orders) -> None:
        self._at.alarms.silence()

    def _shelve(self, command: Command, now: Situation, _orders: Orders) -> None:
        minutes = command.arguments.get("minutes", Shelve.minutes)
        self._at.alarms.shelve(command.arguments["alarm"], now.now_s, minutes * 60.0)

    def _bench(self, command: Command, _now: Situation, _orders: Orders) -> None:
        self._at.work.begin_trial(command.arguments["output"], command.arguments.get("seconds", Bench.seconds))

    def _log(self, command: Command, now: Situation, orders: Orders) -> None:
        kind = command.arguments.get("kind", "note")
        at = self._at
        if kind == AT_THE_PLANT:
            at.attendance.person_at_the_plant(now.now_s)
        if kind in PURGE_AFTER:
            at.forget_usual()
        if kind == OUT_OF_SERVICE:
            at.alarms.take_out_of_service(command.arguments["alarm"])
        if kind == BACK_IN_SERVICE:
            at.alarms.put_back(command.arguments["alarm"])
        note = command.arguments.get("note", "")
        if "alarm" in command.arguments:
            note = f"{command.arguments['alarm']}: {note}"
        event = {"kind": "log", "what": kind, "note": note, "who": command.who}
        if kind == COMMISSIONED:
            event |= {"step": command.arguments["step"], "seen": at.evidence.figures(now)}
        event |= {name: command.arguments[name] for name in NAMED if name in command.arguments}
        if readings := {name: command.arguments[name] for name in READINGS.get(kind, ()) if name in command.arguments}:
            event["readings"] = readings
        orders.events.append(event)

    # ---- what must be on file before it is accepted -----------------------------------------------

    def _logged(self, command: Command, retained: RetainedState) -> RetainedState:
        kind = command.arguments.get("kind", "note")
        if kind in OPENS_CIRCUIT:
            retained = replace(retained, circuit_opened=True)
        if kind in CHLORINE:
            retained = replace(retained, chlorine_suspected=CHLORINE[kind])
        if kind == "chlorine_read" and command.arguments["mg_l"] >= CHLORINE_FREE_MG_L:
            retained = replace(retained, chlorine_suspected=True)
        proved = _trips_proved(command)
        # Trips that were seen to fail are not proved, whatever the clock says; a proof without a date tells no age.
        if proved is False or (proved and command.wall_s is not None):
            retained = replace(retained, trips_proved_wall_s=command.wall_s if proved else None)
        if kind in PURGE_AFTER:
            retained = replace(retained, purge=new_purge(self._at.settings, PURGE_AFTER[kind], retained.purge))
        if kind in ALARM_KINDS:
            retained = replace(retained, out_of_service=_in_service(retained, command))
        if kind == PURGE_CONFIRMED and retained.purge and retained.purge.left_s <= 0:
            retained = replace(retained, purge=None)
        return retained

    def _consent(self, command: Command, retained: RetainedState) -> RetainedState:
        """Without a clock it would have ended before it began; that is refused."""
        given, sequence = command.arguments, self._at.settings.sequence
        days = given.get("days", ConsentFlush.days)
        most_l = sequence.flush_l * (1 + math.floor(days * DAY_S / FLUSHED_WARM_S))
        until_wall_s = (command.wall_s or 0.0) + days * DAY_S
        return replace(retained, flush_consent=FlushConsent(given["name"], until_wall_s, given.get("litres", most_l)))

    def _lay_up(self, command: Command, retained: RetainedState) -> RetainedState:
        of = command.arguments.get("preservative", LayUp.preservative)
        retained = with_consent_ended(retained, "consent_laid_up")
        return replace(retained, laid_up=True, laid_up_with=of, purge=new_purge(self._at.settings, of, retained.purge))

    def _recommission(self, _command: Command, retained: RetainedState) -> RetainedState:
        of = retained.laid_up_with or "preservative"
        purge = new_purge(self._at.settings, of, retained.purge)
        return replace(retained, laid_up=False, laid_up_with=None, purge=purge, circuit_opened=True)

    def _lock(self, command: Command, retained: RetainedState) -> RetainedState:
        return replace(retained, lock=Lock(command.arguments["name"], command.arguments["reason"]))


def _trips_proved(command: Command) -> bool | None:
    """Whether the entry shows that the trips act: the proof test by its reading, or the step of the commissioning that
    does the same. None where it is about something else."""
    given, rule = command.arguments, BY_ID[PROOF].expected
    if given.get("kind") == COMMISSIONED:
        return True if given["step"] == "protections" else None
    if given.get("kind") != DUTY_DONE or given["duty"] != PROOF or rule is None:
        return None
    return rule.holds(float(given["measured"]), rule.bound(given.get("expected"), None))


def _in_service(retained: RetainedState, command: Command) -> tuple[OutOfService, ...]:
    """What is out of service once the log entry counts."""
    alarm, kept = command.arguments["alarm"], retained.out_of_service
    kept = tuple(withdrawn for withdrawn in kept if withdrawn.alarm != alarm)
    if command.arguments["kind"] == BACK_IN_SERVICE:
        return kept
    return (*kept, OutOfService(alarm, command.who, command.arguments["note"], command.wall_s))
