/** Fetches what the record holds, converted to the units chosen aboard. */

import { useEffect, useMemo, useState } from "preact/hooks";
import { historyPath, read, type AlarmStep, type History, type RunRecord, type UnitChoice } from "../api";
import { number } from "../format";
import { named } from "../names";
import { failureWords } from "../rooms/useRead";
import { workLabel, type Work } from "../rooms/work";
import { measure } from "../units";
import { refresh_s, spanOf, type Range } from "./range";

export interface Series {
  channel: string;
  unit: string;
  t: number[];
  min: (number | null)[];
  mean: (number | null)[];
  max: (number | null)[];
}

export type Loaded =
  { kind: "loading" } | { kind: "failed"; text: string } | { kind: "ready"; series: Series };

export interface Band {
  from_s: number;
  to_s: number;
}

const POINTS = 400;

export function toSeries(history: History, units: UnitChoice): Series {
  const { quantity } = named(history.channel);
  const convert = (value: number | null) => (value === null ? null : measure(value, quantity, units).value);
  return {
    channel: history.channel,
    unit: measure(0, quantity, units).unit || history.unit,
    t: history.time,
    min: history.min.map(convert),
    mean: history.mean.map(convert),
    max: history.max.map(convert),
  };
}

/** The history of a few channels over one range; fetched again as long as the range is live. */
export function useHistory(
  channels: string[],
  range: Range,
  units: UnitChoice,
  turn: number,
): Map<string, Loaded> {
  const [loaded, setLoaded] = useState<Map<string, Loaded>>(new Map());
  const key = `${channels.join()} ${range.from_s} ${range.to_s} ${turn} ${JSON.stringify(units)}`;
  useEffect(() => {
    let wanted = true;
    const put = (channel: string, what: Loaded) => {
      if (wanted) setLoaded((known) => new Map(known).set(channel, what));
    };
    for (const channel of channels) {
      read<History>(historyPath(channel, range.from_s, range.to_s, POINTS))
        .then((history) => put(channel, { kind: "ready", series: toSeries(history, units) }))
        .catch((error: unknown) => put(channel, { kind: "failed", text: failureWords(error) }));
    }
    return () => {
      wanted = false;
    };
  }, [key]);
  return loaded;
}

/** The live end of the range moves on in steps worth fetching. */
export function useLiveRange(range: Range): Range {
  const [now_s, setNow] = useState(range.to_s);
  const span = spanOf(range);
  useEffect(() => {
    if (!range.live) return;
    setNow(Date.now() / 1000);
    const timer = setInterval(() => setNow(Date.now() / 1000), refresh_s(span) * 1000);
    return () => clearInterval(timer);
  }, [range.live, span]);
  return range.live ? { ...range, from_s: now_s - span, to_s: now_s } : range;
}

function seconds(iso: string | null | undefined): number | null {
  const time = iso === null || iso === undefined ? NaN : Date.parse(iso) / 1000;
  return Number.isFinite(time) ? time : null;
}

export function bandsOf(runs: Pick<RunRecord, "started" | "ended">[], now_s: number): Band[] {
  return runs.flatMap((run) => {
    const from_s = seconds(run.started);
    return from_s === null ? [] : [{ from_s, to_s: seconds(run.ended) ?? now_s }];
  });
}

/** A moment worth seeing on every trend. */
export interface Mark {
  at_s: number;
  text: string;
  /** A grave alarm, a slight one, or work done by hand. */
  by: "grave" | "slight" | "hand";
}

/** Each alarm where it was raised, the earliest first; what only went into the log is no mark. */
export function marksOf(journal: Pick<AlarmStep, "time" | "to" | "name" | "priority">[]): Mark[] {
  return journal
    .flatMap((step): Mark[] => {
      const at_s = seconds(step.time);
      if (at_s === null || step.to !== "unacknowledged" || step.priority === "log") return [];
      return [{ at_s, text: step.name, by: step.priority === "low" ? "slight" : "grave" }];
    })
    .sort((a, b) => a.at_s - b.at_s);
}

/** What was done by hand, where it was done. */
export function workMarks(work: Pick<Work, "time" | "kind">[]): Mark[] {
  return work.flatMap(({ time, kind }) => {
    const at_s = seconds(time);
    return at_s === null ? [] : [{ at_s, text: workLabel(kind), by: "hand" }];
  });
}

/** The mark nearest to a moment, if one is within reach. */
export function markNear(marks: Mark[], at_s: number, reach_s: number): Mark | null {
  const near = marks.filter((mark) => Math.abs(mark.at_s - at_s) <= reach_s);
  near.sort((a, b) => Math.abs(a.at_s - at_s) - Math.abs(b.at_s - at_s));
  return near[0] ?? null;
}

const LISTED = 500;

/** What a list of the record holds; nothing while it cannot be read. */
function useListed<Said, Item>(path: string, itemsIn: (said: Said) => Item[]): Item[] {
  const [items, setItems] = useState<Item[]>([]);
  useEffect(() => {
    let wanted = true;
    read<Said>(`${path}?limit=${LISTED}`)
      .then((said) => {
        if (wanted) setItems(itemsIn(said));
      })
      .catch(() => undefined);
    return () => {
      wanted = false;
    };
  }, [path]);
  return items;
}

export function useRunBands(): Band[] {
  return useListed("/runs", (said: { runs: RunRecord[] }) => bandsOf(said.runs, Date.now() / 1000));
}

export function useMarks(): Mark[] {
  const alarms = useListed("/alarms", (said: { journal: AlarmStep[] }) => marksOf(said.journal));
  const work = useListed("/work", (said: { work: Work[] }) => workMarks(said.work));
  return useMemo(() => [...alarms, ...work].sort((a, b) => a.at_s - b.at_s), [alarms, work]);
}

/**
 * The least and the most of a series and, where it is live, what is shown now, in words: the chart for those who hear
 * the page. The end of a long series is a mean over hours and is not given as news.
 */
export function summary(series: Series, now: number | null): string {
  const known = (values: (number | null)[]) => values.filter((value): value is number => value !== null);
  const lows = known(series.min);
  const highs = known(series.max);
  if (lows.length === 0 || highs.length === 0) return "nothing recorded in this stretch";
  const low = lows.reduce((a, b) => Math.min(a, b));
  const high = highs.reduce((a, b) => Math.max(a, b));
  const digits = high - low < 5 ? 2 : high - low < 50 ? 1 : 0;
  const latest = now === null ? "" : `, now ${number(now, digits)}`;
  return `${number(low, digits)} to ${number(high, digits)}${latest} ${series.unit}`;
}

export function csv(all: Series[]): string {
  const lines = ["channel,unit,time_utc,min,mean,max"];
  for (const series of all) {
    series.t.forEach((t, at) => {
      const values = [series.min[at], series.mean[at], series.max[at]].map((value) => value ?? "");
      lines.push([series.channel, series.unit, new Date(t * 1000).toISOString(), ...values].join(","));
    });
  }
  return `${lines.join("\n")}\n`;
}
