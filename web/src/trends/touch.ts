/** Fingers on a chart: one reads the values under it, two pinch and drag the time axis. */

import type uPlot from "uplot";

interface Grip {
  /** Seconds under the left and right finger when they went down. */
  left_s: number;
  right_s: number;
}

function offsets(plot: uPlot, event: TouchEvent): number[] {
  const { left } = plot.over.getBoundingClientRect();
  return Array.from(event.touches)
    .map((touch) => touch.clientX - left)
    .sort((a, b) => a - b);
}

/** The range that keeps the gripped seconds under the fingers. */
export function pinched(grip: Grip, left: number, right: number, width: number): [number, number] {
  const perPixel = (grip.right_s - grip.left_s) / Math.max(20, right - left);
  const from = grip.left_s - left * perPixel;
  return [from, from + width * perPixel];
}

export function fingers(onRange: (from_s: number, to_s: number) => void): uPlot.Plugin {
  let grip: Grip | null = null;
  let latest: [number, number] | null = null;

  const read = (plot: uPlot, event: TouchEvent) => {
    const { top } = plot.over.getBoundingClientRect();
    const [left = -10] = offsets(plot, event);
    plot.setCursor({ left, top: (event.touches[0]?.clientY ?? top) - top });
  };
  const down = (plot: uPlot, event: TouchEvent) => {
    const [left, right] = offsets(plot, event);
    if (left === undefined) return;
    if (right === undefined) {
      read(plot, event);
      return;
    }
    grip = { left_s: plot.posToVal(left, "x"), right_s: plot.posToVal(right, "x") };
  };
  const move = (plot: uPlot, event: TouchEvent) => {
    const [left, right] = offsets(plot, event);
    if (left === undefined) return;
    if (right === undefined || grip === null) {
      read(plot, event);
      return;
    }
    if (event.cancelable) event.preventDefault();
    latest = pinched(grip, left, right, plot.over.clientWidth);
    plot.setScale("x", { min: latest[0], max: latest[1] });
  };
  const up = (event: TouchEvent) => {
    if (event.touches.length > 1) return;
    grip = null;
    if (latest !== null) onRange(...latest);
    latest = null;
  };
  return {
    hooks: {
      ready: (plot) => {
        plot.over.addEventListener("touchstart", (event) => down(plot, event), { passive: true });
        plot.over.addEventListener("touchmove", (event) => move(plot, event), { passive: false });
        plot.over.addEventListener("touchend", up);
        plot.over.addEventListener("touchcancel", up);
      },
    },
  };
}
