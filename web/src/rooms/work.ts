/** Work done by hand: what it is called, and when the parts that wear were last seen to. */

import type { Schemas } from "../api";
import { plain } from "../format";

export type WorkDone = Schemas["WorkDone"];
export type Work = Schemas["RecordedWork"];

/** What a person can put on record, with what the note should say. */
export const KINDS: [kind: string, label: string, asks: string][] = [
  ["filter_changed", "Filters changed", "Which ones, and how they looked"],
  ["strainer_cleaned", "Strainer cleaned", "What was in it"],
  ["circuit_opened", "Sea-water circuit opened", "Where, and why"],
  ["element_changed", "Membrane changed", "Serial number"],
  ["cleaned", "Membrane cleaned", "With what, how long, how warm"],
  ["oil_changed", "Pump oil changed", "Which oil"],
  ["hand_meter", "Hand meter compared", "Which meter, and when it was last set right"],
  ["bucket_test", "Bucket filled by the clock", "How the volume is known"],
  ["gauge_read", "Gauge read", "Which gauge"],
  ["sea_salinity", "Salinity of the sea", "Where; of a published figure its source"],
  ["shore_water_taken", "Shore water taken", "Where"],
  ["tank_chlorinated", "Tank chlorinated", "With how much of what"],
  ["chlorine_strip_zero", "Chlorine strip reads 0", "Where the sample was taken"],
  ["note", "Something else", "What was done"],
];

/** On record too, but not from this form. */
const OTHERS: Record<string, string> = {
  purge_confirmed: "First water passed its end test",
  at_the_plant: "A person came to the plant",
  finding_aside: "Finding put aside",
  lay_up: "Laid up",
  recommission: "Recommissioned",
};

const LABELS = new Map(KINDS.map(([kind, label]) => [kind, label]));

export function workLabel(kind: string): string {
  return LABELS.get(kind) ?? OTHERS[kind] ?? plain(kind);
}

const ADDRESS = /^[\d.]+$|:/;

/** Who did it; where nobody gave a name, control was told the address it came from. */
export function signed(who: string | null): string {
  if (who === null) return "name not given";
  return ADDRESS.test(who) ? `name not given, from ${who}` : who;
}

const UPKEEP = ["filter_changed", "strainer_cleaned", "oil_changed", "cleaned", "element_changed"];

/** The newest of each kind of upkeep that is on record; the list comes newest first. */
export function lastUpkeep(work: Work[]): Work[] {
  return UPKEEP.flatMap((kind) => work.find((one) => one.kind === kind) ?? []);
}
