import type { Schemas } from "../api";
import { stamp } from "../format";
import { usePage } from "../page";
import { Rows, type Row } from "./Rows";
import { Told } from "./Told";
import { useRead } from "./useRead";

function Report({ run }: { run: Schemas["RunSheet"] }) {
  const { snapshot } = usePage();
  return (
    <>
      <h2>
        Run of {stamp(run.started)}, {snapshot?.boat ?? "Halocline"}
        {snapshot?.simulated === true && " (SIMULATED)"}
      </h2>
      <p>{run.story}</p>
      <Rows rows={run.facts.map(({ name, text }): Row => [name, text])} />
      <p class="hint">Energy of the pumps is {run.energy_means}. Salt is measured, germs are not.</p>
    </>
  );
}

/** One run on one page, fit for printing. */
export function RunReport({ id }: { id: string }) {
  const said = useRead<Schemas["RunSheet"]>(`/runs/${encodeURIComponent(id)}`);
  return (
    <section class="paper report" aria-label="Run">
      <Told said={said}>{(run) => <Report run={run} />}</Told>
      <div class="span-row no-print">
        <a class="button plain" href="#/log">
          Back to all runs
        </a>
        <button type="button" class="plain" onClick={() => print()}>
          Print
        </button>
        <a
          class="button plain"
          href={`/api/v1/runs/${encodeURIComponent(id)}?format=html`}
          target="_blank"
          rel="noopener"
        >
          Sheet with curves
        </a>
      </div>
    </section>
  );
}
