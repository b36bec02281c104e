import type { Schemas } from "../api";
import type { UnitChoice } from "../api";
import { withUnit } from "../format";
import { named } from "../names";
import { usePage } from "../page";
import type { Quantity } from "../units";
import { Rows, type Row } from "./Rows";
import { Told } from "./Told";
import { useRead } from "./useRead";

type InForce = Schemas["CalibrationInForce"];

/** A meter is compared by the litres it counted; pressures are shown as finely as they were set. */
function comparedBy(channel: string): Quantity {
  const { quantity } = named(channel);
  if (quantity === "flow") return "volume";
  return quantity === "high_pressure" ? "pressure" : quantity;
}

function told(one: InForce, units: UnitChoice): string {
  if (one.point.length === 4) {
    const [bar, , flow_l_h, tds_mg_l] = one.point as [number, number, number, number];
    const flow = withUnit(flow_l_h, "flow", units);
    return `${flow} with ${withUnit(tds_mg_l, "salt", units)} at ${withUnit(bar, "high_pressure", units)}`;
  }
  const quantity = comparedBy(one.channel);
  return one.before
    .map((before, at) => `${withUnit(before, quantity, units)} → ${withUnit(one.after[at], quantity, units)}`)
    .join(", ");
}

function row(one: InForce, units: UnitChoice): Row {
  const date = one.date === "" ? "date not known" : one.date;
  return [named(one.channel).label, told(one, units), `${date}, ${one.initials}`];
}

/** What was set right, by whom and when. What is not here reads by the configuration. */
export function Calibrations() {
  const { units } = usePage();
  const said = useRead<Schemas["CalibrationsInForce"]>("/calibrations", 60);
  return (
    <Told said={said}>
      {({ calibrations }) =>
        calibrations.length === 0 ? (
          <p class="nothing">None. Everything reads by the configuration.</p>
        ) : (
          <Rows rows={calibrations.map((one) => row(one, units))} />
        )
      }
    </Told>
  );
}
