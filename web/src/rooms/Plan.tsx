import "../styles/rooms";
import { useState } from "preact/hooks";
import type { RunRecord, Schemas } from "../api";
import { duration, rounded, withUnit } from "../format";
import { usePage } from "../page";
import { DaysAhead } from "./DaysAhead";
import { madeIn, tankOf } from "./planned";
import { Rows, type Row } from "./Rows";
import { useRead } from "./useRead";

const DAYS = 7;

/** A forecast to the tenth of a litre would only look exact, but for the few litres that are all. */
function toShow(litres: number): number {
  return litres < 10 ? Math.round(litres * 10) / 10 : Math.round(litres);
}

function Tank() {
  const { view, units } = usePage();
  const tank = tankOf(view.plant);
  if (tank === null) {
    return <p class="nothing">How much water is in the tank is not known: no good level reading.</p>;
  }
  const held = rounded(Math.round(tank.level_l), "volume", units);
  const all = rounded(tank.capacity_l, "volume", units);
  return (
    <div class={`tank-now${view.past ? " past" : ""}`}>
      <p>
        <strong>{held}</strong> of {all} in the tank{view.past && ", as last heard"}
      </p>
      <meter min={0} max={tank.capacity_l} value={tank.level_l} aria-label="Water in the tank" />
    </div>
  );
}

function OfferTable({ offers }: { offers: Schemas["PublicOffer"][] }) {
  const { units } = usePage();
  return (
    <table class="offers">
      <caption>What a run takes, flush not counted in the time</caption>
      <thead>
        <tr>
          <th scope="col">Into the tank</th>
          <th scope="col">Time</th>
          <th scope="col">Battery</th>
        </tr>
      </thead>
      <tbody>
        {offers.map(({ need, litres, wanted_l, seconds, energy_wh, ended_by }) => (
          <tr key={need.litres ?? "full"}>
            <th scope="row">
              {need.litres === null && (ended_by === "tank" ? "full: " : "one run: ")}
              {litres === null ? "–" : rounded(toShow(litres), "volume", units)}
              {litres !== null && wanted_l !== null && litres < wanted_l - 0.5 && (
                <small> of {rounded(toShow(wanted_l), "volume", units)}</small>
              )}
            </th>
            <td>{seconds === null ? "–" : duration(seconds)}</td>
            <td>{energy_wh === null ? "–" : withUnit(Math.round(energy_wh / 10) * 10, "energy", units)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** What can be had now, or why nothing can; and what the full tank, or the most of it, comes with. */
function Offers({ plan }: { plan: Schemas["Plan"] }) {
  const last = plan.offers.at(-1);
  return (
    <>
      {plan.reasons.map((reason) => (
        <p key={reason} class="nothing">
          {reason}
        </p>
      ))}
      {plan.offers.length > 0 && <OfferTable offers={plan.offers} />}
      {last !== undefined && (
        <ul class="says">
          {last.says.map((text) => (
            <li key={text}>{text}</li>
          ))}
        </ul>
      )}
      {plan.offers.length > 0 && <p class="hint">{plan.says}</p>}
    </>
  );
}

/** What the figures above come from; a forecast without it is a guess. */
function RestsOn({ plan }: { plan: Schemas["Plan"] }) {
  const { units } = usePage();
  const on = plan.rests_on;
  if (on === null || plan.offers.length === 0) return null;
  const rows: Row[] = [];
  if (typeof on["flow_l_h"] === "number") {
    rows.push(["Flow", withUnit(on["flow_l_h"], "flow", units), "foreseen"]);
  }
  rows.push(
    ["Before the tank opens", duration(plan.offers[0]!.before_s), "foreseen, by the configuration"],
    ["Pump draws", withUnit(Number(on["power_w"]), "power", units), "by the configuration"],
    ["Each flush", rounded(Number(on["flush_l"]), "volume", units), "of fresh water, by the configuration"],
  );
  return (
    <>
      <h3>What it rests on</h3>
      <Rows rows={rows} />
    </>
  );
}

function Made({ runs }: { runs: RunRecord[] }) {
  const { units } = usePage();
  const made = madeIn(DAYS, runs, new Date());
  if (made.runs === 0) return null;
  return (
    <>
      <h3>The last {DAYS} days</h3>
      <Rows
        rows={[
          ["Runs", String(made.runs)],
          ["Into the tank", withUnit(made.litres, "volume", units)],
          ["Energy of the pumps, inferred", withUnit(made.energy_wh, "energy", units)],
        ]}
      />
    </>
  );
}

/** What there is, and what more would take, with what each figure rests on. */
export function Plan() {
  const [turn, setTurn] = useState(0);
  const planned = useRead<Schemas["Plan"]>("/plan", 60, turn);
  const said = useRead<Schemas["Runs"]>("/runs", 60);
  return (
    <section class="paper" aria-label="Plan">
      <h2>Water in the tank</h2>
      <Tank />
      {planned.kind === "loading" && <p class="nothing">Asking the plant…</p>}
      {planned.kind === "failed" && <p class="nothing">{planned.text}</p>}
      {planned.kind === "ready" && <DaysAhead ahead={planned.value.ahead} again={() => setTurn(turn + 1)} />}
      {planned.kind === "ready" && <h2>A run now</h2>}
      {planned.kind === "ready" && <Offers plan={planned.value} />}
      {planned.kind === "ready" && <RestsOn plan={planned.value} />}
      {said.kind === "failed" && <p class="nothing">{said.text}</p>}
      <Made runs={said.kind === "ready" ? said.value.runs : []} />
    </section>
  );
}
