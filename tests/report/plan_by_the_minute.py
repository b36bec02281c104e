"""A boat of tests that carries a plan out minute by minute, written apart from the planner, and questions to try.

It goes by the rules as the document of the question tells them. The flow of the sea is given to it, not computed.
"""

from datetime import datetime, timedelta

BEGIN = datetime.fromisoformat("2026-07-01T06:00:00+00:00")
MEALS = [0.01] * 6 + [
    0.05,
    0.1,
    0.09,
    0.05,
    0.03,
    0.03,
    0.06,
    0.05,
    0.03,
    0.02,
    0.03,
    0.04,
    0.08,
    0.1,
    0.08,
    0.05,
    0.03,
]
"""Invented shares of a day by the hour."""
BY_HOUR = [*MEALS, round(1 - sum(MEALS), 4)]


def moment(hours):
    """So many hours after the begin."""
    return (BEGIN + timedelta(hours=hours)).isoformat()


def question(**changes):
    """A question for a small boat over one day (invented); a dotted name changes one figure."""
    hours = changes.pop("hours", 24)
    sun = changes.pop("sun", 500.0)
    asked = {
        "schema": 1,
        "from": moment(0),
        "to": moment(hours),
        "tank": {"capacity_l": 300, "now_l": 150, "reserve_l": 60, "full_percent": 95, "at_end_l": 150},
        "use": {"people": 3, "l_per_person_day": 25, "by_hour": BY_HOUR, "high_factor": 1.25},
        "battery": {"capacity_wh": 6000, "now_percent": 80, "min_percent": 25, "max_percent": 100, "start_percent": 30},
        "loads_w": 90,
        "sun_w": [sun if 2 <= hour % 24 < 12 else 0.0 for hour in range(hours)],
        "sun_low_factor": 0.7,
        "engine": [],
        "sea": [{"from": moment(0), "temperature_c": 22.0, "salinity_g_kg": 36.0}],
        "plant": {
            "feed_flow_l_h": 340,
            "pressure_bar": 55,
            "area_m2": 2.6,
            "water_permeability_lmh_bar": 1.25,
            "salt_permeability_lmh": 0.18,
            "pump_power_w": 1400,
            "start_up_minutes": 7,
            "flush_l": 12,
            "flush_minutes": 4,
            "flush_power_w": 60,
            "min_run_minutes": 30,
            "motor_run_minutes": 180,
            "motor_rest_minutes": 15,
            "starts_per_hour": 4,
        },
        "blocked": [],
    }
    for name, value in changes.items():
        table, _, key = name.partition(".")
        if key:
            asked[table][key] = value
        else:
            asked[table] = value
    return asked


class Day:
    """What happened when the runs were carried out."""

    def __init__(self, asked, runs, flow_l_h, *, high=1.0, sun=1.0):
        tank, battery, plant = asked["tank"], asked["battery"], asked["plant"]
        begin = datetime.fromisoformat(asked["from"])
        end = datetime.fromisoformat(asked["to"])
        self.level = self.least_level = tank["now_l"]
        self.charge = battery["capacity_wh"] * battery["now_percent"] / 100
        self.made, self.broken = 0.0, set()
        starts = [datetime.fromisoformat(run["start"]) for run in runs]
        ends = [start + timedelta(minutes=run["minutes"]) for start, run in zip(starts, runs, strict=True)]
        self._look_at_the_motor(plant, runs, starts, ends)
        floor = battery["capacity_wh"] * battery["min_percent"] / 100
        least_to_start = battery["capacity_wh"] * battery["start_percent"] / 100
        daily = asked["use"]["people"] * asked["use"]["l_per_person_day"] * high
        now, minute = begin, timedelta(minutes=1)
        flushing = 0
        while now < end:
            watts = asked["sun_w"][int((now - begin).total_seconds() // 3600)] * sun - asked["loads_w"]
            watts += sum(e["w"] for e in asked["engine"] if _within(now, e))
            running = [i for i in range(len(runs)) if starts[i] <= now < ends[i]]
            for i in running:
                if now == starts[i] and self.charge < least_to_start - 1 and sun == 1.0:
                    self.broken.add("start_percent")
                watts -= plant["pump_power_w"]
                if now - starts[i] >= timedelta(minutes=plant["start_up_minutes"]):
                    self.level += flow_l_h / 60
                    self.made += flow_l_h / 60
                if any(_within(now, each) for each in asked["blocked"]):
                    self.broken.add("blocked")
            if now in ends:
                self.level -= plant["flush_l"]
                flushing = plant["flush_minutes"]
            if flushing and not running:
                flushing -= 1
                watts -= plant["flush_power_w"]
            self.charge += watts / 60
            full = battery["capacity_wh"] * battery["max_percent"] / 100
            self.charge = min(self.charge, full)
            self.level -= daily * asked["use"]["by_hour"][now.hour] / 60
            if running and self.charge < floor - 30:
                self.broken.add("min_percent")
            if running and self.level > tank["capacity_l"] * tank["full_percent"] / 100 + 0.6:
                self.broken.add("full_percent")
            self.least_level = min(self.least_level, self.level)
            now += minute
        if any(end_of_run > end for end_of_run in ends):
            self.broken.add("beyond_the_end")

    def _look_at_the_motor(self, plant, runs, starts, ends):
        for place, run in enumerate(runs):
            if run["minutes"] > plant["motor_run_minutes"]:
                self.broken.add("motor_run_minutes")
            if run["minutes"] < plant["start_up_minutes"] + plant["min_run_minutes"]:
                self.broken.add("min_run_minutes")
            if place and starts[place] < ends[place - 1] + timedelta(minutes=plant["motor_rest_minutes"]):
                self.broken.add("motor_rest_minutes")
        for start in starts:
            within = [other for other in starts if start <= other < start + timedelta(hours=1)]
            if len(within) > plant["starts_per_hour"]:
                self.broken.add("starts_per_hour")


def _within(now, span):
    return datetime.fromisoformat(span["from"]) <= now < datetime.fromisoformat(span["to"])
