import type { ComponentChildren } from "preact";
import { useRef, useState } from "preact/hooks";
import type { Schemas } from "../api";
import { Hold } from "../dialogs/Hold";
import { duration, moment, rounded, withUnit } from "../format";
import { usePage } from "../page";
import { AheadDrawing } from "./AheadDrawing";
import { ForecastForm } from "./ForecastForm";
import { useRead } from "./useRead";
import { Waters } from "./Waters";
import { NOTHING_OTHER, whatIfPath, WhatIf, type Otherwise } from "./WhatIf";

type Ahead = Schemas["DaysAhead"];
type Run = Schemas["PlannedRun"];

function RunTable({ runs, caption }: { runs: Run[]; caption: string }) {
  const { units } = usePage();
  return (
    <table class="offers">
      <caption>{caption}</caption>
      <thead>
        <tr>
          <th scope="col">When</th>
          <th scope="col">Into the tank</th>
          <th scope="col">Battery</th>
        </tr>
      </thead>
      <tbody>
        {runs.map((run) => (
          <tr key={run.start}>
            <th scope="row">
              {moment(run.start)}
              <small>for {duration(run.minutes * 60)}</small>
            </th>
            <td>{rounded(Math.round(run.litres_to_tank), "volume", units)}</td>
            <td>{withUnit(Math.round(run.energy_wh / 10) * 10, "energy", units)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** The next run as the beginning of a start: the sheet opens with its litres, and asks all that it always asks. */
function TakeOver({ run }: { run: Run }) {
  const { units, openStart, view } = usePage();
  const litres = rounded(Math.round(run.litres_to_tank), "volume", units);
  return (
    <div class="take-over">
      <Hold
        label={`Hold to take ${litres} over`}
        disabled={view.past}
        onHeld={() => openStart(run.litres_to_tank)}
      />
      <p class="hint">Opens the sheet of a start with it. Nothing starts before its own button is held.</p>
    </div>
  );
}

/** One plan: the sentence, what binds, the drawing with what may be tried beside it, the runs. */
function Planned({ ahead, caption, knobs }: { ahead: Ahead; caption: string; knobs: ComponentChildren }) {
  const { from, to, drawn, runs } = ahead;
  return (
    <>
      {ahead.says !== "" && <p class="ahead-says">{ahead.says}</p>}
      {ahead.against !== null && <p>{ahead.against}</p>}
      {ahead.changed !== null && <p>{ahead.changed}</p>}
      {ahead.reasons.map((text) => (
        <p key={text} class="ahead-reason">
          {text}
        </p>
      ))}
      {drawn !== null && from && to && <AheadDrawing ahead={ahead} drawn={drawn} from={from} to={to} />}
      {drawn !== null && (
        <p class="hint">
          Lines: a usual day. Shade below: high use, little sun. Frames: runs. Grey: no run then.
        </p>
      )}
      {knobs}
      {runs && runs.length > 0 && <RunTable runs={runs} caption={caption} />}
    </>
  );
}

function Lines({ texts }: { texts: string[] }) {
  return (
    <>
      {texts.map((text) => (
        <p key={text} class="nothing">
          {text}
        </p>
      ))}
    </>
  );
}

/** What the server says of what is tried; what was shown stays until the next is there, else all would jump. */
function useTried(
  plan: Ahead,
  path: string | null,
): { shown: Ahead; asking: boolean; failed: string | null } {
  const said = useRead<Ahead>(path);
  const last = useRef(plan);
  if (path === null) last.current = plan;
  else if (said.kind === "ready") last.current = said.value;
  return {
    shown: last.current,
    asking: path !== null && said.kind === "loading",
    failed: path !== null && said.kind === "failed" ? said.text : null,
  };
}

/** When to make water in the days ahead, and why; or what has to be known before that can be said. */
export function DaysAhead({ ahead, again }: { ahead: Ahead; again: () => void }) {
  const [otherwise, setOtherwise] = useState<Otherwise>(NOTHING_OTHER);
  const path = ahead.drawn === null ? null : whatIfPath(otherwise);
  const { shown, asking, failed } = useTried(ahead, path);
  const trying = path !== null;
  const next = ahead.runs?.[0];
  return (
    <>
      <h2>The days ahead</h2>
      <Lines texts={[...ahead.problems, ...(failed === null ? shown.missing : [failed])]} />
      <div class={`shown-plan${trying ? " tried" : ""}`} aria-busy={asking}>
        {trying && (
          <div class="tried-top">
            <strong>What if: {asking ? "asking the plant…" : "tried out, not planned"}</strong>
            <button type="button" class="plain" onClick={() => setOtherwise(NOTHING_OTHER)}>
              Back to the plan
            </button>
          </div>
        )}
        <Planned
          ahead={shown}
          caption={trying ? "Runs it would take" : "Runs planned; nothing starts by itself"}
          knobs={
            ahead.drawn !== null && (
              <WhatIf otherwise={otherwise} engine={ahead.engine_w > 0} onChange={setOtherwise} />
            )
          }
        />
      </div>
      {!trying && next !== undefined && <TakeOver run={next} />}
      {ahead.forecast !== null && <p class="hint">{ahead.forecast}</p>}
      <Waters forbidden={ahead.forbidden} again={again} />
      <ForecastForm ahead={ahead} again={again} />
      {ahead.what_ifs.length > 0 && (
        <details class="picker">
          <summary>What would change it, and what it rests on</summary>
          <ul class="says">
            {[...ahead.what_ifs, ...ahead.rests_on].map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </details>
      )}
    </>
  );
}
