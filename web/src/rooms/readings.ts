/** What a person reads beside the sensors, as a log entry carries it: typed in the units chosen aboard. */

import type { Arguments, Schemas, UnitChoice } from "../api";
import { measure, typedIn, type Quantity } from "../units";

type Named = Exclude<keyof Schemas["Log"], "kind">;

interface Asked {
  name: Named;
  /** Of an input, and of what is wrong with it. */
  label: string;
  quantity: Exclude<Quantity, "salt"> | "g/kg" | "s";
  needed: boolean;
}

interface Reading {
  asks: Asked[];
  /** How it was got, where that has to be told. */
  ways?: [way: string, label: string][];
  /** The way that needs a note, and what the note has to say. */
  source?: { way: string; says: string };
  how: string;
}

export const READINGS: Record<string, Reading> = {
  hand_meter: {
    asks: [
      { name: "us_cm", label: "It shows", quantity: "conductivity", needed: false },
      {
        name: "sample_c",
        label: "Sample, if the meter does not correct for it",
        quantity: "temperature",
        needed: false,
      },
    ],
    how: "Of the product, while water is made.",
  },
  bucket_test: {
    asks: [
      { name: "litres", label: "Product in the bucket", quantity: "volume", needed: true },
      { name: "seconds", label: "It took", quantity: "s", needed: true },
    ],
    how: "While water is made, with a bucket whose volume is known.",
  },
  gauge_read: {
    asks: [{ name: "bar", label: "The gauge shows", quantity: "high_pressure", needed: true }],
    how: "The mechanical gauge, while water is made.",
  },
  sea_salinity: {
    asks: [{ name: "g_kg", label: "Salinity", quantity: "g/kg", needed: true }],
    ways: [
      ["refractometer", "Refractometer"],
      ["hydrometer", "Hydrometer"],
      ["published", "Published for the region"],
    ],
    source: { way: "published", says: "which chart, atlas or data set says so" },
    how: "Of the sea that the plant takes in. Parts per thousand are nearly the same.",
  },
};

const OWN_UNIT = new Set(["g/kg", "s"]);

export function unitOf({ quantity }: Asked, units: UnitChoice): string {
  return OWN_UNIT.has(quantity) ? quantity : measure(0, quantity as Quantity, units).unit;
}

/** What was typed as the interface has it, or in words what is missing or cannot be. */
export function readingOf(
  kind: string,
  typed: Record<string, string>,
  way: string,
  note: string,
  units: UnitChoice,
): { args: Arguments } | { wrong: string[] } {
  const reading = READINGS[kind];
  if (reading === undefined) return { args: {} };
  const args: Arguments = {};
  const wrong: string[] = [];
  for (const asked of reading.asks) {
    const text = (typed[asked.name] ?? "").trim();
    if (text === "" && !asked.needed) continue;
    const value = Number(text.replace(",", "."));
    const own = OWN_UNIT.has(asked.quantity)
      ? value
      : typedIn(value, asked.quantity as Exclude<Quantity, "salt">, units);
    if (text === "") wrong.push(`${asked.label}: give a number, in ${unitOf(asked, units)}.`);
    else if (!Number.isFinite(own)) wrong.push(`${asked.label}: “${text}” is not a number.`);
    else if (own <= 0) wrong.push(`${asked.label}: it has to be more than this.`);
    else args[asked.name] = own;
  }
  if (reading.ways !== undefined) args["by"] = way;
  if (reading.source?.way === way && note.trim() === "") wrong.push(`Note: say ${reading.source.says}.`);
  if (wrong.length === 0 && Object.keys(args).length === 0 && note.trim() === "")
    wrong.push("Give what it shows, or tell of it in the note.");
  return wrong.length > 0 ? { wrong } : { args };
}
