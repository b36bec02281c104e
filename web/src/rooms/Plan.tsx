import type { RunRecord, Schemas } from "../api";
import { duration, moment, rounded, withUnit } from "../format";
import { NO_FORECAST, factsOf, tellingRun } from "../need";
import { usePage } from "../page";
import { flowRestsOn, madeIn, offers, tankOf } from "./planned";
import { Rows, type Row } from "./Rows";
import { useRead } from "./useRead";

const DAYS = 7;

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

function Offers({ run }: { run: RunRecord | null }) {
  const { view, units } = usePage();
  const facts = factsOf(view.plant, run);
  if (facts.flow_l_h === null) {
    return <p class="nothing">{NO_FORECAST}</p>;
  }
  const made = offers(facts, new Date());
  if (made.length === 0) return <p class="nothing">The tank has no room for more.</p>;
  return (
    <table class="offers">
      <caption>What an amount takes, flush not counted in the time</caption>
      <thead>
        <tr>
          <th scope="col">Into the tank</th>
          <th scope="col">Time</th>
          <th scope="col">Battery</th>
        </tr>
      </thead>
      <tbody>
        {made.map(({ need, cost }) => (
          <tr key={need.kind === "litres" ? need.litres : need.kind}>
            <th scope="row">
              {need.kind === "full" && "full: "}
              {cost.litres === null ? "–" : rounded(Math.round(cost.litres), "volume", units)}
            </th>
            <td>{cost.seconds === null ? "–" : duration(cost.seconds)}</td>
            <td>
              {cost.energy_wh === null
                ? "–"
                : withUnit(Math.round(cost.energy_wh / 10) * 10, "energy", units)}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** What the figures above come from; a forecast without it is a guess. */
function RestsOn({ run }: { run: RunRecord | null }) {
  const { view, units } = usePage();
  const { flow_l_h, power_w, flush_l, before_s } = factsOf(view.plant, run);
  const rows: Row[] = [];
  if (flow_l_h !== null) {
    const source =
      flowRestsOn(view.plant, run) === "now"
        ? "expected at the pressure and temperature of now"
        : `measured in the run of ${moment(run?.started)}`;
    rows.push(["Flow", withUnit(flow_l_h, "flow", units), source]);
  }
  if (flow_l_h !== null) {
    const source =
      run === null ? "until a run on record tells better" : `as in the run of ${moment(run.started)}`;
    rows.push(["Before the tank opens", duration(before_s), source]);
  }
  if (power_w !== null) rows.push(["Pump draws", withUnit(power_w, "power", units), "by the configuration"]);
  if (flush_l !== null) {
    rows.push(["Each flush", rounded(flush_l, "volume", units), "of fresh water, by the configuration"]);
  }
  if (rows.length === 0) return null;
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
  const said = useRead<Schemas["Runs"]>("/runs", 60);
  const runs = said.kind === "ready" ? said.value.runs : [];
  const run = tellingRun(runs);
  return (
    <section class="paper" aria-label="Plan">
      <h2>Water in the tank</h2>
      <Tank />
      {said.kind === "loading" && <p class="nothing">Reading the record…</p>}
      {said.kind === "failed" && <p class="nothing">{said.text}</p>}
      {said.kind === "ready" && <Offers run={run} />}
      <RestsOn run={run} />
      <Made runs={runs} />
    </section>
  );
}
