import "../styles/rooms";
import { useState } from "preact/hooks";
import { PRIORITY_WORDS } from "../alarms";
import type { AlarmStep, RunRecord, Schemas } from "../api";
import { duration, moment, NOTHING, withUnit, zone } from "../format";
import { Shape } from "../frame/Shape";
import { usePage } from "../page";
import { EventList } from "./EventList";
import { LogEntry } from "./LogEntry";
import { occurrences, type Occurrence } from "./occurrences";
import { RunReport } from "./RunReport";
import { Told } from "./Told";
import { useRead } from "./useRead";
import { WorkList } from "./WorkList";

const AGAIN_S = 10;

function RunLine({ run }: { run: RunRecord }) {
  const { units } = usePage();
  return (
    <li>
      <a class="entry" href={`#/log/${run.id}`}>
        <span class="entry-when">{moment(run.started)}</span>
        <span class="entry-main">
          {run.cut_off && run.litres ? "at least " : ""}
          <strong>
            {run.cut_off && !run.litres ? "no litres on record" : withUnit(run.litres, "volume", units)}
          </strong>
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
  const said = useRead<Schemas["Runs"]>("/runs", AGAIN_S);
  return (
    <Told said={said}>
      {({ runs }) =>
        runs.length === 0 ? (
          <p class="nothing">No run is on record yet.</p>
        ) : (
          <ul class="entries">
            {runs.map((run) => (
              <RunLine key={run.id} run={run} />
            ))}
          </ul>
        )
      }
    </Told>
  );
}

const BECAME: Record<AlarmStep["to"], string> = {
  unacknowledged: "raised",
  acknowledged: "acknowledged",
  "returned-unacknowledged": "gone, not acknowledged",
  normal: "over",
  latched: "gone, waits for reset",
  shelved: "set aside",
  suppressed: "caused by another alarm",
  "out-of-service": "out of service",
};

function when(time: string | null): string {
  return time === null ? NOTHING : moment(time);
}

/** One line an alarm: when it came, what it is and what became of it; opened, what it means and each step. */
function AlarmEntry({ steps }: Occurrence) {
  const [opened, setOpened] = useState(false);
  const [first] = steps;
  const last = steps[steps.length - 1] ?? first;
  return (
    <li class="alarm-entry">
      <button type="button" class="entry" aria-expanded={opened} onClick={() => setOpened(!opened)}>
        <span class="entry-when">{when(first.time)}</span>
        <span class="entry-main">
          <Shape priority={first.priority} open={last.to !== "unacknowledged"} />
          <span class="hidden">{PRIORITY_WORDS[first.priority]}: </span>
          <strong>{first.name}</strong>, {BECAME[last.to]}
        </span>
      </button>
      {opened && (
        <div class="alarm-story">
          <p>
            {PRIORITY_WORDS[first.priority]}. {first.means}
          </p>
          <ul aria-label="What became of it">
            {steps.map((step) => (
              <li key={`${step.boot} ${step.seq}`}>
                {when(step.time)} {BECAME[step.to]}
              </li>
            ))}
          </ul>
        </div>
      )}
    </li>
  );
}

function AlarmEntries() {
  const said = useRead<{ journal: AlarmStep[] }>("/alarms", AGAIN_S);
  return (
    <Told said={said}>
      {({ journal }) =>
        journal.length === 0 ? (
          <p class="nothing">No alarm is on record.</p>
        ) : (
          <ul class="entries">
            {occurrences(journal).map(({ steps }) => (
              <AlarmEntry key={`${steps[0].boot} ${steps[0].seq} ${steps[0].id}`} steps={steps} />
            ))}
          </ul>
        )
      }
    </Told>
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
  const [first] = rest;
  const named = TABS.find(([id]) => id === first)?.[0];
  const [tab, setTab] = useState<(typeof TABS)[number][0]>(named ?? "runs");
  if (first !== undefined && named === undefined) return <RunReport id={first} />;
  return (
    <section class="paper" aria-label="Log">
      <div class="span-row" role="group" aria-label="What to show">
        {TABS.map(([id, label]) => (
          <button key={id} type="button" class="plain" aria-pressed={id === tab} onClick={() => setTab(id)}>
            {label}
          </button>
        ))}
      </div>
      <p class="hint">Times are those of this device, {zone(new Date())}.</p>
      {tab === "runs" && <Runs />}
      {tab === "alarms" && <AlarmEntries />}
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
