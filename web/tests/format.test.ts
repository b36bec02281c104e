import { readdirSync, readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { duration, moment, NOTHING, number, rounded, shown, stamp, withUnit, unbroken } from "../src/format";
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
  expect(moment(new Date(2026, 4, 14, 14, 2, 7).toISOString(), today, true)).toBe("14:02:07");
  expect(moment(null, today)).toBe(NOTHING);
  expect(moment("not a time", today)).toBe(NOTHING);
});

test.each([
  ["UTC", "14 Jan 2026 13:15 UTC", "21 Sep 2026 13:15 UTC"],
  ["Atlantic/Azores", "14 Jan 2026 12:15 UTC-01", "21 Sep 2026 13:15 UTC"],
  ["Asia/Kathmandu", "14 Jan 2026 19:00 UTC+05:45", "21 Sep 2026 19:00 UTC+05:45"],
  ["America/St_Johns", "14 Jan 2026 09:45 UTC-03:30", "21 Sep 2026 10:45 UTC-02:30"],
])("what is printed in %s names the zone", (name, january, september) => {
  const before = process.env["TZ"];
  process.env["TZ"] = name;
  try {
    expect(stamp("2026-01-14T13:15:07Z")).toBe(january);
    expect(stamp("2026-09-21T13:15:07Z")).toBe(september);
    expect(stamp(null)).toBe(NOTHING);
    expect(stamp("not a time")).toBe(NOTHING);
  } finally {
    if (before === undefined) delete process.env["TZ"];
    else process.env["TZ"] = before;
  }
});

test("only one module makes words of times", () => {
  const files = readdirSync("src", { recursive: true, encoding: "utf8" });
  const telling = files.filter(
    (file) =>
      /\.tsx?$/.test(file) &&
      /getHours|toLocale|DateTimeFormat|toTimeString/.test(readFileSync(`src/${file}`, "utf8")),
  );
  expect(telling).toEqual(["format.ts"]);
});

test("a number keeps its unit beside it, and nothing else is glued", () => {
  expect(unbroken("60 bar, 1.2 bar/s, 12 °C, 9 min 30 s, 18 % or 2 things")).toBe(
    "60\u00a0bar, 1.2\u00a0bar/s, 12\u00a0°C, 9\u00a0min 30\u00a0s, 18\u00a0% or 2 things",
  );
  expect(unbroken(null)).toBeNull();
});
