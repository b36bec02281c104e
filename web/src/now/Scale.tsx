/** A scale like the border of a chart: alternating full and empty pieces, the value as a pointer, the limit as a bar. */

function percent(part: number): string {
  return `${(Math.min(1, Math.max(0, part)) * 100).toFixed(2)}%`;
}

export interface ScaleProps {
  value: number | null;
  from?: number;
  to: number;
  step: number;
  limit?: number | undefined;
  /** A second limit beyond the first: only what is beyond this one is beyond both. */
  further?: number | undefined;
  label: string;
}

function Segments({ from, to, step }: { from: number; to: number; step: number }) {
  const pieces = [];
  for (let at = from, full = false; at < to - 1e-9; at += step, full = !full) {
    if (full) {
      pieces.push(
        <rect
          key={at}
          class="scale-piece"
          x={percent((at - from) / (to - from))}
          y="8"
          width={percent((Math.min(at + step, to) - at) / (to - from))}
          height="6"
        />,
      );
    }
  }
  return <>{pieces}</>;
}

export function Scale({ value, from = 0, to, step, limit, further, label }: ScaleProps) {
  const at = (of: number) => percent((of - from) / (to - from));
  const last = further ?? limit;
  const beyond = value !== null && last !== undefined && value > last;
  return (
    <svg class={`scale${beyond ? " beyond" : ""}`} role="img" aria-label={label}>
      <rect class="scale-frame" x="0" y="8" width="100%" height="6" />
      <Segments from={from} to={to} step={step} />
      {[limit, further].map(
        (each) =>
          each !== undefined &&
          each <= to && <line key={each} class="scale-limit" x1={at(each)} x2={at(each)} y1="3" y2="19" />,
      )}
      {value !== null && (
        <svg class="scale-pointer" x={at(value)} y="0" overflow="visible">
          <path d="M-5 0h10L0 9z" />
        </svg>
      )}
    </svg>
  );
}
