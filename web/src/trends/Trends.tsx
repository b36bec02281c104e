import "../styles/rooms";
import { useState } from "preact/hooks";
import type { View } from "../age";
import type { UnitChoice } from "../api";
import { moment, rounded } from "../format";
import { CHANNELS, named } from "../names";
import { moving } from "../flow";
import { channelValue, derivedValue, limitOf } from "../now/Numbers";
import { usePage } from "../page";
import { Chart } from "../parts";
import { measure, type Quantity } from "../units";
import type { ChartProps } from "./Chart";
import {
  csv,
  summary,
  useHistory,
  useLiveRange,
  useMarks,
  useRunBands,
  type Band,
  type Loaded,
  type Mark,
} from "./history";
import { liveRange, picked, shifted, spanOf, SPANS, type Range } from "./range";

const USUAL = ["product_tds_mg_l", "product_flow", "vessel_pressure", "feed_pressure"];

const LIMIT_OF: Record<string, [limit: string, quantity: Quantity, words: string]> = {
  product_tds_mg_l: ["accept_tds_mg_l", "salt", "tank opens below"],
  vessel_pressure: ["vessel_pressure_high_bar", "high_pressure", "warning"],
  feed_pressure: ["feed_pressure_low_bar", "pressure", "low"],
};

function lineOf(channel: string, view: View, units: UnitChoice): ChartProps["limit"] {
  const entry = LIMIT_OF[channel];
  if (entry === undefined) return undefined;
  const [name, quantity, words] = entry;
  const value = limitOf(view, name);
  if (value === undefined) return undefined;
  return {
    value: measure(value, quantity, units).value,
    label: `${words} ${rounded(value, quantity, units)}`,
  };
}

/** What the plant shows now; nothing for salt in water that stands, or where there is no news. */
function shownNow(channel: string, view: View, units: UnitChoice): number | null {
  if (view.past || (channel === "product_tds_mg_l" && !moving(view).product)) return null;
  const { quantity } = named(channel);
  const of =
    channel in (view.plant?.readings ?? {}) ? channelValue(view, channel) : derivedValue(view, channel);
  return of.value === null || of.fault !== null ? null : measure(of.value, quantity, units).value;
}

function markWords(marks: Mark[]): string {
  const done = marks.filter((mark) => mark.by === "hand").length;
  const raised = marks.length - done;
  const alarms =
    raised === 0
      ? "No alarm was raised."
      : raised === 1
        ? "One alarm was raised."
        : `${raised} alarms were raised.`;
  if (done === 0) return alarms;
  return `${alarms} Work was done ${done === 1 ? "once" : `${done} times`}.`;
}

export function TrendPanel({
  channel,
  loaded,
  range,
  bands,
  marks,
  height,
  onRange,
}: {
  channel: string;
  loaded: Loaded;
  range: Range;
  bands: Band[];
  marks: Mark[];
  height?: number;
  onRange: (from_s: number, to_s: number) => void;
}) {
  const { view, units } = usePage();
  const [reading, setReading] = useState<string | null>(null);
  const text =
    loaded.kind === "ready"
      ? summary(loaded.series, range.live ? shownNow(channel, view, units) : null)
      : null;
  const within = marks.filter((mark) => mark.at_s >= range.from_s && mark.at_s <= range.to_s);
  return (
    <figure class="trend">
      <figcaption>
        <strong>{named(channel).label}</strong>
        <span>{reading ?? text ?? ""}</span>
      </figcaption>
      {channel === "recovery" && view.plant?.readings["brine_flow"] === undefined && (
        <p class="hint">Not measured: product flow over the configured feed flow.</p>
      )}
      {loaded.kind === "failed" && <p class="nothing">{loaded.text}</p>}
      {loaded.kind === "loading" && <p class="nothing">Reading the record…</p>}
      {loaded.kind === "ready" && (
        <Chart
          words={`${named(channel).label}: ${text ?? ""}. ${markWords(within)}`}
          series={loaded.series}
          range={range}
          bands={bands}
          marks={marks}
          limit={lineOf(channel, view, units)}
          {...(height === undefined ? {} : { height })}
          onRange={onRange}
          onReading={setReading}
        />
      )}
    </figure>
  );
}

function Picker({
  chosen,
  known,
  onToggle,
}: {
  chosen: string[];
  known: string[];
  onToggle: (channel: string) => void;
}) {
  return (
    <details class="picker">
      <summary>Choose what is shown</summary>
      <div class="choices" role="group" aria-label="Channels">
        {known.map((channel) => (
          <label key={channel} class={chosen.includes(channel) ? "chosen" : ""}>
            <input type="checkbox" checked={chosen.includes(channel)} onChange={() => onToggle(channel)} />
            {named(channel).label}
          </label>
        ))}
      </div>
    </details>
  );
}

function SpanBar({ range, onPick }: { range: Range; onPick: (range: Range) => void }) {
  const now_s = Date.now() / 1000;
  const close = (seconds: number) => range.live && Math.abs(spanOf(range) - seconds) < 1;
  return (
    <div class="spans">
      <div class="span-row" role="group" aria-label="Span">
        {SPANS.map(([label, seconds]) => (
          <button
            key={label}
            type="button"
            class="plain"
            aria-pressed={close(seconds)}
            onClick={() => onPick(liveRange(seconds, now_s))}
          >
            {label}
          </button>
        ))}
      </div>
      <div class="span-row" role="group" aria-label="Move in time">
        <button type="button" class="plain" onClick={() => onPick(shifted(range, -0.5, now_s))}>
          Earlier
        </button>
        <p class="span-words">
          {moment(new Date(range.from_s * 1000).toISOString())} –{" "}
          {range.live ? "now" : moment(new Date(range.to_s * 1000).toISOString())}
        </p>
        <button
          type="button"
          class="plain"
          disabled={range.live}
          onClick={() => onPick(shifted(range, 0.5, now_s))}
        >
          Later
        </button>
      </div>
    </div>
  );
}

function download(text: string): void {
  const address = URL.createObjectURL(new Blob([text], { type: "text/csv" }));
  const link = document.createElement("a");
  link.href = address;
  link.download = "halocline-trend.csv";
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

/** The channels this boat has, in the page's order; before the first snapshot, the usual ones. */
function knownChannels(readings: object | null | undefined, derived: object | null | undefined): string[] {
  const present = new Set([...Object.keys(readings ?? {}), ...Object.keys(derived ?? {})]);
  return present.size === 0 ? USUAL : Object.keys(CHANNELS).filter((channel) => present.has(channel));
}

const REMEMBERED = "halocline.trends";

function remembered(): string[] {
  try {
    const kept = (localStorage.getItem(REMEMBERED) ?? "").split(",").filter((channel) => channel in CHANNELS);
    return kept.length > 0 ? kept : USUAL;
  } catch {
    return USUAL;
  }
}

export function Trends({ query }: { query: URLSearchParams }) {
  const { view, units } = usePage();
  const asked =
    query
      .get("show")
      ?.split(",")
      .filter((channel) => channel in CHANNELS) ?? [];
  const [chosen, setChosen] = useState<string[]>(asked.length > 0 ? asked : remembered());
  const [range, setRange] = useState<Range>(() => liveRange(3600, Date.now() / 1000));
  const shown = useLiveRange(range);
  const loaded = useHistory(chosen, shown, units, 0);
  const bands = useRunBands();
  const marks = useMarks();
  const known = knownChannels(view.plant?.readings, view.plant?.derived);

  const toggle = (channel: string) => {
    const next = chosen.includes(channel) ? chosen.filter((each) => each !== channel) : [...chosen, channel];
    setChosen(next);
    try {
      localStorage.setItem(REMEMBERED, next.join());
    } catch {
      // Nothing is kept in a private window.
    }
  };
  const series = chosen.flatMap((channel) => {
    const what = loaded.get(channel);
    return what?.kind === "ready" ? [what.series] : [];
  });

  return (
    <section class="trends" aria-label="Trends">
      <SpanBar range={shown} onPick={setRange} />
      <Picker chosen={chosen} known={known} onToggle={toggle} />
      <div class="trend-list">
        {chosen.map((channel) => (
          <TrendPanel
            key={channel}
            channel={channel}
            loaded={loaded.get(channel) ?? { kind: "loading" }}
            range={shown}
            bands={bands}
            marks={marks}
            onRange={(from_s, to_s) => setRange(picked(from_s, to_s, Date.now() / 1000))}
          />
        ))}
      </div>
      {marks.length > 0 && (
        <p class="hint">
          At the foot of a chart: ▲ an alarm was raised, ■ work was done by hand. Grey behind it: a run.
        </p>
      )}
      <button
        type="button"
        class="plain"
        disabled={series.length === 0}
        onClick={() => download(csv(series))}
      >
        Download what is shown
      </button>
    </section>
  );
}
