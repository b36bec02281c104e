/** From what a person compared, in the units chosen aboard, to the arguments of `calibrate`. */

import type { Arguments } from "../api";

export type Way = "now" | "noted" | "two" | "bucket";

export interface Pair {
  shown: string;
  true: string;
}

export const WAYS: [way: Way, label: string][] = [
  ["now", "What it shows now"],
  ["noted", "One pair noted in a run"],
  ["two", "Two pairs noted"],
];

export function parsed(text: string): number | null {
  const value = Number(text.replace(",", "."));
  return text.trim() === "" || !Number.isFinite(value) ? null : value;
}

/** The arguments, null while something is missing. `own` makes a typed number one in the channel's own unit. */
export function calibration(
  channel: string,
  way: Way,
  pairs: readonly Pair[],
  initials: string,
  own: (typed: number) => number,
): Arguments | null {
  if (initials.trim() === "") return null;
  const count = way === "two" ? 2 : 1;
  const points: (number | null)[][] = [];
  for (const pair of pairs.slice(0, count)) {
    const shown = way === "now" ? null : parsed(pair.shown);
    const truth = parsed(pair.true);
    if (truth === null || (way !== "now" && shown === null)) return null;
    points.push([shown === null ? null : own(shown), own(truth)]);
  }
  return points.length < count ? null : { channel, points, initials: initials.trim() };
}
