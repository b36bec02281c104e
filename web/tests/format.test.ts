import { expect, test } from "vitest";
import { duration, moment, NOTHING, number, rounded, shown, withUnit, unbroken } from "../src/format";
import { METRIC } from "../src/units";

test("a real minus, and no minus before zero", () => {
  expect(number(-0.42, 2)).toBe("−0.42");
  expect(number(-0.001, 2)).toBe("0.00");
});

test("long numbers are grouped, years and four digits are not", () => {
  expect(number(1466, 0)).toBe("1466");
  expect(number(13612, 0)).toBe("13\u202f612");
});

test.each([
  [12, "12 s"],
  [89, "89 s"],
  [300, "5 min"],
  [3599, "60 min"],
  [3900, "1 h 05 min"],
  [7200, "2 h 00 min"],
  [172_800, "2 d"],
  [187_200, "2 d 4 h"],
])("%d s reads %s", (seconds, text) => {
  expect(duration(seconds)).toBe(text);
});

test("what is not a finite number is a dash, never NaN", () => {
  for (const value of [null, undefined, NaN, Infinity]) {
    expect(shown(value, "pressure", METRIC).text).toBe(NOTHING);
    expect(withUnit(value, "pressure", METRIC)).toBe(NOTHING);
  }
});

test("limits and targets are given in round numbers", () => {
  expect(rounded(60, "high_pressure", METRIC)).toBe("60\u00a0bar");
  expect(rounded(0.3, "pressure", METRIC)).toBe("0.30\u00a0bar");
});

test("today shows the time, other days the date, other years the year", () => {
  const today = new Date(2026, 4, 14, 15, 0);
  expect(moment(new Date(2026, 4, 14, 14, 2).toISOString(), today)).toBe("14:02");
  expect(moment(new Date(2026, 3, 3, 14, 2).toISOString(), today)).toBe("3 Apr 14:02");
  expect(moment(new Date(2025, 3, 3, 14, 2).toISOString(), today)).toBe("3 Apr 2025 14:02");
  expect(moment(null, today)).toBe(NOTHING);
  expect(moment("not a time", today)).toBe(NOTHING);
});

test("a number keeps its unit beside it, and nothing else is glued", () => {
  expect(unbroken("60 bar, 1.2 bar/s, 12 °C, 9 min 30 s, 18 % or 2 things")).toBe(
    "60\u00a0bar, 1.2\u00a0bar/s, 12\u00a0°C, 9\u00a0min 30\u00a0s, 18\u00a0% or 2 things",
  );
  expect(unbroken(null)).toBeNull();
});
