import { expect, test } from "vitest";
import { conductivityOfSalt, measure, METRIC, typedIn } from "../src/units";
import type { UnitChoice } from "../src/api";

const AMERICAN: UnitChoice = { pressure: "psi", volume: "gal", temperature: "F", salt: "uS/cm" };

test("metric units pass values through", () => {
  expect(measure(55.1, "high_pressure", METRIC)).toEqual({ value: 55.1, unit: "bar", decimals: 1 });
  expect(measure(58, "flow", METRIC).unit).toBe("L/h");
});

test("1 bar is 14.5038 psi (1e5 Pa over 6894.757 Pa)", () => {
  expect(measure(1, "pressure", AMERICAN).value).toBeCloseTo(14.5038, 4);
});

test("a US gallon is 3.785412 L (231 cubic inches)", () => {
  expect(measure(3.785412, "volume", AMERICAN).value).toBeCloseTo(1, 9);
  expect(typedIn(1, "volume", AMERICAN)).toBeCloseTo(3.785412, 9);
  expect(typedIn(7, "volume", METRIC)).toBe(7);
});

test("what is shown and typed again is the value it was, in every unit that is typed", () => {
  for (const units of [METRIC, AMERICAN]) {
    for (const quantity of [
      "pressure",
      "flow",
      "volume",
      "temperature",
      "conductivity",
      "percent",
      "fraction",
    ] as const) {
      for (const value of [-1.5, 0, 0.37, 60]) {
        expect(typedIn(measure(value, quantity, units).value, quantity, units)).toBeCloseTo(value, 9);
      }
    }
  }
  expect(typedIn(77, "temperature", AMERICAN)).toBeCloseTo(25, 9);
});

test("25 °C is 77 °F, in whole degrees", () => {
  expect(measure(25, "temperature", AMERICAN)).toEqual({ value: 77, unit: "°F", decimals: 0 });
});

test("0.01 mol/L sodium chloride conducts 1185 µS/cm at 25 °C (118.5 S·cm²/mol, Robinson and Stokes)", () => {
  expect(conductivityOfSalt(584.43)).toBeGreaterThan(1185 * 0.997);
  expect(conductivityOfSalt(584.43)).toBeLessThan(1185 * 1.003);
});

test("salt below zero conducts nothing instead of breaking the page", () => {
  expect(measure(-3, "salt", AMERICAN).value).toBe(0);
});

test("low pressures show hundredths, high ones tenths", () => {
  expect(measure(0.423, "pressure", METRIC).decimals).toBe(2);
  expect(measure(12, "pressure", METRIC).decimals).toBe(1);
});

test("a share becomes per cent", () => {
  expect(measure(0.25, "fraction", METRIC)).toMatchObject({ value: 25, unit: "%" });
});

test("energy for a volume follows the volume's unit", () => {
  expect(measure(10, "specific_energy", AMERICAN)).toMatchObject({ unit: "Wh/gal" });
  expect(measure(10, "specific_energy", AMERICAN).value).toBeCloseTo(37.85, 2);
});
