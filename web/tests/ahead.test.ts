import { expect, it } from "vitest";
import {
  across,
  BATTERY,
  between,
  height,
  HEIGHT,
  line,
  marks,
  sunlight,
  TANK,
  WIDTH,
} from "../src/rooms/ahead";

const FROM = "2026-07-01T06:00:00Z";
const TO = "2026-07-03T06:00:00Z";

it("puts a moment on the axis by its part of the time, and holds it within", () => {
  expect(across("2026-07-02T06:00:00Z", FROM, TO)).toBe(WIDTH / 2);
  expect(across("2026-06-30T06:00:00Z", FROM, TO)).toBe(0);
  expect(across("2026-07-09T06:00:00Z", FROM, TO)).toBe(WIDTH);
});

it("draws a full tank at the top of its band and an empty one at the bottom", () => {
  expect(height(300, 300, TANK)).toBe(TANK.top);
  expect(height(-20, 300, TANK)).toBe(TANK.top + TANK.height);
  expect(BATTERY.top + BATTERY.height).toBeLessThan(HEIGHT);
});

it("begins each course with what is now", () => {
  expect(line(150, [300, 0], 300, TANK)).toBe(
    `M0.0 ${(TANK.top + TANK.height / 2).toFixed(1)}L164.0 ${TANK.top.toFixed(1)}L328.0 ${(TANK.top + TANK.height).toFixed(1)}`,
  );
  expect(between(150, [300], [0], 300, TANK).endsWith("Z")).toBe(true);
});

it("ends the sun where the forecast ends", () => {
  expect(sunlight([100, 200], 4)).toContain(`L${(WIDTH / 2).toFixed(1)} `);
  expect(sunlight([], 4)).not.toContain("NaN");
});

it("marks noons and the days that begin", () => {
  const found = marks(FROM, TO);
  expect(found.length).toBe(4);
  expect(found.map(({ label }) => label).filter((label) => label !== "12").length).toBe(2);
});
