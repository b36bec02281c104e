import "../styles/rooms";
import { useState } from "preact/hooks";
import type { Schemas } from "../api";
import { duration, moment, withUnit } from "../format";
import { usePage } from "../page";
import { Practice, TaskList, Tasks } from "../parts";
import { Ageing } from "./Ageing";
import { Calibrations } from "./Calibrations";
import { Checkup } from "./Checkup";
import { FlushAlone } from "./FlushAlone";
import { LimitsInForce } from "./LimitsInForce";
import { OtherPhones } from "./OtherPhones";
import { RecordState } from "./RecordState";
import { Rows, type Row } from "./Rows";
import { Sensors } from "./Sensors";
import { ServiceLock } from "./ServiceLock";
import { SessionPanel } from "./SessionPanel";
import { standing } from "./standing";
import { Told } from "./Told";
import { useRead } from "./useRead";
import type { WorkDone } from "./work";
import { Upkeep } from "./WorkList";

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
function Clocks({ counters, last_flush }: HealthSaid) {
  const { units } = usePage();
  const rows: Row[] = [];
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
  if (rows.length === 0)
    return <p class="nothing">Nothing has been counted yet. It begins with the first run.</p>;
  return <Rows rows={rows} />;
}

/** How the plant stands now; the membrane can only be judged while water is made. */
function Standing() {
  const { view, units } = usePage();
  const rows = standing(view, units);
  if (rows.length === 0) return <p class="nothing">Nothing is heard from control now.</p>;
  const making = rows.some(([label]) => label === "Product flow");
  return (
    <>
      <Rows rows={rows} />
      {!making && <p class="hint">The membrane is compared with what it should give while water is made.</p>}
    </>
  );
}

function Overview() {
  const { snapshot } = usePage();
  const said = useRead<HealthSaid>("/health", 60);
  const work = useRead<WorkDone>("/work", 60);
  return (
    <section class="paper" aria-label="Health">
      <h2>Health of the plant</h2>
      <h3>What is due</h3>
      <Standing />
      <Upkeep said={work} />
      <FlushAlone />
      <ServiceLock />
      <Told said={said}>{(health) => <Ageing membrane={health.membrane} note={health.note} />}</Told>
      <TaskList />
      <Checkup />
      {said.kind === "ready" && <Behind summary="Counted so far">{() => <Clocks {...said.value} />}</Behind>}
      <Behind summary="Sensors, shown and raw">{() => <Sensors />}</Behind>
      <Behind summary="Limits in force">{() => <LimitsInForce />}</Behind>
      <Behind summary="Calibrations in force">{() => <Calibrations />}</Behind>
      {snapshot?.simulated === true && (
        <Behind summary="Practise a fault (simulated boat)">{() => <Practice />}</Behind>
      )}
      <OtherPhones />
      {said.kind === "ready" && (
        <Behind summary="How the record is kept">{() => <RecordState state={said.value.record} />}</Behind>
      )}
      <SessionPanel />
    </section>
  );
}

/** The overview, or one guided task. */
export function Health({ rest = [] }: { rest?: string[] }) {
  return rest[0] === "task" ? <Tasks id={rest[1]} /> : <Overview />;
}
