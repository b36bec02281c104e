/** From the interface's units to the ones chosen aboard. */

import type { UnitChoice } from "./api";

export type Quantity =
  | "pressure"
  | "high_pressure"
  | "flow"
  | "volume"
  | "stock"
  | "temperature"
  | "salt"
  | "conductivity"
  | "voltage"
  | "current"
  | "power"
  | "energy"
  | "specific_energy"
  | "pressure_rate"
  | "percent"
  | "fraction"
  | "plain";

export const METRIC: UnitChoice = { pressure: "bar", volume: "L", temperature: "C", salt: "mg/L" };

const PSI_PER_BAR = 14.503774; // 1 bar = 1e5 Pa, 1 psi = 6894.757 Pa
const LITRES_PER_GALLON = 3.785412; // US liquid gallon, 231 cubic inches
const NACL_G_MOL = 58.443;

/** µS/cm at 25 °C of that much sodium chloride (Onsager's law in Falkenhagen's form, ion size 4 Å). */
export function conductivityOfSalt(tds_mg_l: number): number {
  const mol_l = Math.max(tds_mg_l, 0) / 1000 / NACL_G_MOL;
  const root = Math.sqrt(mol_l);
  return 1000 * mol_l * (126.45 - (89.14 * root) / (1 + 1.3144 * root));
}

export interface Measure {
  value: number;
  unit: string;
  decimals: number;
}

function decimals(value: number, steps: [below: number, decimals: number][], otherwise: number): number {
  const size = Math.abs(value);
  for (const [below, digits] of steps) if (size < below) return digits;
  return otherwise;
}

function pressure(bar: number, units: UnitChoice): Measure {
  if (units.pressure === "bar") return { value: bar, unit: "bar", decimals: decimals(bar, [[4.995, 2]], 1) };
  const psi = bar * PSI_PER_BAR;
  return { value: psi, unit: "psi", decimals: decimals(psi, [[49.95, 1]], 0) };
}

function volume(litres: number, units: UnitChoice): Measure {
  if (units.volume === "L") return { value: litres, unit: "L", decimals: decimals(litres, [[99.95, 1]], 0) };
  const gallons = litres / LITRES_PER_GALLON;
  return { value: gallons, unit: "gal", decimals: decimals(gallons, [[99.95, 1]], 0) };
}

function flow(l_h: number, units: UnitChoice): Measure {
  if (units.volume === "L")
    return {
      value: l_h,
      unit: "L/h",
      decimals: decimals(
        l_h,
        [
          [0.05, 0],
          [9.95, 1],
        ],
        0,
      ),
    };
  const gal_h = l_h / LITRES_PER_GALLON;
  return { value: gal_h, unit: "gal/h", decimals: decimals(gal_h, [[99.95, 1]], 0) };
}

function temperature(c: number, units: UnitChoice): Measure {
  if (units.temperature === "C") return { value: c, unit: "°C", decimals: 1 };
  return { value: c * 1.8 + 32, unit: "°F", decimals: 0 };
}

function salt(mg_l: number, units: UnitChoice): Measure {
  if (units.salt === "mg/L") return { value: mg_l, unit: "mg/L", decimals: 0 };
  return { value: conductivityOfSalt(mg_l), unit: "µS/cm", decimals: 0 };
}

const FIXED: Partial<Record<Quantity, { unit: string; decimals: number; factor?: number }>> = {
  conductivity: { unit: "µS/cm", decimals: 0 },
  voltage: { unit: "V", decimals: 1 },
  current: { unit: "A", decimals: 1 },
  power: { unit: "W", decimals: 0 },
  energy: { unit: "Wh", decimals: 0 },
  percent: { unit: "%", decimals: 0 },
  fraction: { unit: "%", decimals: 1, factor: 100 },
};

/** A value of the interface as people aboard want it. */
export function measure(value: number, quantity: Quantity, units: UnitChoice): Measure {
  switch (quantity) {
    case "pressure":
      return pressure(value, units);
    case "high_pressure":
      return { ...pressure(value, units), decimals: units.pressure === "bar" ? 1 : 0 };
    case "pressure_rate": {
      const each = pressure(value, units);
      return { ...each, unit: `${each.unit}/s`, decimals: 2 };
    }
    case "volume":
      return volume(value, units);
    // No level sensor knows a tank to less than a litre.
    case "stock":
      return { ...volume(value, units), decimals: 0 };
    case "flow":
      return flow(value, units);
    case "temperature":
      return temperature(value, units);
    case "salt":
      return salt(value, units);
    case "specific_energy": {
      const wh = units.volume === "L" ? value : value * LITRES_PER_GALLON;
      return { value: wh, unit: `Wh/${units.volume}`, decimals: 1 };
    }
    default: {
      const fixed = FIXED[quantity];
      if (fixed === undefined) return { value, unit: "", decimals: decimals(value, [[10, 2]], 0) };
      return { value: value * (fixed.factor ?? 1), unit: fixed.unit, decimals: fixed.decimals };
    }
  }
}

/** A number typed in the unit chosen aboard, in the interface's own. Salt is not typed: its scale is no straight line. */
export function typedIn(typed: number, quantity: Exclude<Quantity, "salt">, units: UnitChoice): number {
  const zero = measure(0, quantity, units).value;
  const step = measure(1, quantity, units).value - zero;
  return (typed - zero) / step;
}
