/** What a step can wait for: read from the live snapshot, never assumed. `null` means that it is not known now. */

import type { Plant, UnitChoice } from "../api";
import { rounded, withUnit } from "../format";

export interface Seen {
  met: boolean | null;
  /** What is seen now, in words. */
  text: string;
}

export type Condition = (plant: Plant, units: UnitChoice) => Seen;

function pressure_bar(plant: Plant): number | null {
  const reading = plant.readings?.["vessel_pressure"];
  return reading === undefined || reading.quality !== "good" ? null : reading.value;
}

const AT_REST = new Set(["standby", "tripped", "laid_up"]);
/** Lower than where the daemon calls the pressure gone: here a hand opens the circuit, and 1 bar is what a sender may show of nothing. */
const OPENS_BELOW_BAR = 1;

function inState(states: ReadonlySet<string>, yes: string, no: string): Condition {
  return ({ state }) => ({
    met: state === null ? null : states.has(state),
    text: state !== null && states.has(state) ? yes : no,
  });
}

export const CONDITIONS = {
  at_rest: inState(AT_REST, "The plant is at rest.", "The plant is not at rest yet."),
  standby: inState(new Set(["standby"]), "The plant is at rest and ready.", "The plant is not in standby."),
  laid_up: inState(new Set(["laid_up"]), "The plant is laid up.", "The plant is not laid up yet."),
  out_of_lay_up: inState(
    new Set(["standby", "priming", "pressurising", "diverting", "producing", "stopping", "flushing"]),
    "The plant is out of lay-up.",
    "The plant is still laid up.",
  ),
  making_water: inState(
    new Set(["diverting", "producing"]),
    "Water is being made.",
    "No water is being made yet: start a run.",
  ),
  no_pressure: (plant, units) => {
    const bar = pressure_bar(plant);
    if (bar === null)
      return { met: null, text: "The membrane pressure is not known. Trust the gauge alone." };
    return {
      met: bar < OPENS_BELOW_BAR,
      text: `Membrane pressure: ${withUnit(bar, "high_pressure", units)}.`,
    };
  },
  locked: ({ locked }) => ({
    met: locked != null,
    text: locked == null ? "No service lock stands." : `Locked by ${locked.name}: ${locked.reason}.`,
  }),
  unlocked: ({ locked }) => ({
    met: locked == null,
    text: locked == null ? "The service lock is off." : `Still locked by ${locked.name}.`,
  }),
  flushed: ({ owed }) => ({
    met: owed == null ? null : !owed.flush,
    text: owed?.flush === false ? "The membrane is flushed." : "A flush is still owed.",
  }),
  rinsed: ({ owed }, units) => {
    if (owed == null) return { met: null, text: "What is owed is not known." };
    const purge = owed.purge;
    if (purge == null) return { met: true, text: "No purge is owed." };
    const left_l = Math.max(0, (purge.rinse_l ?? 0) - (purge.rinsed_l ?? 0));
    return {
      met: left_l <= 0,
      text:
        left_l <= 0 ? "Rinsed." : `${rounded(Math.ceil(left_l), "volume", units)} are still to be rinsed.`,
    };
  },
  purged: ({ owed }) => {
    if (owed == null) return { met: null, text: "What is owed is not known." };
    const purge = owed.purge;
    if (purge == null) return { met: true, text: "No purge is owed." };
    const minutes = Math.ceil((purge.left_s ?? 0) / 60);
    return {
      met: (purge.left_s ?? 0) <= 0,
      text: minutes <= 0 ? "The purge is over." : `${minutes} min of product are still to go overboard.`,
    };
  },
  nothing_owed: ({ owed }) => ({
    met: owed == null ? null : owed.purge == null,
    text: owed?.purge == null ? "No purge is owed." : "The purge is not confirmed yet.",
  }),
} satisfies Record<string, Condition>;

export type ConditionName = keyof typeof CONDITIONS;

/** What is seen of a condition; old news proves nothing. */
export function look(name: ConditionName, plant: Plant | null, past: boolean, units: UnitChoice): Seen {
  if (plant === null || past) return { met: null, text: "Nothing is heard from the plant now." };
  return (CONDITIONS[name] as Condition)(plant, units);
}
