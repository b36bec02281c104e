"""A boat of several days: its runs are played by the real control on the simulated plant, with noise; the hours between
them are summed up, for nothing of the plant moves in them.

Crew, sun and sea of this boat are invented. What it planned from is what control shows and what its record tells.
"""

import contextlib
from dataclasses import replace
from typing import NamedTuple

from halocline.config import load_demo
from halocline.control.hmi.prospect import prospect_message
from halocline.control.housekeeping import configuration_in_force
from halocline.control.inputs import Command
from halocline.plant.vocabulary import State
from halocline.rehearsal.scenario import Scenario
from halocline.rehearsal.scenario_runner import ScenarioRunner
from halocline.report.database_open import reading
from halocline.report.planning.boat import boat_question
from halocline.report.planning.choosing import choose
from halocline.report.planning.foreseen import Outlook
from halocline.report.planning.keeping import kept
from halocline.report.planning.learning import usual_shares
from halocline.report.planning.question import forecast_of, question_of
from halocline.report.planning.remembered import remembered
from halocline.report.public import iso
from halocline.report.store import Entry, Store
from halocline.simulation import PlantParameters

DEMO, DEMO_REPORT = load_demo()
CAGARRA = replace(DEMO, sequence=replace(DEMO.sequence, attendance=False, off_reason="played by a test"))
PLAN = DEMO_REPORT.plan
MORNING_S = 1_782_892_800.0
"""2026-07-01 08:00 UTC, which is the clock of this boat."""
START_S = 1000.0
"""Of the rehearsal's own clock."""
SHARES = usual_shares()


class Done(NamedTuple):
    """What a run came to, by the boat's truth: litres that stay in the tank, minutes from start to the end of making
    water, Wh of the pumps, and how it ended."""

    litres: float
    flush_l: float
    minutes: float
    energy_wh: float
    start_up_minutes: float
    why: str


class Promised(NamedTuple):
    """What a plan says of a run."""

    litres: float
    minutes: float
    energy_wh: float


class BoatOfDays:
    """Tank and battery as they truly are. `sun_w` is foreseen, by hours from the first morning; `sun` and `use` tell
    what really comes in an hour, as factors of that. `truth`: what of the plant is not as the settings say."""

    def __init__(
        self, record, *, tank_l, charge_percent, sun_w, plan=PLAN, l_day=50.0, sun=None, use=None, hour=0, seed=1,
        **truth,
    ):  # fmt: skip
        self.record, self.plan, self.seed = record, plan, seed
        self.parameters = replace(
            PlantParameters.for_settings(CAGARRA), boat_power_w=plan.loads_w, battery_charge_percent=charge_percent,
            tank_litres=tank_l, **truth,
        )  # fmt: skip
        self.sun_w, self.l_day, self.sun, self.use = sun_w, l_day, sun or {}, use or {}
        self.wall_s = MORNING_S + hour * 3600
        self.shares = None
        self.shown = None
        self.played = 0
        self.least_l = tank_l

    @property
    def tank_l(self):
        return self.parameters.tank_litres

    @property
    def charge_percent(self):
        return self.parameters.battery_charge_percent

    def use_l_h(self, hour):
        clock = int((MORNING_S / 3600 + hour) % 24)
        return self.l_day * SHARES[clock] * self.use.get(hour, 1.0)

    def charging_w(self, hour):
        return (self.sun_w[hour] if hour < len(self.sun_w) else 0.0) * self.sun.get(hour, 1.0)

    @property
    def hour(self):
        return int((self.wall_s - MORNING_S + 1e-6) // 3600)

    def rest_until(self, wall_s):
        """Let the hours pass with the pump off."""
        p = self.parameters
        while self.wall_s < wall_s - 1e-6:
            until_s = min(wall_s, MORNING_S + (self.hour + 1) * 3600)
            hours = (until_s - self.wall_s) / 3600
            volts = p.battery_empty_v + (p.battery_v - p.battery_empty_v) * p.battery_charge_percent / 100
            gained_ah = (self.charging_w(self.hour) - p.boat_power_w) * hours / volts
            percent = min(max(p.battery_charge_percent + 100 * gained_ah / p.battery_ah, 0.0), 100.0)
            litres = max(p.tank_litres - self.use_l_h(self.hour) * hours, 0.0)
            p = self.parameters = replace(p, tank_litres=litres, battery_charge_percent=percent)
            self.least_l = min(self.least_l, litres)
            self.wall_s = until_s

    def stage(self):
        """Control and plant at this moment, a few seconds awake."""
        self.played += 1
        hour = self.hour
        parameters = replace(self.parameters, crew_use_l_h=self.use_l_h(hour), charging_w=self.charging_w(hour))
        stage = ScenarioRunner(Scenario("days", 1.0, CAGARRA, parameters, ()), self.seed * 1000 + self.played)
        if self.shares is not None:
            stage.core.plant.performance.shares = self.shares
        stage.live_until(5.0)
        return stage

    def now(self):
        """What the planner hears from control."""
        core = self.stage().core
        readings = {name: {"value": each.value} for name, each in core.last.inputs.readings.items()}
        # A monitor of the battery's charge is no channel of this converter: a shunt's, with half a percent of error.
        readings["battery_charge_percent"] = {"value": self.charge_percent}
        return {"prospect": prospect_message(core.plant, core.plant.present(core.last)), "readings": readings}

    def planned(self):
        """The plan that the boat shows now, and its question: from what control shows, what its record tells, and the
        sun that is foreseen."""
        forecast = forecast_of({"from": iso(MORNING_S), "sun_w": self.sun_w})
        with reading(self.record) as connection:
            memory = remembered(connection, self.wall_s, 0.0)
        asked = boat_question(self.now(), memory, self.plan, Outlook(forecast), self.wall_s, 0.0)
        question = question_of(asked.message)
        chosen, self.shown = kept(self.shown, question, choose(question))
        return question, chosen

    def carried_out(self, question, chosen):
        """Each run of the plan at its time; what the plan promised of it, and what came of it."""
        for run, litres in zip(chosen.runs, chosen.played.litres, strict=True):
            self.rest_until(question.from_s + run.start_min * 60)
            promised = Promised(litres, run.minutes, question.plant.pump_power_w * run.minutes / 60)
            yield promised, self.carry_out(litres)
        self.rest_until(question.to_s)

    def carry_out(self, litres):
        """A person takes the next run over into the start, with its litres, and does what the page asks."""
        stage = self.stage()
        before = stage.sea.truth(START_S + 5.0)
        stage.give(Command("start", {"litres": litres}))
        t_s, state = 5.0, State.STANDBY
        opened_s = ended_s = None
        while opened_s is None or state is not State.STANDBY:
            t_s += 1.0
            stage.live_until(t_s)
            state = stage.core.plant.state
            assert state is not State.TRIPPED, stage.played.alarms
            assert t_s < 5 * 3600
            opened_s = t_s if opened_s is None and state is State.PRODUCING else opened_s
            if opened_s is not None and ended_s is None and state is not State.PRODUCING:
                ended_s = t_s
        truth = stage.sea.truth(START_S + t_s)
        self.shares = stage.core.plant.performance.shares
        self.parameters = replace(
            self.parameters, tank_litres=truth.tank_litres, battery_charge_percent=truth.battery_charge_percent
        )
        self._record(stage)
        self.wall_s += t_s - 5.0
        self.least_l = min(self.least_l, truth.tank_litres)
        return Done(
            litres=truth.tank_added_l - before.tank_added_l,
            flush_l=truth.flush_l - before.flush_l,
            minutes=(ended_s - 5.0) / 60,
            energy_wh=truth.energy_wh - before.energy_wh,
            start_up_minutes=(opened_s - 5.0) / 60,
            why=stage.core.why.id,
        )

    def _record(self, stage):
        """The run's own events, as report records them."""
        boot = f"b{self.played}"
        entries = [
            Entry("hello", boot, {"boot": boot, "host_boot": "hb", "version": "0", "simulated": True}),
            Entry("configuration", boot, configuration_in_force(CAGARRA)),
        ]
        for seq, event in enumerate(stage.played.events, 1):
            at = {"seq": seq, "mono_s": START_S + event["t"], "wall_s": self.wall_s - 5.0 + event["t"]}
            entries.append(Entry("event", boot, {**event, **at}))
        write(self.record, entries)


def write(path, entries):
    """Entries into the record, and all that is to be dated and summed up."""
    with contextlib.closing(Store(path)) as store:
        for begin in range(0, len(entries), 500):
            store.write(entries[begin : begin + 500])
        while store.backlog:
            store.write([])


def fitted_out(path):
    """A record that knows the settings and nothing else."""
    hello = {"boot": "b0", "host_boot": "hb", "version": "0", "simulated": True}
    write(path, [Entry("hello", "b0", hello), Entry("configuration", "b0", configuration_in_force(CAGARRA))])
    return path


def taught(path, *, flow_l_h, power_w, runs=3):
    """The same after a few runs as a boat of this flow and power has had them."""
    fitted_out(path)
    entries = []
    for i in range(runs):
        begun_s = MORNING_S - (runs - i) * 86400
        minutes, up = 60.0 + 10 * i, 5.0 + 0.2 * i
        run = {
            "id": f"b0-{i}", "why": {"id": "target_litres", "values": {}}, "first_out": None, "started_mono_s": begun_s,
            "seconds": minutes * 60, "producing_s": (minutes - up) * 60, "litres": flow_l_h * (minutes - up) / 60,
            "overboard_l": flow_l_h * up / 120, "tds_worst_mg_l": 320.0, "tds_mean_mg_l": 300.0,
            "energy_wh": power_w * (minutes - 1) / 60, "energy_basis": "battery", "peak_pressure_bar": 55.4,
        }  # fmt: skip
        flush = {"run": run["id"], "litres": 12.0, "seconds": 130.0, "complete": True, "measured": True}
        started = {"run": {"id": run["id"], "why": {}, "target_l": None}}
        for kind, at_s, body in (
            ("run_started", begun_s, started),
            ("run_ended", begun_s + minutes * 60, {"run": run}),
            ("flush_ended", begun_s + minutes * 60 + 130, flush),
        ):
            at = {"seq": len(entries) + 1, "mono_s": at_s, "wall_s": at_s, "kind": kind}
            entries.append(Entry("event", "b0", {**at, **body}))
    write(path, entries)
    return path
