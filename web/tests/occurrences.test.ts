import { expect, test } from "vitest";
import type { AlarmStep } from "../src/api";
import { occurrences } from "../src/rooms/occurrences";

/** Newest first, as the record tells it; invented. */
function journal(...steps: [id: string, to: AlarmStep["to"]][]): AlarmStep[] {
  return steps
    .map(([id, to], seq) => ({
      id,
      to,
      seq,
      boot: "b",
      time: null,
      name: id,
      means: "",
      values: {},
      mono_s: seq,
    }))
    .map((step) => ({ ...step, priority: "high" as const }))
    .reverse();
}

function told(steps: AlarmStep[]): string[] {
  return occurrences(steps).map(({ steps }) => `${steps[0].id}: ${steps.map(({ to }) => to).join(", ")}`);
}

test("an alarm that came, was acknowledged and went is one, beside another that came meanwhile", () => {
  expect(
    told(
      journal(
        ["feed", "unacknowledged"],
        ["bilge", "unacknowledged"],
        ["feed", "acknowledged"],
        ["feed", "normal"],
      ),
    ),
  ).toEqual(["bilge: unacknowledged", "feed: unacknowledged, acknowledged, normal"]);
});

test("the same alarm is another one only after it was over", () => {
  expect(
    told(
      journal(
        ["feed", "unacknowledged"],
        ["feed", "returned-unacknowledged"],
        ["feed", "unacknowledged"],
        ["feed", "acknowledged"],
        ["feed", "normal"],
        ["feed", "unacknowledged"],
      ),
    ),
  ).toEqual([
    "feed: unacknowledged",
    "feed: unacknowledged, returned-unacknowledged, unacknowledged, acknowledged, normal",
  ]);
});

test("no step is lost or told twice", () => {
  const steps = journal(["a", "normal"], ["b", "acknowledged"], ["a", "unacknowledged"], ["b", "normal"]);
  const all = occurrences(steps).flatMap((each) => each.steps.map(({ seq }) => seq));
  expect(all.sort()).toEqual([0, 1, 2, 3]);
});
