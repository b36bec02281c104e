/**
 * The guided tasks, as a table: one step a screen. What is said here is common practice; rating plates, suppliers'
 * sheets, local codes and licensed work prevail. The whole of it stands in the hardware documents. Quantities in braces
 * are shown in the units chosen aboard.
 */

import type { Arguments } from "../api";
import type { ConditionName } from "./conditions";

interface Words {
  title: string;
  text: string;
  /** What can hurt, shown before anything else. */
  caution?: string;
}

export type Step =
  | (Words & { kind: "do" })
  | (Words & { kind: "wait"; until: ConditionName })
  | (Words & { kind: "command"; label: string; command: string; args: Arguments; until?: ConditionName })
  | (Words & { kind: "lock" })
  | (Words & { kind: "log"; entry: string; note: string })
  | (Words & { kind: "bench"; without?: string })
  | (Words & { kind: "sign"; step: string; note: string; feed?: boolean })
  | (Words & { kind: "safety" })
  | (Words & { kind: "outputs"; which: "water_off" | "jog" })
  | (Words & { kind: "preservative" })
  | (Words & { kind: "end_test"; until: ConditionName })
  | (Words & { kind: "calibrate"; of: "sensor" | "membrane" });

export interface Task {
  id: string;
  title: string;
  /** When it is done, and how long it takes. */
  when: string;
  /** How long the place in it is kept, where it takes more than a day. */
  kept_days?: number;
  steps: Step[];
}

const SIXTY_BAR =
  "{60 bar} goes through skin. Never feel for a leak with a hand, tighten nothing under pressure.";
const MAINS =
  "Mains beside salt water kills. Breaker off, and only a licensed electrician opens mains parts.";
/** Dose is concentration times time. From memory of the trade, not from a standard; the supplier's sheet prevails. */
const CHLORINE =
  "Free chlorine destroys the membrane by dose, mg/L times hours: some hundreds up to about 1000 to 2000 before salt passage doubles (common practice), less with rust. A tank dosed with 50 mg/L does it within hours or a day, tap water within weeks.";
const FUMES = "Gloves, goggles, fresh air: the fumes (SO₂) are bad for everybody and dangerous with asthma.";

const NO_PRESSURE: Step = {
  kind: "wait",
  title: "No pressure",
  text: "Open the regulator fully. Wait for 0 on the mechanical gauge; the gauge counts, not this page.",
  caution: SIXTY_BAR,
  until: "no_pressure",
};
const LOCK: Step = {
  kind: "lock",
  title: "Lock the plant",
  text: "While the lock stands nothing starts, flushes or moves, on any face. Then switch the breaker off and shut the seacock.",
  caution: MAINS,
};
const UNLOCK: Step = {
  kind: "command",
  title: "Unlock",
  text: "Everything closed, tools counted, seacock open, breaker on. Then take the lock off.",
  label: "Take the lock off",
  command: "service_unlock",
  args: {},
  until: "unlocked",
};
const AT_REST: Step = {
  kind: "wait",
  title: "At rest",
  text: "Stop the run if there is one, and let it flush.",
  until: "at_rest",
};

export const TASKS: Task[] = [
  {
    id: "filters",
    title: "Change the filters",
    when: "When the page says so, or 14 days after wetting (30 below {25 °C}). Half an hour.",
    steps: [
      AT_REST,
      NO_PRESSURE,
      LOCK,
      {
        kind: "do",
        title: "Change the cartridges",
        text: "Strainer first, then the coarse, then the fine cartridge. Clean the bowls, wet the seals with silicone grease, close by hand.",
      },
      {
        kind: "log",
        title: "Put it on record",
        text: "The next start then primes for three minutes: air was let in.",
        entry: "filter_changed",
        note: "Which cartridges, how dirty",
      },
      UNLOCK,
      {
        kind: "do",
        title: "Bleed",
        text: "At the next start the feed pump runs for three minutes. Watch the brine outlet until the stream is steady and without bubbles, and look at every lid you opened.",
      },
    ],
  },
  {
    id: "sensor",
    title: "Set a sensor right",
    when: "Each year, after a new sensor, or when gauge, hand meter or bucket disagree. Ten minutes each.",
    steps: [
      AT_REST,
      {
        kind: "do",
        title: "A better instrument",
        text: "A sensor is set against something better than itself: a vented line for zero, a test gauge, a fresh solution, ice water, a bucket and a scale. Not against the plant's own gauge: that one is the check on you.",
        caution:
          "Zeros at {0 bar} on the mechanical gauge, pump off, regulator open. Never open a joint under pressure.",
      },
      {
        kind: "calibrate",
        of: "sensor",
        title: "Compare and set",
        text: "What it shows stands beside what you say is true. A sensor that has to move far is broken: that is refused.",
      },
      {
        kind: "do",
        title: "Look again",
        text: "Compare once more. Then the next sensor, or leave it at that.",
      },
    ],
  },
  {
    id: "membrane",
    title: "Take the membrane's baseline",
    when: "A day or two after a new or cleaned element. Forty minutes of making water.",
    steps: [
      {
        kind: "wait",
        title: "Make water",
        text: "Working pressure as always, and then touch nothing for half an hour.",
        until: "making_water",
      },
      {
        kind: "calibrate",
        of: "membrane",
        title: "Take what it does",
        text: "From now on flow and salt are compared with this. Set the sensors right first: a wrong meter would become the measure of everything.",
      },
    ],
  },
  {
    id: "lay_up",
    title: "Lay up with preservative",
    when: "Before 14 idle days (7 above {28 °C}). An hour.",
    steps: [
      AT_REST,
      {
        kind: "command",
        title: "Flush",
        text: "Flush until the brine is nearly fresh: below 2 mS/cm by hand meter. Once more if it is not.",
        label: "Flush",
        command: "flush",
        args: {},
        until: "flushed",
      },
      NO_PRESSURE,
      LOCK,
      {
        kind: "preservative",
        title: "Mix the preservative",
        text: "Food-grade sodium metabisulphite, one percent, in water without chlorine.",
        caution: `${FUMES} Never with chlorine or acid.`,
      },
      {
        kind: "do",
        title: "Into the vessel",
        text: "By-pass the high-pressure pump: it attacks brass and aluminium heads. Fill through the vessel until it comes out at the brine outlet, product open to waste.",
        caution: FUMES,
      },
      {
        kind: "do",
        title: "The rest",
        caution:
          "Never engine antifreeze: it is poisonous, and rinsing does not make the plant fit for drinking water again.",
        text: "Put food-grade propylene glycol into the pump. Drain the filters, close the seacocks. Leave a note at the vessel: date, and what is in vessel and pump.",
      },
      {
        ...UNLOCK,
        text: "Everything closed, tools counted. The breaker stays off, the seacocks stay shut. Take the lock off, and tell the plant at once that it is laid up.",
      },
      {
        kind: "command",
        title: "Tell the plant",
        text: "Laid up it refuses to run, and counts the days until the preservative is due again (30).",
        label: "It is laid up",
        command: "lay_up",
        args: { preservative: "preservative" },
        until: "laid_up",
      },
    ],
  },
  {
    id: "first_water",
    title: "First water after lay-up",
    when: "After preservative, glycol, cleaning or a new element. An hour and a half.",
    steps: [
      {
        kind: "command",
        title: "Out of lay-up",
        text: "The plant may run again. It owes a purge: conductivity does not show preservative.",
        label: "Recommission",
        command: "recommission",
        args: {},
        until: "out_of_lay_up",
      },
      {
        kind: "wait",
        title: "Rinse",
        text: "Start with the regulator open. Below {7 bar} ten wetted volumes go through and overboard.",
        until: "rinsed",
      },
      {
        kind: "wait",
        title: "Purge",
        text: "Raise the pressure when the page asks. All product goes overboard until the time is over.",
        until: "purged",
      },
      {
        kind: "end_test",
        title: "Test and confirm",
        text: "At the plant, in the run, from the end of the overboard hose. What has to be tested depends on what was in the plant. If in doubt, half an hour more.",
        caution: "Nothing here measures germs. Water from a system that stood is not safe by conductivity.",
        until: "nothing_owed",
      },
    ],
  },
  {
    id: "cleaning",
    title: "Clean the membrane",
    when: "When it gives a tenth less than its baseline, or its pressure drop grew by 15 %. Half a day.",
    steps: [
      AT_REST,
      NO_PRESSURE,
      LOCK,
      {
        kind: "do",
        title: "Alkaline first",
        text: "Circulate below {4 bar} with a pump of its own, product to waste: pH 11 at most, {35 °C} at most, 30 to 60 minutes. The supplier's sheet prevails.",
        caution: "The high-pressure pump stays locked out. Goggles and gloves: lye blinds.",
      },
      { kind: "do", title: "Rinse", text: "Fresh water without chlorine until what comes out is neutral." },
      {
        kind: "do",
        title: "Then acid",
        text: "pH 2 at least, 30 to 60 minutes, below {4 bar}. Rinse again.",
        caution: "Acid never meets metabisulphite or chlorine: the gas is poisonous.",
      },
      {
        kind: "log",
        title: "Put it on record",
        text: "The plant then owes a purge of an hour, with a pH strip at its end, and needs a new baseline. Nobody tastes this water.",
        entry: "cleaned",
        note: "What with, how long",
      },
      UNLOCK,
    ],
  },
  {
    id: "flush_water",
    title: "Is the flush water free of chlorine?",
    when: "After shore water or disinfecting the tank. Five minutes.",
    steps: [
      {
        kind: "do",
        title: "Strip",
        text: "A test strip in the water that flushes the membrane: the tank's, or behind the carbon filter.",
        caution: `${CHLORINE} Until a strip reads zero nothing is flushed.`,
      },
      {
        kind: "log",
        title: "It reads zero",
        text: "Below 0.05 mg/L. Only then; otherwise leave this here and change the carbon filter or wait.",
        entry: "chlorine_strip_zero",
        note: "Which strip, where taken",
      },
    ],
  },
  {
    id: "outputs",
    title: "Try the outputs",
    when: "At commissioning and after every repair at wires or relays. A quarter of an hour.",
    steps: [
      AT_REST,
      NO_PRESSURE,
      {
        kind: "bench",
        title: "One after the other",
        text: "The right thing moves, and nothing else does. The high-pressure pump only as a jog of 2 seconds, with feed pressure before.",
        caution: `Two people, one at the breaker. ${SIXTY_BAR}`,
      },
      {
        kind: "do",
        title: "Diverter without current",
        text: "Its plug out: it goes overboard by itself. Halfway, air passes one way or the other at all times.",
      },
      {
        kind: "log",
        title: "Put it on record",
        text: "A test that was not recorded was not done.",
        entry: "note",
        note: "Outputs tried: what moved, what did not",
      },
    ],
  },
  {
    id: "proof",
    title: "Prove the protections",
    when: "Every six months, and after every repair. An hour.",
    steps: [
      AT_REST,
      {
        kind: "do",
        title: "Stop button",
        text: "Press it. All coils drop, the page names it, and only a hand brings the relay back. Acknowledge, reset, re-arm.",
        caution: "Two people. A proof test runs the plant towards its limits.",
      },
      {
        kind: "do",
        title: "Pressure switch",
        text: "Its wire off: all coils drop, the page names it. Wire on, acknowledge, reset, re-arm.",
      },
      {
        kind: "do",
        title: "Bilge sensor",
        text: "Salt water on it: the same.",
        caution: MAINS,
      },
      {
        kind: "do",
        title: "Time-out relay",
        text: "Freeze the control process (the proof-test sheet has the command): the relay opens within a second, its buzzer sounds, and it stays open.",
      },
      {
        kind: "do",
        title: "Check valves",
        text: "Pressure behind each of the two, tell-tale open: not a drop in ten minutes. They keep sea water out of the domestic water.",
      },
      {
        kind: "do",
        title: "By hand",
        text: "Computer off, one litre into a glass, by whoever is aboard alone.",
      },
      {
        kind: "log",
        title: "Put it on record",
        text: "A test that was not recorded was not done. Relief valve and gauge go to a test bench each year.",
        entry: "note",
        note: "Proof tests: what passed, what did not",
      },
    ],
  },
  {
    id: "commissioning",
    title: "Commission the plant",
    when: "A new plant, or one that was rebuilt. Two days with a helper; goes on where it was left, on any phone.",
    kept_days: 30,
    steps: [
      {
        kind: "sign",
        step: "begun",
        title: "Begin",
        text: "Each step is signed and kept in the plant's record. Beginning again sets all steps to open. Have the sheet “Commissioning” of the hardware documents at hand.",
        note: "Why: new, rebuilt, what was changed",
      },
      {
        kind: "safety",
        title: "Safety list",
        text: "Each point is true, or this ends here. “halocline check” has no problem, every pressure stands below the rating plates.",
        caution: `${MAINS} Have the mains side checked before the first start.`,
      },
      {
        kind: "sign",
        step: "chain",
        title: "The chain, pumps' fuses out",
        text: "Stop button, pressure switch, low-suction switch, time-out relay: each drops the relay, each needs a hand to bring it back. Computer off: no coil has current.",
        note: "What was tried, how long the relay took",
      },
      AT_REST,
      {
        kind: "outputs",
        which: "water_off",
        title: "Outputs one by one, water off",
        text: "Try each, then sign it: the right thing moves, and nothing else. Without current the diverter goes overboard by itself.",
        caution: "Two people, one at the breaker. The high-pressure pump stays off here.",
      },
      {
        kind: "calibrate",
        of: "sensor",
        title: "Sensors at rest",
        text: "Pull each plug in turn: that one channel says so, and no other. Then set what is off against a better instrument.",
        caution: "At {0 bar} on the mechanical gauge. Never open a joint under pressure.",
      },
      {
        kind: "sign",
        step: "zeros",
        title: "Zeros",
        text: "Nothing runs, the gauge shows {0 bar}. Control looks at every zero and at every wire that may be in another's place.",
        note: "Which sensors were set",
      },
      {
        kind: "sign",
        step: "low_pressure",
        feed: true,
        title: "Leak check at low pressure",
        text: "Seacocks and regulator open, vessel closed. Run the feed pump, look at every joint with cardboard, on the suction side for bubbles.",
        caution: SIXTY_BAR,
        note: "What was tightened",
      },
      {
        kind: "sign",
        step: "air",
        feed: true,
        title: "Purge of air",
        text: "Go on until the brine outlet gives a steady stream without bubbles. Control counts how long the pump ran with steady pressure.",
        note: "Where the last bubbles came from",
      },
      {
        kind: "sign",
        step: "hoses_at_rest",
        feed: true,
        title: "Hoses told apart, without pressure",
        text: "With the feed pump alone nothing passes a membrane. What runs in the product's hose now is brine: then the two hoses at the vessel are exchanged.",
        caution: "Brine in the tank spoils it, and every run would trip. Exchange hoses only at {0 bar}.",
        note: "Which hose ends where",
      },
      {
        kind: "outputs",
        which: "jog",
        title: "High-pressure pump, as a jog",
        text: "Feed pump first, regulator open. Two seconds: it turns the right way, and the pressure stays below {10 bar}.",
        caution: SIXTY_BAR,
      },
      {
        kind: "log",
        title: "Flush water",
        text: "A test strip in the water that will flush the membrane reads zero. Only then go on.",
        entry: "chlorine_strip_zero",
        note: "Which strip, where taken",
        caution: CHLORINE,
      },
      {
        kind: "command",
        title: "Flush",
        text: "Measure the litres with a bucket at the brine outlet. The tell-tale between the two check valves stays dry.",
        label: "Flush",
        command: "flush",
        args: {},
        until: "flushed",
      },
      {
        kind: "sign",
        step: "flush",
        title: "Flush measured",
        text: "Litres in the bucket against what the page counted, time, and the tell-tale dry.",
        note: "Bucket, page, minutes",
      },
      {
        kind: "wait",
        title: "Raise the pressure",
        text: "Start with the regulator open, raise slowly to {20 bar}, look for leaks with cardboard. Stop, {0 bar}, tighten. Again at {40 bar}, then at working pressure.",
        caution: SIXTY_BAR,
        until: "making_water",
      },
      {
        kind: "sign",
        step: "high_pressure",
        title: "Tight under pressure",
        text: "Dry joints at working pressure, and the mechanical gauge within {3 bar} of the page at each step.",
        note: "Gauge against page at each step",
      },
      {
        kind: "sign",
        step: "hoses",
        title: "Hoses told apart, under pressure",
        text: "What runs through the product's meter is fresh now. Control has to have seen it, with flow and salt readable, while all of it goes overboard.",
        note: "Hand meter, if there is one",
      },
      {
        kind: "sign",
        step: "protections",
        title: "Trips",
        text: "At low pressure: stop button, bilge sensor, pressure switch, a sender unplugged. Each time everything drops, and the page names the first cause.",
        caution: "Two people. A proof test runs the plant towards its limits.",
        note: "What was tried, what was named",
      },
      {
        kind: "sign",
        step: "first_water",
        title: "First water overboard",
        text: "A new element owes a purge and its end test: do the task “First water after lay-up”, then sign here. A laboratory tells germs, nothing here does.",
        note: "End test, hand meter, laboratory",
      },
      {
        kind: "calibrate",
        of: "membrane",
        title: "Baseline over the first clean hours",
        text: "Not before two hours of clean water at working pressure, and nothing touched for half an hour. Flow and salt are compared with this from then on.",
      },
      {
        kind: "sign",
        step: "baseline",
        title: "Baseline taken",
        text: "It stands in Health under “Calibrations in force”. Sensors come first: a wrong meter would become the measure of everything.",
        note: "Hours run, sea temperature, salinity",
      },
      {
        kind: "sign",
        step: "closed",
        title: "Close",
        text: "Print the report and keep it with the boat's papers. What it calls open was not done.",
        note: "What is left open, and until when",
      },
    ],
  },
  {
    id: "settings",
    title: "Change a setting",
    when: "A limit, a sensor's range, the tank's size. Ten minutes at the boat's computer, the plant at rest.",
    steps: [
      AT_REST,
      {
        kind: "do",
        title: "What is in force",
        text: "It stands in Health under “Limits in force”. Write down what you will change and why: limits follow the rating plates, not the wish for more water.",
        caution: "A limit above what a part can bear protects nothing.",
      },
      {
        kind: "do",
        title: "Change the file",
        text: "On the boat's computer, in /etc/halocline/halocline.toml, one key at a time. The reference lists every key with its unit and range. This page changes no limit: a phone in the wrong hands shall not.",
      },
      {
        kind: "do",
        title: "Have it checked",
        text: "Run “halocline check”. It names every key that cannot protect the plant, with the remedy. Go on only when it finds nothing.",
      },
      {
        kind: "wait",
        title: "Start control anew",
        text: "“sudo systemctl restart halocline-control”. Control comes back at rest; if it does not, this page says which key is wrong.",
        until: "at_rest",
      },
      {
        kind: "log",
        title: "Look, and put it on record",
        text: "“Limits in force” shows the new value. What was changed, from what, to what, and why.",
        entry: "note",
        note: "Setting changed: which, from, to, why",
      },
    ],
  },
];

export function taskNamed(id: string | undefined): Task | null {
  return TASKS.find((task) => task.id === id) ?? null;
}
