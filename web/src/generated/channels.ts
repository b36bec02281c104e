// Made by make docs. Do not edit.

export const SENSORS = {
  "vessel_pressure": {
    "label": "Membrane pressure",
    "quantity": "high_pressure"
  },
  "feed_pressure": {
    "label": "Pump inlet pressure",
    "quantity": "pressure"
  },
  "product_conductivity": {
    "label": "Product conductivity",
    "quantity": "conductivity"
  },
  "sea_temperature": {
    "label": "Sea temperature",
    "quantity": "temperature"
  },
  "product_flow": {
    "label": "Product flow",
    "quantity": "flow"
  },
  "filter_inlet_pressure": {
    "label": "Pressure before the filters",
    "quantity": "pressure"
  },
  "brine_pressure": {
    "label": "Brine pressure",
    "quantity": "high_pressure"
  },
  "brine_flow": {
    "label": "Brine flow",
    "quantity": "flow"
  },
  "flush_flow": {
    "label": "Flush flow",
    "quantity": "flow"
  },
  "product_pressure": {
    "label": "Product pressure",
    "quantity": "pressure"
  },
  "battery_voltage": {
    "label": "Battery voltage",
    "quantity": "voltage"
  },
  "battery_current": {
    "label": "Battery current",
    "quantity": "current"
  },
  "battery_charge_percent": {
    "label": "Battery charge",
    "quantity": "percent"
  },
  "motor_current": {
    "label": "Motor current",
    "quantity": "current"
  },
  "pump_motor_temperature": {
    "label": "Motor temperature",
    "quantity": "temperature"
  },
  "tank_fill": {
    "label": "Tank level",
    "quantity": "percent"
  }
} as const;
