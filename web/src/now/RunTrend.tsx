import "../styles/rooms";
import { useState } from "preact/hooks";
import type { Plant } from "../api";
import { usePage } from "../page";
import { TrendPanel } from "../trends/Trends";
import { useHistory, useLiveRange, useMarks, useRunBands } from "../trends/history";
import { liveRange } from "../trends/range";

const CHANNELS = ["product_tds_mg_l", "product_flow", "vessel_pressure"];
const HOUR_S = 3600;
const STEP_S = 300;
const HEIGHT_PX = 118;
const stay = () => undefined;

/** The whole run in steps, so that the span does not change, and is not read anew, with every second; else an hour. */
export function spanOfRun(run: Pick<NonNullable<Plant["run"]>, "seconds"> | null): number {
  const seconds = run?.seconds ?? null;
  return seconds === null ? HOUR_S : Math.max(2, Math.ceil(seconds / STEP_S)) * STEP_S;
}

/** The course of this run, or of the last hour: beside the drawing where there is room. */
export function RunTrend() {
  const { view, units } = usePage();
  const run = view.plant?.run ?? null;
  const span_s = spanOfRun(run);
  const [opened_s] = useState(() => Date.now() / 1000);
  const range = useLiveRange(liveRange(span_s, opened_s));
  const loaded = useHistory(CHANNELS, range, units, 0);
  const bands = useRunBands();
  const marks = useMarks();
  return (
    <section class="run-trend" aria-label={run === null ? "The last hour" : "This run so far"}>
      <h2>{run === null ? "The last hour" : "This run so far"}</h2>
      <div class="run-charts">
        {CHANNELS.map((channel) => (
          <TrendPanel
            key={channel}
            channel={channel}
            loaded={loaded.get(channel) ?? { kind: "loading" }}
            range={range}
            bands={run === null ? bands : []}
            marks={marks}
            height={HEIGHT_PX}
            onRange={stay}
          />
        ))}
      </div>
    </section>
  );
}
