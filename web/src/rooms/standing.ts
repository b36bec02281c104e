/** How the plant stands now: duties, filters and membrane, each with what it is measured against. */

import type { View } from "../age";
import type { Plant, UnitChoice } from "../api";
import { number, withUnit } from "../format";
import type { Row } from "./Rows";

function against(label: string, measured: string, expected: string): Row {
  return [label, measured, `${expected} expected at this pressure and temperature`];
}

function owedFlush(plant: Plant): string {
  return plant.run === null ? "owed: sea water stands in the membrane" : "follows at the end of this run";
}

/** Duties and, while water is made, the membrane against what it should give. */
export function standing(view: View, units: UnitChoice): Row[] {
  const plant = view.plant;
  if (plant === null || view.past) return [];
  const rows: Row[] = [];
  const { owed, derived, readings } = plant;
  if (owed !== null) {
    rows.push(["Flush", owed.flush ? owedFlush(plant) : "not owed"]);
    if (owed.purge !== null) rows.push(["First water", `goes overboard (${owed.purge.named})`]);
  }
  const drop_bar = derived["filter_drop_bar"] ?? null;
  if (plant.outputs["feed_pump"] === true && drop_bar !== null) {
    rows.push(["Drop over the filters", withUnit(drop_bar, "pressure", units)]);
  }
  const flow_l_h = readings["product_flow"]?.value ?? null;
  const expected_l_h = derived["expected_flow_l_h"] ?? null;
  if (flow_l_h !== null && expected_l_h !== null && expected_l_h > 0) {
    const share = number((100 * flow_l_h) / expected_l_h, 0);
    const measured = `${withUnit(flow_l_h, "flow", units)} (${share}\u00a0%)`;
    rows.push(against("Product flow", measured, withUnit(expected_l_h, "flow", units)));
  }
  const salt_mg_l = derived["product_tds_mg_l"] ?? null;
  const expected_mg_l = derived["expected_tds_mg_l"] ?? null;
  if (salt_mg_l !== null && expected_mg_l !== null) {
    rows.push(
      against("Salt in product", withUnit(salt_mg_l, "salt", units), withUnit(expected_mg_l, "salt", units)),
    );
  }
  return rows;
}

const LIMITS: [name: string, label: string, quantity: "salt" | "pressure" | "volume" | "power"][] = [
  ["accept_tds_mg_l", "Tank opens below", "salt"],
  ["reject_tds_mg_l", "Tank closes above", "salt"],
  ["working_pressure_bar", "Working pressure", "pressure"],
  ["vessel_pressure_high_bar", "Membrane pressure, warns above", "pressure"],
  ["vessel_pressure_high_high_bar", "Membrane pressure, stops above", "pressure"],
  ["feed_pressure_low_bar", "Pump inlet, warns below", "pressure"],
  ["feed_pressure_low_low_bar", "Pump inlet, stops below", "pressure"],
  ["flush_l", "A flush takes", "volume"],
  ["wetted_volume_l", "Water in the plant", "volume"],
  ["tank_capacity_l", "Tank holds", "volume"],
  ["pump_power_w", "Pump draws", "power"],
];

/** The settings in force that the page knows, as control told them. */
export function limitsInForce(limits: Record<string, number | null> | null, units: UnitChoice): Row[] {
  return LIMITS.flatMap(([name, label, quantity]): Row[] => {
    const value = limits?.[name] ?? null;
    return value === null ? [] : [[label, withUnit(value, quantity, units)]];
  });
}
