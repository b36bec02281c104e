import type { Schemas } from "../api";
import { number, plain } from "../format";
import { CHANNELS } from "../names";
import { useRead } from "./useRead";

type InForce = Schemas["CalibrationInForce"];

function told(one: InForce): string {
  if (one.point.length === 4) {
    const [bar, , flow_l_h, tds_mg_l] = one.point as [number, number, number, number];
    return `${number(flow_l_h, 1)} L/h with ${number(tds_mg_l, 0)} mg/L at ${number(bar, 1)} bar`;
  }
  return one.before.map((before, at) => `${number(before, 2)} → ${number(one.after[at] ?? 0, 2)}`).join(", ");
}

/** What was set right, by whom and when. What is not here reads by the configuration. */
export function Calibrations() {
  const said = useRead<Schemas["CalibrationsInForce"]>("/calibrations", 60);
  if (said.kind === "loading") return <p class="nothing">Reading…</p>;
  if (said.kind === "failed") return <p class="nothing">{said.text}</p>;
  if (said.value.calibrations.length === 0) {
    return <p class="nothing">None. Everything reads by the configuration.</p>;
  }
  return (
    <dl class="facts">
      {said.value.calibrations.map((one) => (
        <div key={one.channel} class="fact">
          <dt>{CHANNELS[one.channel]?.label ?? plain(one.channel)}</dt>
          <dd>
            {told(one)}
            <small>
              {" "}
              {one.date === "" ? "date not known" : one.date}, {one.initials}
            </small>
          </dd>
        </div>
      ))}
    </dl>
  );
}
