import { useState } from "preact/hooks";
import type { Schemas } from "../api";
import { duration, moment, number, withUnit } from "../format";
import { usePage } from "../page";
import { Practice } from "../practice/Practice";
import { taskNamed } from "../tasks/table";
import { TaskList, TaskScreen } from "../tasks/Tasks";
import { Calibrations } from "./Calibrations";
import { SaidFacts } from "./Facts";
import { OtherPhones } from "./OtherPhones";
import { Sensors } from "./Sensors";
import { ServiceLock } from "./ServiceLock";
import { SessionPanel } from "./SessionPanel";
import { useRead, type Said } from "./useRead";

type HealthSaid = Schemas["Health"];

/** Something only those who look for it want to see. */
function Behind({ summary, children }: { summary: string; children: () => preact.ComponentChildren }) {
  const [open, setOpen] = useState(false);
  return (
    <details class="picker" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{summary}</summary>
      {open && children()}
    </details>
  );
}

const HOURS: [counter: string, label: string][] = [
  ["high_pressure_pump_s", "High-pressure pump has run"],
  ["feed_pump_s", "Feed pump has run"],
];
const LITRES: [counter: string, label: string][] = [
  ["product_l", "Product made"],
  ["tank_l", "Into the tank"],
  ["flush_l", "Flushed with"],
];

/** What the plant has done since it is counted, and when it was flushed. */
function Clocks({ said }: { said: Said<HealthSaid> }) {
  const { units, view } = usePage();
  if (said.kind === "loading") return <p class="nothing">Reading the record…</p>;
  if (said.kind === "failed") return <p class="nothing">{said.text}</p>;
  const { counters, last_flush } = said.value;
  const rows: [string, string][] = [];
  if (last_flush?.time != null) rows.push(["Last flush", moment(last_flush.time)]);
  if (last_flush?.litres != null) rows.push(["It took", withUnit(last_flush.litres, "volume", units)]);
  for (const [name, label] of HOURS) {
    const counted_s = counters[name];
    if (counted_s !== undefined) rows.push([label, duration(counted_s)]);
  }
  for (const [name, label] of LITRES) {
    const counted_l = counters[name];
    if (counted_l !== undefined) rows.push([label, withUnit(counted_l, "volume", units)]);
  }
  const { derived, readings } = view.plant ?? {};
  const expected_l_h = derived?.["expected_flow_l_h"] ?? null;
  const flow_l_h = readings?.["product_flow"]?.value ?? null;
  if (expected_l_h !== null && flow_l_h !== null && expected_l_h > 0) {
    const share = number((100 * flow_l_h) / expected_l_h, 0);
    rows.push(["Membrane now", `${share}\u00a0% of the product expected at this pressure`]);
  }
  if (rows.length === 0)
    return <p class="nothing">Nothing has been counted yet. It begins with the first run.</p>;
  return (
    <dl class="facts">
      {rows.map(([label, value]) => (
        <div key={label} class="fact">
          <dt>{label}</dt>
          <dd>{value}</dd>
        </div>
      ))}
    </dl>
  );
}

function Overview() {
  const { snapshot } = usePage();
  const said = useRead<HealthSaid>("/health", 60);
  return (
    <section class="paper" aria-label="Health">
      <h2>Health of the plant</h2>
      <Clocks said={said} />
      {said.kind === "ready" && <p class="hint">{said.value.note}</p>}
      <TaskList />
      <ServiceLock />
      <Behind summary="Sensors, shown and raw">{() => <Sensors />}</Behind>
      <Behind summary="Calibrations in force">{() => <Calibrations />}</Behind>
      {snapshot?.simulated === true && (
        <Behind summary="Practise a fault (simulated boat)">{() => <Practice />}</Behind>
      )}
      <OtherPhones />
      {said.kind === "ready" && (
        <Behind summary="The record itself">
          {() => (
            <SaidFacts said={{ kind: "ready", value: said.value.record }} nothing="Nothing is known of it." />
          )}
        </Behind>
      )}
      <SessionPanel />
    </section>
  );
}

/** The overview, or one guided task. */
export function Health({ rest = [] }: { rest?: string[] }) {
  const task = rest[0] === "task" ? taskNamed(rest[1]) : null;
  return task === null ? <Overview /> : <TaskScreen key={task.id} task={task} />;
}
