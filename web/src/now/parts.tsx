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
        d="M0 198q8-5 16 0t16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0V218H0z"
      />
      <path
        class="sea-line"
        d="M0 198q8-5 16 0t16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0 16 0"
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
      <rect x="212" y="98" width="92" height="44" rx="10" />
      <path class="sheet-line" d="M216 107H300" />
    </g>
  );
}

export function Tank({
  level,
  says,
  fresh,
  filling,
}: {
  level: number | null;
  /** How much that is. */
  says: string;
  fresh: Freshness;
  filling: boolean;
}) {
  const height = level === null ? 0 : Math.min(1, Math.max(0, level)) * 40;
  return (
    <g class={`part tank${filling ? " filling" : ""}`}>
      {level !== null && <rect class="level" x="286" y={56 - height} width="54" height={height} />}
      <path class="tank-wall" d="M284 16v40h58V16" />
      {level !== null && (
        <text class={`figure ${fresh}`} x="313" y="41" text-anchor="middle">
          {says}
        </text>
      )}
    </g>
  );
}

/** The battery, where it is measured: its charge as a level where that is measured too. */
export function Battery({ level, says, fresh }: { level: number | null; says: string; fresh: Freshness }) {
  const height = level === null ? 0 : Math.min(1, Math.max(0, level)) * 34;
  return (
    <g class="part battery">
      {level !== null && <rect class="level" x="6" y={54 - height} width="60" height={height} />}
      <path class="terminals" d="M18 16v4M54 16v4" />
      <rect class="case" x="6" y="20" width="60" height="34" rx="3" />
      <text class={`figure ${fresh}`} x="36" y="42" text-anchor="middle">
        {says}
      </text>
    </g>
  );
}
