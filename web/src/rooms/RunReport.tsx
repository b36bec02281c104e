import type { RunRecord } from "../api";
import { duration, stamp, withUnit } from "../format";
import { usePage } from "../page";
import { Rows, type Row } from "./Rows";
import { Told } from "./Told";
import { signed } from "./work";
import { useRead } from "./useRead";

function perLitre({ energy_wh, litres }: RunRecord): number | null {
  return energy_wh === null || litres === null || litres <= 0 ? null : energy_wh / litres;
}

function Report({ run }: { run: RunRecord }) {
  const { snapshot, units } = usePage();
  // Nobody told the end of a run that was cut off: it had at least as much.
  const least = run.cut_off ? "at least " : "";
  const rows: [string, string | null, string?][] = [
    ["Started", stamp(run.started)],
    ["Ended", run.ended == null ? null : stamp(run.ended)],
    ["Lasted", run.seconds == null ? null : least + duration(run.seconds)],
    ["Into the tank", least + withUnit(run.litres, "volume", units)],
    ["Overboard", run.overboard_l == null ? null : withUnit(run.overboard_l, "volume", units)],
    ["Flushed with", run.flush_l == null ? null : withUnit(run.flush_l, "volume", units)],
    ["Salt, mean", run.tds_mean_mg_l == null ? null : withUnit(run.tds_mean_mg_l, "salt", units)],
    [
      "Salt, worst in the tank",
      run.tds_worst_mg_l == null ? null : withUnit(run.tds_worst_mg_l, "salt", units),
    ],
    [
      "Highest pressure",
      run.peak_pressure_bar == null ? null : least + withUnit(run.peak_pressure_bar, "pressure", units),
    ],
    [
      "Energy of the pumps",
      run.energy_wh == null ? null : least + withUnit(run.energy_wh, "energy", units),
      run.energy_means,
    ],
    [
      "Energy for each volume",
      perLitre(run) === null ? null : withUnit(perLitre(run), "specific_energy", units),
    ],
    ["Started by", run.who === null ? null : signed(run.who)],
    ["Why it ended", run.why ?? (run.going_on ? "still running" : null)],
  ];
  return (
    <>
      <h2>
        Run of {stamp(run.started)}, {snapshot?.boat ?? "Halocline"}
        {snapshot?.simulated === true && " (SIMULATED)"}
      </h2>
      <Rows
        rows={rows.flatMap(([label, value, besides]): Row[] =>
          value === null ? [] : [[label, value, besides]],
        )}
      />
      <p class="hint">Salt is measured, germs are not.</p>
    </>
  );
}

/** One run on one page, fit for printing. */
export function RunReport({ id }: { id: string }) {
  const said = useRead<RunRecord>(`/runs/${encodeURIComponent(id)}`);
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
