import { expect, test } from "vitest";
import type { History } from "../src/api";
import { bandsOf, csv, markNear, marksOf, summary, toSeries, workMarks } from "../src/trends/history";
import { failureWords } from "../src/rooms/useRead";
import { liveRange, picked, refresh_s, shifted, spanOf, yRange } from "../src/trends/range";
import { pinched } from "../src/trends/touch";
import { ReadError } from "../src/api";
import { METRIC } from "../src/units";

const HISTORY: History = {
  channel: "vessel_pressure",
  unit: "bar",
  from: 100,
  to: 120,
  bucket_s: 10,
  time: [100, 110, 120],
  min: [54, null, 54.5],
  mean: [55, null, 55.5],
  max: [56, null, 57],
};
const EMPTY: History = { ...HISTORY, time: [], min: [], mean: [], max: [] };

test("going back leaves the present, going forward far enough returns to it", () => {
  const back = shifted(liveRange(600, 10_000), -0.5, 10_000);
  expect(back).toEqual({ from_s: 9100, to_s: 9700, live: false });
  expect(shifted(back, 0.5, 10_000)).toEqual({ from_s: 9400, to_s: 10_000, live: true });
});

test("a picked stretch is never shorter than a minute nor in the future", () => {
  expect(spanOf(picked(5000, 5001, 10_000))).toBe(60);
  expect(picked(9_900, 10_400, 10_000)).toEqual({ from_s: 9_500, to_s: 10_000, live: true });
});

test("short spans are fetched often, long ones seldom", () => {
  expect(refresh_s(600)).toBe(3);
  expect(refresh_s(86_400)).toBe(288);
  expect(refresh_s(157_788_000)).toBe(300);
});

test("history is converted and keeps its gaps", () => {
  const psi = toSeries(HISTORY, { ...METRIC, pressure: "psi" });
  expect(psi.unit).toBe("psi");
  expect(psi.mean[0]).toBeCloseTo(797.7, 1);
  expect(psi.mean[1]).toBeNull();
});

test("the chart in words: least, most, latest", () => {
  expect(summary(toSeries(HISTORY, METRIC), 55.5)).toBe("54.00 to 57.00, now 55.50 bar");
  expect(summary(toSeries(HISTORY, METRIC), null)).toBe("54.00 to 57.00 bar");
  expect(summary(toSeries(EMPTY, METRIC), 55.5)).toBe("nothing recorded in this stretch");
});

test("the download holds channel, unit, UTC time and values, empty where nothing was recorded", () => {
  expect(
    csv([toSeries(HISTORY, METRIC)])
      .split("\n")
      .slice(0, 3),
  ).toEqual([
    "channel,unit,time_utc,min,mean,max",
    "vessel_pressure,bar,1970-01-01T00:01:40.000Z,54,55,56",
    "vessel_pressure,bar,1970-01-01T00:01:50.000Z,,,",
  ]);
});

test("runs become bands, one still going ends now, one without a time is left out", () => {
  expect(
    bandsOf(
      [
        { started: "1970-01-01T00:01:40Z", ended: "1970-01-01T00:02:00Z" },
        { started: "1970-01-01T00:03:00Z", ended: null },
        { started: null, ended: null },
      ],
      900,
    ),
  ).toEqual([
    { from_s: 100, to_s: 120 },
    { from_s: 180, to_s: 900 },
  ]);
});

test("alarms become marks where they were raised, not where they went on; what only went into the log does not", () => {
  const step = { name: "pump inlet pressure too low", priority: "high" } as const;
  const marks = marksOf([
    { ...step, time: "1970-01-01T00:03:00Z", to: "acknowledged" },
    { ...step, time: "1970-01-01T00:02:00Z", to: "unacknowledged" },
    { ...step, time: "1970-01-01T00:01:00Z", to: "unacknowledged", priority: "low" },
    { ...step, time: "1970-01-01T00:01:30Z", to: "unacknowledged", priority: "log" },
    { ...step, time: null, to: "unacknowledged" },
  ]);
  expect(marks).toEqual([
    { at_s: 60, text: step.name, by: "slight" },
    { at_s: 120, text: step.name, by: "grave" },
  ]);
  expect(markNear(marks, 100, 30)?.at_s).toBe(120);
  expect(markNear(marks, 95, 10)).toBeNull();
});

test("work done by hand is a mark of its own, at the moment it was put on record", () => {
  const work = [
    { kind: "filter_changed", time: "1970-01-01T00:02:00Z" },
    { kind: "note", time: null },
  ];
  expect(workMarks(work)).toEqual([{ at_s: 120, text: "Filters changed", by: "hand" }]);
});

test("fingers keep the seconds under them while they spread", () => {
  const [from, to] = pinched({ left_s: 100, right_s: 200 }, 50, 250, 300);
  expect(from).toBe(75);
  expect(to).toBe(225);
});

test("noise is not blown up to fill the chart", () => {
  const [low, high] = yRange(55, 55.01, undefined);
  expect(high - low).toBeGreaterThan(2.5);
  expect(yRange(null, null, 500)).toEqual([0, 500]);
});

test("a record that cannot be read says which way", () => {
  expect(failureWords(new ReadError(503, "The record is on a full card."))).toBe(
    "The record is on a full card.",
  );
  expect(failureWords(new ReadError(404))).toBe("The boat's computer does not keep this.");
  expect(failureWords(new ReadError(503))).toContain("plant is not affected");
  expect(failureWords(new ReadError(null))).toBe("The boat's computer does not answer.");
  expect(failureWords(new Error("x"))).toBe("The record could not be understood.");
});
