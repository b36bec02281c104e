import type { Priority } from "../api";

const PATHS: Record<Priority, string> = {
  urgent: "M6 1h8l5 5v8l-5 5H6l-5-5V6z",
  high: "M10 1.5 19 18H1z",
  low: "M3 3h14v14H3z",
  log: "M10 3a7 7 0 1 1 0 14 7 7 0 0 1 0-14z",
};

const MARK_Y: Record<Priority, number> = { urgent: 14.5, high: 16, low: 14.5, log: 14.5 };

/** One shape a priority, so that colour is never the only sign. Filled while nobody has acknowledged. */
export function Shape({ priority, open = false }: { priority: Priority; open?: boolean }) {
  return (
    <svg class={`shape ${priority}${open ? " open" : ""}`} viewBox="0 0 20 20" aria-hidden="true">
      <path class="shape-body" d={PATHS[priority]} />
      {priority !== "log" && (
        <text class="shape-mark" x="10" y={MARK_Y[priority]} text-anchor="middle">
          !
        </text>
      )}
    </svg>
  );
}
