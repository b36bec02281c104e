import { useEffect, useRef, useState } from "preact/hooks";
import uPlot from "uplot";
import "uplot/dist/uPlot.min.css";
import { clock, moment, number } from "../format";
import { usePalette } from "../palette";
import { markNear, type Band, type Mark, type Series } from "./history";
import { spanOf, yRange, type Range } from "./range";
import { fingers } from "./touch";

export interface ChartProps {
  /** The drawing in words, for those who hear the page. */
  words: string;
  series: Series;
  range: Range;
  bands: Band[];
  marks: Mark[];
  limit?: { value: number; label: string } | undefined;
  height?: number;
  /** Least and most on the upright axis, where the values themselves do not say. */
  y?: [low: number, high: number];
  onRange: (from_s: number, to_s: number) => void;
  onReading: (text: string | null) => void;
}

function colour(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim() || "#888";
}

/** The canvas knows nothing of the style sheet: it is told the palette's colours. */
function colours() {
  return {
    ink: colour("--ink"),
    soft: colour("--ink-2"),
    line: colour("--line"),
    spread: colour("--spread"),
    band: colour("--band"),
    limit: colour("--limit"),
    grave: colour("--bad-text"),
  };
}

type Colours = ReturnType<typeof colours>;

function shadeRuns(plot: uPlot, bands: Band[], tint: string): void {
  const { left, top, width, height } = plot.bbox;
  plot.ctx.save();
  plot.ctx.fillStyle = tint;
  for (const band of bands) {
    const from = Math.max(left, plot.valToPos(band.from_s, "x", true));
    const to = Math.min(left + width, plot.valToPos(band.to_s, "x", true));
    if (to > from) plot.ctx.fillRect(from, top, to - from, height);
  }
  plot.ctx.restore();
}

const MARK_PX = 6;

/** At the foot of the chart: an arrow where something was raised, a square where work was done by hand. */
function drawMarks(plot: uPlot, marks: Mark[], tints: Colours): void {
  const { left, top, width, height } = plot.bbox;
  const size = MARK_PX * devicePixelRatio;
  const foot = top + height;
  plot.ctx.save();
  for (const mark of marks) {
    const x = plot.valToPos(mark.at_s, "x", true);
    if (x < left || x > left + width) continue;
    if (mark.by === "hand") {
      plot.ctx.fillStyle = tints.ink;
      plot.ctx.fillRect(x - size * 0.7, foot - size * 1.4, size * 1.4, size * 1.4);
      continue;
    }
    plot.ctx.fillStyle = mark.by === "grave" ? tints.grave : tints.soft;
    plot.ctx.beginPath();
    plot.ctx.moveTo(x, foot - size * 1.6);
    plot.ctx.lineTo(x + size, foot);
    plot.ctx.lineTo(x - size, foot);
    plot.ctx.fill();
  }
  plot.ctx.restore();
}

function drawLimit(plot: uPlot, limit: { value: number; label: string }, tint: string): void {
  const { left, top, width, height } = plot.bbox;
  const y = plot.valToPos(limit.value, "y", true);
  if (y < top || y > top + height) return;
  const { ctx } = plot;
  ctx.save();
  ctx.strokeStyle = tint;
  ctx.fillStyle = tint;
  ctx.lineWidth = devicePixelRatio;
  ctx.setLineDash([6 * devicePixelRatio, 4 * devicePixelRatio]);
  ctx.beginPath();
  ctx.moveTo(left, y);
  ctx.lineTo(left + width, y);
  ctx.stroke();
  ctx.font = `${11 * devicePixelRatio}px ${FACE}`;
  ctx.textAlign = "left";
  ctx.textBaseline = y - top > 16 * devicePixelRatio ? "bottom" : "top";
  ctx.fillText(
    limit.label,
    left + 4 * devicePixelRatio,
    y + (ctx.textBaseline === "bottom" ? -3 : 3) * devicePixelRatio,
  );
  ctx.restore();
}

const FACE = '-apple-system, "Segoe UI", Roboto, "Noto Sans", "Liberation Sans", system-ui, sans-serif';
const FONT = `12px ${FACE}`;

/** Times by 24 hours, dates by day and month, years when the span is long. */
function timeWords(at_s: number, span_s: number): string {
  const when = new Date(at_s * 1000);
  const day = `${when.getDate()}.${when.getMonth() + 1}.`;
  if (span_s > 3e7) return `${when.getMonth() + 1}/${when.getFullYear()}`;
  if (span_s > 3 * 86_400) return day;
  if (span_s > 86_400) return `${day} ${clock(when)}`;
  return clock(when, span_s < 300);
}

function dataOf(series: Series): uPlot.AlignedData {
  return [series.t, series.mean, series.min, series.max];
}

function options(props: () => ChartProps, width: number, tints: Colours): uPlot.Options {
  const { height = 132 } = props();
  const axis = {
    stroke: tints.soft,
    font: FONT,
    grid: { stroke: tints.line, width: 1 },
    ticks: { show: false },
  };
  const edge = { stroke: "transparent", points: { show: false } };
  return {
    width,
    height,
    padding: [8, 12, 0, 0],
    legend: { show: false },
    cursor: {
      sync: { key: "trends" },
      drag: { x: true, y: false, setScale: false },
      y: false,
      points: { size: 7 },
    },
    scales: {
      x: { time: true, range: () => [props().range.from_s, props().range.to_s] },
      y: { range: (_plot, low, high) => props().y ?? yRange(low, high, props().limit?.value) },
    },
    axes: [
      {
        ...axis,
        values: (_plot, splits) => splits.map((at) => timeWords(at, spanOf(props().range))),
        space: 64,
        size: 26,
      },
      {
        ...axis,
        size: 46,
        space: 26,
        values: (_plot, splits, _axis, _space, step) =>
          splits.map((at) => number(at, Number.isInteger(at) ? 0 : step < 0.1 ? 2 : 1)),
      },
    ],
    series: [{}, { stroke: tints.ink, width: 1.75, points: { show: false } }, edge, edge],
    bands: [{ series: [3, 2], fill: tints.spread }],
    plugins: [fingers((from, to) => props().onRange(from, to))],
    hooks: {
      drawClear: [(plot) => shadeRuns(plot, props().bands, tints.band)],
      draw: [
        (plot) => {
          const { limit, marks } = props();
          drawMarks(plot, marks, tints);
          if (limit !== undefined) drawLimit(plot, limit, tints.limit);
        },
      ],
      setSelect: [
        (plot) => {
          if (plot.select.width < 8) return;
          const { left, width: wide } = plot.select;
          props().onRange(plot.posToVal(left, "x"), plot.posToVal(left + wide, "x"));
          plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
        },
      ],
      setCursor: [(plot) => props().onReading(reading(plot, props()))],
    },
  };
}

const REACH_PX = 12;

function valueWords(plot: uPlot, series: Series): string | null {
  const at = plot.cursor.idx;
  const value = at === null || at === undefined ? null : (series.mean[at] ?? null);
  const t = at === null || at === undefined ? undefined : series.t[at];
  if (value === null || t === undefined) return null;
  const digits = Math.abs(value) < 10 ? 2 : Math.abs(value) < 100 ? 1 : 0;
  return `${number(value, digits)} ${series.unit}, ${moment(new Date(t * 1000).toISOString())}`;
}

/** What stands under the finger: the value, and what was raised there. */
function reading(plot: uPlot, { series, marks }: ChartProps): string | null {
  const { left } = plot.cursor;
  const reach_s = plot.posToVal(REACH_PX, "x") - plot.posToVal(0, "x");
  const mark = left === undefined || left < 0 ? null : markNear(marks, plot.posToVal(left, "x"), reach_s);
  const raised = mark === null ? null : `${mark.text}, ${moment(new Date(mark.at_s * 1000).toISOString())}`;
  return [valueWords(plot, series), raised].filter((words) => words !== null).join("; ") || null;
}

/** One channel over time: the mean as a line, the least and most as a shade, runs as bands, alarms as arrows, work as squares, the limit dashed. */
export function Chart(props: ChartProps) {
  const box = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | null>(null);
  const current = useRef(props);
  current.current = props;
  const palette = usePalette();
  const [, redraw] = useState(0);
  const { words, series, range, bands, marks } = props;

  useEffect(() => {
    const node = box.current;
    if (node === null) return;
    const made = new uPlot(
      options(() => current.current, node.clientWidth || 320, colours()),
      dataOf(series),
      node,
    );
    plot.current = made;
    const follow = new ResizeObserver(() => made.setSize({ width: node.clientWidth, height: made.height }));
    follow.observe(node);
    redraw((count) => count + 1);
    return () => {
      follow.disconnect();
      made.destroy();
      plot.current = null;
    };
  }, [palette, series.unit]);

  useEffect(() => {
    plot.current?.setData(dataOf(series));
  }, [series, range.from_s, range.to_s, bands, marks]);

  return <div class="plot" role="img" aria-label={words} ref={box} />;
}
