"""Plants of which everything is known, many of them, and how often health is right about them.

    .venv/bin/python tests/report/health_trials.py [--plants 60] [--seed 1] [--only plain laws hard sea read]

`plain`: straight declines. `laws`: the same that slow down, hasten, pause or go in a curve. `hard`: noise half as large
again and half the sensors. `sea`: a sea that wanders, the feed not measured; `read`: the same, and a person reads its
salinity in every fourth run. Each line: share of truths inside the 80 and the 90 % interval, median width of the first,
how often the likeliest story is the right one, false alarms in healthy years, hours from a true loss of 5 % to its
name. Takes about two seconds a plant; it is no test, because a share needs many plants.
"""

import argparse
import math
import random
from dataclasses import replace
from statistics import median

from aged_plant import RUN_H, SEA_G_KG, plant, reference_day

from halocline.report.health.answer import answer

RUNS = 70
END_H = RUNS * RUN_H
LAWS = {
    "straight": lambda x: x,
    "slowing": lambda x: -math.expm1(-2.0 * x) / -math.expm1(-2.0),
    "hastening": lambda x: x**1.6,
    "pausing": lambda x: min(2.0 * x, 0.5) if x < 0.6 else 0.5 + 1.25 * (x - 0.6),
    "curved": lambda x: 0.5 - 0.5 * math.cos(math.pi * x),
}
TRIALS = {
    "plain": (1.0, False, ("straight",), "still"),
    "laws": (1.0, False, tuple(LAWS), "still"),
    "hard": (1.5, True, ("straight",), "still"),
    "sea": (1.0, False, ("straight",), "wanders"),
    "read": (1.0, False, ("straight",), "read"),
}
STORIES = (
    "nothing",
    "fouling",
    "scaling",
    "membrane_damage",
    "conductivity_drift",
    "flow_meter_drift",
    "pressure_drift",
)
TOLD = 0.8
LOOKS = [round(END_H * share) for share in (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)]

BEGINS = {"zero": 0.0}
"""What a law begins with where that is not 1: a zero in bar, all others are factors."""
MOVES = {
    "fouling": {"water": -1.0},
    "scaling": {"water": -1.0, "salt": 2.0},
    "membrane_damage": {"water": 0.2, "salt": 3.0},
    "conductivity_drift": {"cell": -1.0},
    "flow_meter_drift": {"meter": -0.7},
    "pressure_drift": {"zero": 12.0},
}
"""By how much a story of size 1 moves each quantity in the end (invented)."""


def made(number, seed, noise, poor, laws, sea):
    """One plant: what the record holds of it, its story, and its true change of flow and salt passage as read."""
    rng = random.Random(f"{seed}/{number}")
    story, law = STORIES[number % len(STORIES)], LAWS[laws[number // len(STORIES) % len(laws)]]
    onset_h = rng.uniform(0.1, 0.5) * END_H
    size = rng.uniform(0.08, 0.25)

    def gone(h):
        return law(max(h - onset_h, 0.0) / (END_H - onset_h))

    def course(quantity):
        begin, by = BEGINS.get(quantity, 1.0), MOVES.get(story, {}).get(quantity, 0.0)
        return lambda h: begin + by * size * gone(h)

    water, salt, cell, meter, zero = map(course, ("water", "salt", "cell", "meter", "zero"))
    full = not (poor or sea != "still") or (poor and number % 2 == 0)
    wanders = sea_of(random.Random(f"{seed}/{number}/sea")) if sea != "still" else lambda _: 0.0
    has = plant(
        RUNS,
        seed=rng.randrange(10**6),
        noise=noise,
        full=full,
        water=water,
        salt=salt,
        cell=cell,
        meter=meter,
        zero=zero,
        sea=wanders,
    )
    if sea == "read":
        has = read_of(has, wanders, random.Random(f"{seed}/{number}/read"))

    def truth(h):
        flow, passage = reference_day(water=water(h), salt=salt(h))
        return flow * meter(h), passage * meter(h) * cell(h)

    base = [truth(2.0 * i) for i in range(6)]
    now = truth(END_H)
    changes = [now[k] / (sum(b[k] for b in base) / len(base)) - 1.0 for k in (0, 1)]
    five_h = next((h for h in range(round(END_H)) if truth(h)[0] / truth(0.0)[0] < 0.95), None)
    return has, story, changes, five_h


def sea_of(rng):
    """A sea that wanders by up to 2 g/kg over weeks, and no settings with it (invented)."""
    size, pace_h, begin = rng.uniform(0.2, 1.0), rng.uniform(15.0, 60.0), rng.uniform(0.0, 6.0)
    return lambda h: size * (math.sin(h / pace_h + begin) - math.sin(begin))


def read_of(has, wanders, rng):
    """With a hydrometer's reading of the sea in every fourth run."""
    read = [
        (has.kept[i].period.at_s, {"g_kg": SEA_G_KG + wanders(RUN_H * (i + 0.8)) + rng.gauss(0.0, 0.5)})
        for i in range(0, RUNS, 4)
    ]
    return replace(has, readings=[(at_s, "sea_salinity", {**told, "by": "hydrometer"}) for at_s, told in read])


def named(said):
    """What is told for certain."""
    return {p["name"] for p in said["patterns"] if p["confidence"] >= TOLD} - {"nothing", "prefilter"}


def cut(has, h):
    """What was known at these running hours."""
    kept = has.kept[: int(h / RUN_H)]
    return replace(has, at_s=kept[-1].ended_s, kept=kept)


def trial(name, plants, seed):
    """One line of figures."""
    noise, poor, laws, sea = TRIALS[name]
    inside, widths = (
        {(q, i): [] for q in ("flow", "salt_passage") for i in ("i80", "i90")},
        {"flow": [], "salt_passage": []},
    )
    right, alarms, years, delays = [], 0, 0.0, []
    for number in range(plants):
        has, story, changes, five_h = made(number, seed, noise, poor, laws, sea)
        said = answer(has)
        for q, true in zip(("flow", "salt_passage"), changes, strict=True):
            told = said["quantities"][q]
            if told["basis"] == "corrected":
                true = 0.0 if story == "pressure_drift" else true  # noqa: PLW2901
            elif story == "pressure_drift":
                continue
            for i in ("i80", "i90"):
                low, high = told["change"][i]
                inside[q, i].append(low <= true <= high)
            widths[q].append(told["change"]["i80"][1] - told["change"]["i80"][0])
        right.append(said["patterns"][0]["name"] == story)
        if story == "nothing":
            spoke = set()
            for h in LOOKS:
                wrong = named(answer(cut(has, h)))
                alarms += len(wrong - spoke)
                spoke = wrong
            years += (has.kept[-1].ended_s - has.kept[0].ended_s) / 86400.0 / 365.25
        if story == "fouling" and five_h is not None:
            runs = range(math.ceil(five_h / RUN_H), RUNS + 1)
            delays.append(
                next((i * RUN_H - five_h for i in runs if "fouling" in named(answer(cut(has, i * RUN_H)))), math.inf)
            )
    shares = "  ".join(
        f"{q} {sum(inside[q, 'i80']) / len(inside[q, 'i80']):.2f}/{sum(inside[q, 'i90']) / len(inside[q, 'i90']):.2f}"
        f" width {median(widths[q]):.4f}"
        for q in widths
    )
    slow = f"{median(delays):.0f} h, {sum(d <= 15.0 for d in delays)} of {len(delays)} within 15 h" if delays else "-"
    print(
        f"{name:6} {plants} plants  {shares}  story {sum(right) / len(right):.2f}"
        f"  alarms {alarms} in {years:.1f} healthy years  named after {slow}",
        flush=True,
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--plants", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", choices=TRIALS, default=list(TRIALS))
    given = parser.parse_args()
    for each in given.only:
        trial(each, given.plants, given.seed)
