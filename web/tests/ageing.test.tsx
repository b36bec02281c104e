import { act } from "preact/test-utils";
import { expect, test } from "vitest";
import type { UnitChoice } from "../src/api";
import { Ageing } from "../src/rooms/Ageing";
import { drawn, type Figure } from "../src/rooms/figures";
import { FindingNotice } from "../src/rooms/Finding";
import { METRIC } from "../src/units";
import { button, fixture, pageOf, press, show, textOf } from "./show";

const AMERICAN: UnitChoice = { pressure: "psi", volume: "gal", temperature: "F", salt: "uS/cm" };

const NO_BAND: Figure["band"] = { at_s: [], estimate: [], low: [], high: [] };

const FLOW: Pick<Figure, "unit" | "threshold" | "band"> = {
  unit: "1",
  threshold: -0.15,
  band: {
    at_s: [0, 86_400, 172_800],
    estimate: [null, -0.05, -0.12],
    low: [null, -0.06, -0.13],
    high: [null, -0.04, -0.11],
  },
};

const SAID = {
  sentence: "The membrane is fouling.",
  figures: [
    {
      name: "Product flow",
      now: "-12.0 % (80 % sure of -13.0 % to -11.0 %)",
      end: "-15.0 % in 30 h (20 to 41)",
      ...FLOW,
    },
    {
      name: "Salt passage",
      now: "not known yet, 4 of the 6 steady runs that are needed",
      end: "",
      unit: "1" as const,
      threshold: 0.3,
      band: NO_BAND,
    },
  ],
  evidence: ["product flow on the reference day fell by 12.0 % (± 0.6)"],
  past_complete: false,
  ask: "a bucket",
  finding: null,
  answer: {},
};

test("the story, every figure with its interval and its end, the evidence and what would tell can be read", () => {
  const text = textOf(show(<Ageing membrane={SAID} note={null} />, pageOf(fixture("standby"))));
  for (const part of [
    SAID.sentence,
    SAID.evidence[0],
    "a bucket",
    ...SAID.figures.flatMap((f) => [f.name, f.now, f.end]),
  ])
    expect(text).toContain(part);
});

test("where nothing can be compared the reason stands there", () => {
  const page = pageOf(fixture("standby"));
  expect(textOf(show(<Ageing membrane={null} note="The settings allow no comparison." />, page))).toContain(
    "no comparison",
  );
});

test("a figure is drawn with its band and the limit in the boat's units, and not before it has a course", () => {
  const flow = drawn({ name: "Product flow", now: "", end: "", ...FLOW }, METRIC)!;
  expect(flow.series).toMatchObject({ unit: "%", t: FLOW.band.at_s, mean: [null, -5, -12] });
  expect(flow.limit?.label).toBe("act at −15 %");
  expect(flow.y![0]).toBeLessThan(-15);
  const drop: Figure = { name: "Drop", now: "", end: "", ...FLOW, unit: "bar", threshold: 0.1 };
  expect(drawn(drop, AMERICAN)!.series.unit).toBe("psi");
  const [only] = [{ ...FLOW.band, estimate: [null, null, -0.12] }];
  expect(drawn({ name: "", now: "", end: "", ...FLOW, band: only }, METRIC)).toBeNull();
});

test("the page says what the points are, and that earlier ones are still to come", () => {
  const text = textOf(show(<Ageing membrane={SAID} note={null} />, pageOf(fixture("standby"))));
  expect(text).toContain("computed from the record as it was then");
  expect(text).toContain("still being computed");
  const settled = { ...SAID, past_complete: true };
  const later = textOf(show(<Ageing membrane={settled} note={null} />, pageOf(fixture("standby"))));
  expect(later).not.toContain("still being computed");
});

const FOUND = { name: "fouling", text: "The membrane is fouling.", confidence: 0.93, aside: null };

test("what is sure can be put aside with a reason, and not without", async () => {
  const given: unknown[] = [];
  const perform = (command: string, args: unknown) => {
    given.push([command, args]);
    return Promise.resolve(true);
  };
  const root = show(<FindingNotice finding={FOUND} />, pageOf(fixture("standby"), 0, { perform }));
  expect(textOf(root)).toContain("The membrane is fouling. 93 % sure.");
  press(button(root, "Put aside…"));
  const submit = button(root, "Put aside");
  expect(submit.disabled).toBe(true);
  const input = root.querySelector("input")!;
  input.value = "cleaning in March";
  act(() => {
    input.dispatchEvent(new Event("input", { bubbles: true }));
  });
  await act(async () => submit.click());
  expect(given).toEqual([["log", { kind: "finding_aside", finding: "fouling", note: "cleaning in March" }]]);
  expect(textOf(root)).toContain("told again when it changes");
});

test("what was put aside says by whom and why, and asks for nothing", () => {
  const aside = { on: "2026-11-03T10:00:00Z", reason: "cleaning in March", who: "Ana" };
  const root = show(<FindingNotice finding={{ ...FOUND, aside }} />, pageOf(fixture("standby")));
  expect(textOf(root)).toContain("by Ana until it changes: cleaning in March");
  expect(root.querySelector("button")).toBeNull();
});
