import { act } from "preact/test-utils";
import { expect, test } from "vitest";
import type { UnitChoice } from "../src/api";
import { LogEntry } from "../src/rooms/LogEntry";
import { READINGS, readingOf } from "../src/rooms/readings";
import { KINDS } from "../src/rooms/work";
import { METRIC } from "../src/units";
import { button, fixture, pageOf, press, show, textOf } from "./show";

const AMERICAN: UnitChoice = { pressure: "psi", volume: "gal", temperature: "F", salt: "uS/cm" };

function choose(root: HTMLElement, label: string, value: string): void {
  const field = Array.from(root.querySelectorAll("label")).find((each) => textOf(each).startsWith(label));
  const input = field?.querySelector<HTMLInputElement | HTMLSelectElement>("input, select, textarea");
  if (input === null || input === undefined) throw new Error(`no field ${label}`);
  input.value = value;
  act(() => {
    input.dispatchEvent(new Event(input.tagName === "SELECT" ? "change" : "input", { bubbles: true }));
  });
}

function form(units: UnitChoice = METRIC) {
  const given: unknown[] = [];
  const perform = (command: string, args: unknown) => {
    given.push([command, args]);
    return Promise.resolve(true);
  };
  const root = show(<LogEntry />, pageOf(fixture("producing"), 0, { units, perform }));
  return { root, given };
}

test("every reading can be chosen", () => {
  const kinds = KINDS.map(([kind]) => kind);
  for (const kind of Object.keys(READINGS)) expect(kinds).toContain(kind);
});

test("what was read beside the sensors goes on record as numbers", async () => {
  const { root, given } = form();
  choose(root, "What was done", "bucket_test");
  choose(root, "Product in the bucket (L)", "10");
  choose(root, "It took (s)", "612,5");
  await act(async () => button(root, "Put on record").click());
  expect(given).toEqual([["log", { kind: "bucket_test", litres: 10, seconds: 612.5 }]]);
  expect(root.querySelector("input")!.value).toBe("");
});

test("it is typed in the units chosen aboard", () => {
  const gauge = readingOf("gauge_read", { bar: "797.7" }, "", "", AMERICAN);
  expect(gauge).toMatchObject({ args: { bar: expect.closeTo(55, 2) } });
  const sample = readingOf("hand_meter", { us_cm: "412", sample_c: "70" }, "", "", AMERICAN);
  expect(sample).toMatchObject({ args: { us_cm: 412, sample_c: expect.closeTo(21.1, 1) } });
  const { root } = form(AMERICAN);
  choose(root, "What was done", "gauge_read");
  expect(textOf(root)).toContain("The gauge shows (psi)");
});

test("what is missing or no number is said in words, and nothing is sent", () => {
  const { root, given } = form();
  choose(root, "What was done", "bucket_test");
  choose(root, "It took", "ten");
  press(button(root, "Put on record"));
  expect(textOf(root.querySelector("[role=alert]")!)).toBe(
    "Product in the bucket: give a number, in L. It took: “ten” is not a number.",
  );
  expect(given).toEqual([]);
});

test("a salinity says how it was got, and a published one its source", async () => {
  const { root, given } = form();
  choose(root, "What was done", "sea_salinity");
  choose(root, "Salinity (g/kg)", "38.2");
  choose(root, "How it was got", "published");
  press(button(root, "Put on record"));
  expect(textOf(root)).toContain("say which chart, atlas or data set says so");
  choose(root, "Note", "regional atlas, sheet 4");
  await act(async () => button(root, "Put on record").click());
  expect(given).toEqual([
    ["log", { kind: "sea_salinity", g_kg: 38.2, by: "published", note: "regional atlas, sheet 4" }],
  ]);
});
