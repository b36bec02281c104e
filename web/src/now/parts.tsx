/** The parts of the stream, drawn around their own point. Filled means switched on; it does not mean that water moves. */

import type { Freshness } from "../age";

interface At {
  x: number;
  y: number;
}

interface Switched extends At {
  on: boolean;
}

function place({ x, y }: At): string {
  return `translate(${x} ${y})`;
}

export function Sea() {
  return (
    <g class="sea">
      <path
        class="sea-body"
        d="M0 190q8-5 16 0t16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0V214H0z"
      />
      <path
        class="sea-line"
        d="M0 190q8-5 16 0t16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0"
      />
    </g>
  );
}

export function Strainer({ x, y }: At) {
  return (
    <g class="part" transform={place({ x, y })}>
      <rect x="-9" y="-10" width="18" height="20" rx="3" />
      <path d="M-4-10v20M0-10v20M4-10v20M-9-4H9M-9 3H9" class="mesh" />
    </g>
  );
}

export function Pump({ x, y, on }: Switched) {
  return (
    <g class={`part machine${on ? " on" : ""}`} transform={place({ x, y })}>
      <circle r="14" />
      <path class="blade" d="M-6-9 11 0-6 9z" />
    </g>
  );
}

export function PressurePump({ x, y, on }: Switched) {
  return (
    <g class={`part machine${on ? " on" : ""}`} transform={place({ x, y })}>
      <rect x="-17" y="-17" width="34" height="34" rx="6" />
      <path class="blade" d="M-10-8v16M-3-10v20M4-8v16M11-10v20" />
    </g>
  );
}

export function Filters({ x, y }: At) {
  return (
    <g class="part" transform={place({ x, y })}>
      <rect x="-14" y="-18" width="12" height="38" rx="5" />
      <rect x="2" y="-18" width="12" height="38" rx="5" />
      <path class="mesh" d="M-8-12v26M8-12v26" />
    </g>
  );
}

export function Valve({ x, y, on }: Switched) {
  return (
    <g class={`part machine${on ? " on" : ""}`} transform={place({ x, y })}>
      <path d="M-7-7H7L-7 7H7z" />
    </g>
  );
}

export function Regulator({ x, y }: At) {
  return (
    <g class="part" transform={place({ x, y })}>
      <path d="M-7-7H7L-7 7H7z" />
      <path class="stem" d="M0 0h11M11-5V5" />
    </g>
  );
}

/** The vessel, with its sheet between sea water below and product above. */
export function Membrane() {
  return (
    <g class="part vessel">
      <rect x="214" y="92" width="74" height="40" rx="10" />
      <path class="sheet-line" d="M218 101H284" />
    </g>
  );
}

/** The tank with its level; how much that is stands among the numbers. */
export function Tank({ level, fresh }: { level: number | null; fresh: Freshness }) {
  const height = level === null ? 0 : Math.min(1, Math.max(0, level)) * 42;
  return (
    <g class="part tank">
      {level !== null && fresh !== "dead" && (
        <rect class="level" x="294" y={63 - height} width="44" height={height} />
      )}
      <path class="tank-wall" d="M293 20v44h46V20" />
    </g>
  );
}
