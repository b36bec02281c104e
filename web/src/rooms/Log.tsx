import { useState } from "preact/hooks";
import { PRIORITY_WORDS } from "../alarms";
import type { AlarmStep, RunRecord } from "../api";
import { duration, moment, NOTHING, withUnit } from "../format";
import { Shape } from "../frame/Shape";
import { usePage } from "../page";
import { EventList } from "./EventList";
import { LogEntry } from "./LogEntry";
import { RunReport } from "./RunReport";
import { useRead, type Said } from "./useRead";
import { WorkList } from "./WorkList";

function listIn<T>(said: Said<unknown>, name: string): T[] | null {
  if (said.kind !== "ready") return null;
  const { value } = said;
  if (Array.isArray(value)) return value as T[];
  const named = typeof value === "object" && value !== null ? (value as Record<string, unknown>)[name] : null;
  return Array.isArray(named) ? (named as T[]) : [];
}

function Waiting({ said, nothing }: { said: Said<unknown>; nothing: string }) {
  if (said.kind === "loading") return <p class="nothing">Reading the record…</p>;
  return <p class="nothing">{said.kind === "failed" ? said.text : nothing}</p>;
}

function RunLine({ run }: { run: RunRecord }) {
  const { units } = usePage();
  return (
    <li>
      <a class="entry" href={`#/log/${run.id}`}>
        <span class="entry-when">{moment(run.started)}</span>
        <span class="entry-main">
          <strong>{withUnit(run.litres, "volume", units)}</strong>
          {run.tds_mean_mg_l != null && ` at ${withUnit(run.tds_mean_mg_l, "salt", units)}`}
          {run.seconds != null && `, ${duration(run.seconds)}`}
          {run.energy_wh != null && `, ${withUnit(run.energy_wh, "energy", units)}`}
        </span>
        <span class="entry-why">{run.why ?? (run.going_on ? "still running" : NOTHING)}</span>
      </a>
    </li>
  );
}

function Runs() {
  const said = useRead<unknown>("/runs", 30);
  const runs = listIn<RunRecord>(said, "runs");
  if (runs === null || runs.length === 0) return <Waiting said={said} nothing="No run is on record yet." />;
  return (
    <ul class="entries">
      {runs.map((run) => (
        <RunLine key={run.id} run={run} />
      ))}
    </ul>
  );
}

const BECAME: Record<AlarmStep["to"], string> = {
  unacknowledged: "raised",
  acknowledged: "acknowledged",
  "returned-unacknowledged": "gone by itself",
  normal: "over",
  latched: "gone, waits for reset",
  shelved: "set aside",
  suppressed: "came with another",
  "out-of-service": "taken out of service",
};

function AlarmLine({ event }: { event: AlarmStep }) {
  return (
    <li class="entry">
      <span class="entry-when">{event.time === null ? NOTHING : moment(event.time)}</span>
      <span class="entry-main">
        <Shape priority={event.priority} open={event.to !== "unacknowledged"} />
        <span class="hidden">{PRIORITY_WORDS[event.priority]}: </span>
        {event.means}
      </span>
      <span class="entry-why">{BECAME[event.to]}</span>
    </li>
  );
}

function AlarmSteps() {
  const said = useRead<unknown>("/alarms", 30);
  const events = listIn<AlarmStep>(said, "journal");
  if (events === null || events.length === 0) return <Waiting said={said} nothing="No alarm is on record." />;
  return (
    <ul class="entries">
      {events.map((event) => (
        <AlarmLine key={`${event.boot} ${event.seq} ${event.id}`} event={event} />
      ))}
    </ul>
  );
}

const TABS = [
  ["runs", "Runs"],
  ["alarms", "Alarms"],
  ["work", "Work"],
  ["events", "Events"],
] as const;

/** Runs, alarms, work done by hand, and all that happened; a run opens as a report of one page. */
export function Log({ rest }: { rest: string[] }) {
  const [tab, setTab] = useState<(typeof TABS)[number][0]>("runs");
  const [run] = rest;
  if (run !== undefined) return <RunReport id={run} />;
  return (
    <section class="paper" aria-label="Log">
      <div class="span-row" role="group" aria-label="What to show">
        {TABS.map(([id, label]) => (
          <button key={id} type="button" class="plain" aria-pressed={id === tab} onClick={() => setTab(id)}>
            {label}
          </button>
        ))}
      </div>
      {tab === "runs" && <Runs />}
      {tab === "alarms" && <AlarmSteps />}
      {tab === "events" && <EventList />}
      {tab === "work" && (
        <>
          <LogEntry />
          <WorkList />
        </>
      )}
    </section>
  );
}
