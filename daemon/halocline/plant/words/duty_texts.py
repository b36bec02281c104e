"""The year's work in words: what each duty is called, why it is done, what it needs, and when it is due.

What the trade does is common practice; rating plates, suppliers' sheets, local rules and licensed work prevail.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any, NamedTuple

from halocline.plant.words.moments import date_of
from halocline.plant.words.units import quantity


class DutyWords(NamedTuple):
    """Its name, why it is done, how, with what and with which caution, in one or two sentences each."""

    name: str
    why: str
    how: str


SHOCK = "Mains near salt water: breaker off first; mains parts are a licensed electrician's work."
INJECTION = "60 bar goes through skin: cardboard, never a hand; tighten only at 0 on the mechanical gauge."

DUTY_TEXTS: Mapping[str, DutyWords] = {
    "strainer": DutyWords(
        "Clean the strainer",
        "A full strainer starves the pump.",
        "Seacock shut, lid off, basket rinsed, seal greased, lid tight. Look for leaks while you are there.",
    ),
    "gauge": DutyWords(
        "Read the gauge against the page",
        "The mechanical gauge is the check on the sender, and the other way round.",
        "While water is made; more than 3 bar apart: set the sensor right or change the gauge.",
    ),
    "hand_meter": DutyWords(
        "Hand meter against the probe",
        "A drifted or fouled probe calls salty water good.",
        "A sample of the product while water is made; more than 15 % apart: clean or calibrate the cell.",
    ),
    "bucket": DutyWords(
        "Fill a bucket by the clock",
        "A meter that reads low looks like a fouled membrane.",
        "A bucket of known volume and a watch, while water is made.",
    ),
    "oil_look": DutyWords(
        "Look at the pump's oil",
        "Milky oil means water behind the seals: the pump dies of it within days.",
        "At the sight glass, pump off. Milky: change oil and seals before the next run.",
    ),
    "seacocks": DutyWords("Move the seacocks", "A seacock that never moves seizes.", "Each shut and open again."),
    "cartridges": DutyWords(
        "Change the filters",
        "Wet cartridges rot with age, whatever their pressure drop: smell, slime, a fouled membrane.",
        "One coarse and one fine cartridge, silicone grease, the seals. Lock the plant first.",
    ),
    "hoses_and_earths": DutyWords(
        "High-pressure hoses and earths",
        "A hose gives notice by blisters, rust at the ends, weeping; an earth by green wires.",
        f"Look with a torch, plant at rest and at 0 bar. {INJECTION} {SHOCK}",
    ),
    "pump_oil": DutyWords(
        "Change the pump's oil",
        "The first oil carries the metal of running in; later oil ages.",
        "Oil by the pump's plate, a tray, rags. Old oil goes ashore, never into the bilge.",
    ),
    "motor_brushes": DutyWords(
        "Look at the motor's brushes",
        "Worn brushes spark and burn the commutator.",
        f"Length by the maker's sheet. {SHOCK}",
    ),
    "prove_trips": DutyWords(
        "Prove the trips",
        "A trip that was never tried may be dead: stop button, bilge sensor, a sender unplugged.",
        "Two people, low pressure. Measure the seconds from the press until all has dropped: 1 s at most.",
    ),
    "prove_pressure_switch": DutyWords(
        "Prove the pressure switch",
        "It stands between a blocked outlet and a burst hose when all software is dead.",
        f"Against a test gauge, by a hand pump or at the regulator: where does it open? {INJECTION}",
    ),
    "prove_time_out_relay": DutyWords(
        "Prove the time-out relay",
        "It takes the pumps' supply away when the computer hangs.",
        "End control while a pump runs at low pressure; measure the seconds until the coils drop. Re-arm by hand.",
    ),
    "prove_diverter": DutyWords(
        "Prove the diverter",
        "Without current the product has to run overboard.",
        "Take its plug off while water is made: water overboard at once, none to the tank. Then the hand override.",
    ),
    "prove_check_valves": DutyWords(
        "Prove the check valves",
        "They keep sea water out of the boat's drinking water.",
        "Tell-tale drain open for ten minutes with the sea side under feed pressure: nothing may come. "
        "Local backflow rules prevail.",
    ),
    "relief_valve": DutyWords(
        "Relief valve tested",
        "It is the last thing between a closed outlet and the weakest part.",
        f"On a test bench or by its supplier: the pressure at which it opens. {INJECTION}",
    ),
    "gauge_against_test_gauge": DutyWords(
        "Gauge against a test gauge",
        "Everything done by hand goes by this gauge.",
        "At working pressure: what the plant's own shows is measured, what the test gauge shows expected.",
    ),
    "by_hand_drill": DutyWords(
        "Drill by hand",
        "The day the computer is dead is a bad day to read the card for the first time.",
        "Plant locked: who is aboard shows with a finger what is turned, in which order, and when it stops.",
    ),
    "tank_turnover": DutyWords(
        "Turn the tank over",
        "Water that stands goes off; nothing here measures germs.",
        "Use it up or let it go, and fill anew. Entered here when the tank was emptied by hand.",
    ),
    "disinfect_tank": DutyWords(
        "Disinfect the tank",
        "Twice a year, and after any doubtful fill.",
        "Unscented household hypochlorite, by tank volume and the label; let it stand, rinse. Gloves, goggles, never "
        "with acid, vinegar or metabisulphite. From the entry on no flush, until a strip reads 0: chlorine destroys "
        "the membrane.",
    ),
    "residual": DutyWords(
        "Read the residual",
        "Dosed water keeps 0.2 to 0.5 mg/L of free chlorine to stay clean.",
        "A strip or meter at a tap. From 0.05 mg/L on this water must not flush the membrane.",
    ),
    "carbon_filter": DutyWords(
        "Change the carbon filter",
        "Spent carbon lets chlorine through and grows germs.",
        "By age or litres, whichever comes first.",
    ),
    "uv_lamp": DutyWords(
        "Change the UV lamp",
        "It still glows when it has stopped disinfecting.",
        "Supply off: UV burns eyes. Wipe the sleeve with the new lamp.",
    ),
    "calcite": DutyWords(
        "Refill the calcite",
        "It gives back hardness, so that the water is gentler to metal.",
        "By litres or age; rinse until clear.",
    ),
    "bare_metal": DutyWords(
        "Look at bare metal in fresh water",
        "Low-mineral water dissolves copper, brass and zinc; what dissolves is drunk.",
        "Fittings, pumps, water heater: green, pitted, weeping? Then calcite, or parts of plastic or stainless steel.",
    ),
    "laboratory": DutyWords(
        "Laboratory sample",
        "Only a laboratory tells germs, boron and metals.",
        "Ask for E. coli, enterococci, colony count, boron, copper, lead. Its own bottle, cool, within its hours.",
    ),
    "preservative": DutyWords(
        "Renew the metabisulphite",
        "It is used up within a month; then the membrane rots.",
        "pH of what stands in the vessel first: below 3.5 it is spent. Gloves, goggles, fresh air; never with "
        "chlorine or acid.",
    ),
}

PART_NAMES: Mapping[str, str] = {
    "coarse_cartridge": "coarse cartridge",
    "fine_cartridge": "fine cartridge",
    "filter_seal": "seal of a filter bowl",
    "oil_fill": "filling of pump oil",
    "motor_brush_pair": "pair of motor brushes",
    "pump_seal_kit": "seal kit of the high-pressure pump",
    "membrane": "membrane",
    "high_pressure_hose": "high-pressure hose",
    "carbon_cartridge": "carbon cartridge",
    "uv_lamp": "UV lamp",
    "calcite_fill": "filling of calcite",
    "chlorine_strip": "chlorine strip",
    "ph_strip": "pH strip",
    "sulphite_strip": "sulphite strip",
    "hypochlorite_dose": "dose of hypochlorite for the tank",
    "metabisulphite_dose": "dose of food-grade sodium metabisulphite",
    "cleaner_lye_dose": "dose of alkaline cleaner",
    "cleaner_acid_dose": "dose of acid cleaner",
    "sample_bottle": "sample bottle of the laboratory",
}

STATE_NAMES: Mapping[str, str] = {
    "overdue": "overdue",
    "due": "due",
    "soon": "soon",
    "done": "done",
    "resting": "resting",
}
BECAUSE: Mapping[str, str] = {
    "test_failed": "the last test did not show what it had to",
    "after_entry": "something on record calls for it",
    "calendar": "by the calendar",
    "pump_hours": "by hours of the pump",
    "litres": "by litres made",
    "not_used": "no water was made since",
    "not_laid_up": "the plant is not laid up",
    "not_begun": "no entry says that it is fitted",
}
NOT_ON_RECORD = "never on record; counted from the beginning of the record"
BASES: Mapping[str, str] = {"computed": "on", "foreseen": "about, as foreseen from use so far,"}


def duty_name(duty: str) -> str:
    """What a duty is called."""
    return DUTY_TEXTS[duty].name if duty in DUTY_TEXTS else duty.replace("_", " ")


def part_name(part: str) -> str:
    """What a spare is called."""
    return PART_NAMES.get(part, part.replace("_", " "))


def duty_due_text(told: Mapping[str, Any]) -> str:
    """When it is due and why: "due on 2027-03-02, by the calendar"."""
    state, because, due = str(told["state"]), str(told["because"]), told["due"]
    why = BECAUSE.get(because, because)
    if because == "test_failed":
        last = told["last"] or {}
        read = f"{quantity(last.get('measured'), '')} for {quantity(last.get('expected'), '')} {told['unit']}".rstrip()
        return f"due now: {why} ({read})"
    if state == "resting":
        return f"resting: {why}"
    if due is None:
        return f"{STATE_NAMES[state]}, {why}"
    begun = "" if told["last"] is not None else f"; {NOT_ON_RECORD}"
    when = "since" if state == "overdue" else BASES[due["basis"]]
    return f"{STATE_NAMES[state]} {when} {date_of(_wall_s(due['at']))}, {why}{begun}"


def duty_last_text(told: Mapping[str, Any]) -> str:
    """When it was last done, by whom, with what reading; empty where never."""
    last = told["last"]
    if last is None:
        return ""
    by = f" by {last['who']}" if last["who"] else ""
    read = "" if last["measured"] is None else f", {quantity(last['measured'], '')} {told['unit']}".rstrip()
    wanted = "" if last["expected"] is None else f" (expected {quantity(last['expected'], '')})"
    return f"last {date_of(_wall_s(last['at']))}{by}{read}{wanted}"


def duties_sentence(said: Mapping[str, Any]) -> str:
    """How many are due, and the first of them."""
    due = [each for each in said["duties"] if each["state"] in ("overdue", "due")]
    if not due:
        return "Nothing is due."
    first, more = duty_name(due[0]["duty"]), len(due) - 1
    return f"Due: {first}." if not more else f"Due: {first}, and {more} more."


def duties_lines(said: Mapping[str, Any]) -> list[str]:
    """The whole list for a terminal, what is due first."""
    lines = [duties_sentence(said)]
    for each in said["duties"]:
        if each["state"] == "resting":
            continue
        lines += [f"{each['name']}: {each['text']}", *([f"    {each['last_text']}"] if each["last_text"] else [])]
    resting = [each["name"] for each in said["duties"] if each["state"] == "resting"]
    if resting:
        lines.append(f"Resting: {'; '.join(resting)}.")
    return lines


def turnover_text(water: Mapping[str, Any]) -> str:
    """How old the water in the tank is."""
    days = water["days_since_turnover"]
    if days is None:
        return "How old the water in the tank is cannot be told yet: less than a tankful is on record."
    return f"The tank was filled anew within the last {quantity(days, '')} days (computed from what was made)."


def chlorine_text(water: Mapping[str, Any]) -> str | None:
    """What chlorine in the fresh water means now; None where none is on record."""
    if water["contact_until"] is not None:
        return f"Disinfecting: let it stand until {date_of(_wall_s(water['contact_until']))}; nobody drinks it."
    if water["flush_blocked_since"] is None:
        return None
    since = date_of(_wall_s(water["flush_blocked_since"]))
    return f"By the record the fresh water may hold chlorine since {since}: no flush until a strip reads 0."


def store_text(told: Mapping[str, Any]) -> str:
    """One part as it stands in the stores."""
    aboard = "never counted" if told["aboard"] is None else f"{quantity(told['aboard'], '')} aboard"
    fitted = told["fitted"]
    since = f", last used {date_of(_wall_s(fitted['at']))}" if fitted else ""
    number = f", {told['number']}" if told["number"] else ""
    return f"{told['name']}: {aboard}, at least {quantity(told['minimum'], '')}{number}{since}"


def buy_text(told: Mapping[str, Any]) -> str:
    """One line of the shopping list."""
    guess = "" if told["counted"] else " (never counted; count first)"
    return f"{quantity(told['buy'], '')} × {told['name']}: {quantity(told['need'], '')} foreseen, keep " + (
        f"{quantity(told['minimum'], '')}{guess}"
    )


def stores_lines(said: Mapping[str, Any]) -> list[str]:
    """Stores and shopping list for a terminal."""
    buy = [f"    {each['text']}" for each in said["shopping"]]
    head = f"For the next harbour, foreseen for {quantity(said['horizon_days'], '')} days:"
    return [*([head, *buy] if buy else ["Nothing has to be bought."]), *(each["text"] for each in said["stores"])]


def _wall_s(at: str) -> float:
    return datetime.fromisoformat(at).timestamp()
