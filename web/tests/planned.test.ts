import { expect, test } from "vitest";
import type { RunRecord } from "../src/api";
import { madeIn, tankOf } from "../src/rooms/planned";
import { fixture } from "./show";

const NOW = new Date("2026-09-21T14:00:00Z");

function run(started: string | null, litres: number | null): RunRecord {
  return { started, litres, energy_wh: litres === null ? null : litres * 24 } as RunRecord;
}

test("the tank is known only by a good level and a configured size", () => {
  const plant = fixture("standby");
  const level = plant.readings["tank_fill"];
  if (level === undefined || plant.limits === null) throw new Error("the fixture has a tank");
  Object.assign(level, { quality: "good", value: 50 });
  plant.limits["tank_capacity_l"] = 300;
  expect(tankOf(plant)).toEqual({ level_l: 150, capacity_l: 300 });
  level.quality = "stuck";
  expect(tankOf(plant)).toBeNull();
  expect(tankOf(null)).toBeNull();
});

test("only dated runs of the last days count; one without litres adds none", () => {
  const runs = [
    run("2026-09-21T10:00:00Z", 40),
    run("2026-09-15T10:00:00Z", null),
    run("2026-09-01T10:00:00Z", 99),
  ];
  expect(madeIn(7, [...runs, run(null, 60)], NOW)).toEqual({ runs: 2, litres: 40, energy_wh: 960 });
});
