import type { Schemas } from "../api";
import { rounded } from "../format";
import { usePage } from "../page";
import {
  across,
  AXIS,
  BATTERY,
  between,
  height,
  HEIGHT,
  line,
  marks,
  SUN_STRIP,
  sunlight,
  TANK,
  WIDTH,
  type Strip,
} from "./ahead";

type Ahead = Schemas["DaysAhead"];
type Run = Schemas["PlannedRun"];

/** Room for a letter of a reason, in the drawing's units; a reason that does not fit is left out. */
const LETTER = 6;

interface BandProps {
  strip: Strip;
  name: string;
  now: number;
  usual: number[];
  worse: number[];
  most: number;
  least: number;
  leastName: string;
}

/** One course with what it comes to on a worse day below it, and the line it must not cross. */
function Band({ strip, name, now, usual, worse, most, least, leastName }: BandProps) {
  const y = height(least, most, strip);
  return (
    <>
      <text class="ahead-name" x="0" y={strip.top - 6}>
        {name}
      </text>
      <text class="ahead-least" x={WIDTH} y={strip.top - 6} text-anchor="end">
        {leastName}
      </text>
      <rect class="ahead-frame" x="0" y={strip.top} width={WIDTH} height={strip.height} />
      <path class="ahead-spread" d={between(now, usual, worse, most, strip)} />
      <line class="ahead-limit" x1="0" x2={WIDTH} y1={y} y2={y} />
      <path class="ahead-line" d={line(now, usual, most, strip)} />
    </>
  );
}

/** Tank and battery as two bands over the days ahead, with sun, runs and forbidden times on one axis. */
export function AheadDrawing({
  ahead,
  drawn,
  from,
  to,
}: {
  ahead: Ahead;
  drawn: Schemas["PlanDrawn"];
  from: string;
  to: string;
}) {
  const { units } = usePage();
  const end = (run: Run) => new Date(Date.parse(run.start) + run.minutes * 60_000).toISOString();
  const hours = (Date.parse(to) - Date.parse(from)) / 3_600_000;
  const spans = (ahead.runs ?? []).map(
    (run) => [across(run.start, from, to), across(end(run), from, to)] as const,
  );
  const forbidden = drawn.blocked.map((each) => ({
    why: each.why.replace(/_/g, " "),
    begin: across(each.from, from, to),
    until: across(each.to, from, to),
  }));
  return (
    <svg
      class="ahead"
      viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
      role="img"
      aria-label={`Tank and battery over the days ahead. ${ahead.says}`}
    >
      {forbidden.map(({ why, begin, until }) => (
        <rect
          key={begin}
          class={why === "quiet" ? "ahead-blocked" : "ahead-blocked ahead-water"}
          x={begin}
          y={AXIS}
          width={until - begin}
          height={HEIGHT - AXIS}
        />
      ))}
      {marks(from, to).map(({ x, label }) => (
        <g key={x}>
          <line class="ahead-tick" x1={x} x2={x} y1={AXIS} y2={HEIGHT} />
          <text class="ahead-hour" x={Math.min(Math.max(x, 12), WIDTH - 12)} y="11" text-anchor="middle">
            {label}
          </text>
        </g>
      ))}
      <path class="ahead-sun" d={sunlight(drawn.sun_w, hours)} />
      {spans.map(([begin, until]) => (
        <rect
          key={begin}
          class="ahead-run"
          x={begin}
          y={AXIS}
          width={Math.max(until - begin, 3)}
          height={HEIGHT - AXIS}
        />
      ))}
      {forbidden
        .filter(({ why, begin, until }) => until - begin >= why.length * LETTER)
        .map(({ why, begin, until }) => (
          <text
            key={begin}
            class="ahead-why"
            x={(begin + until) / 2}
            y={SUN_STRIP.top + SUN_STRIP.height - 6}
            text-anchor="middle"
          >
            {why}
          </text>
        ))}
      <text class="ahead-name" x="0" y={SUN_STRIP.top + 10}>
        Sun
      </text>
      <Band
        strip={TANK}
        name={`Tank, ${rounded(Math.round(drawn.tank_now_l), "volume", units)} now`}
        now={drawn.tank_now_l}
        usual={drawn.tank_l}
        worse={drawn.tank_high_l}
        most={drawn.capacity_l}
        least={drawn.reserve_l}
        leastName={`reserve ${rounded(Math.round(drawn.reserve_l), "volume", units)}`}
      />
      <Band
        strip={BATTERY}
        name={`Battery, ${Math.round(drawn.battery_now_percent)} % ${drawn.battery_from === "measured" ? "now" : drawn.battery_from}`}
        now={drawn.battery_now_percent}
        usual={drawn.battery_percent}
        worse={drawn.battery_low_percent}
        most={100}
        least={drawn.min_percent}
        leastName={`runs end at ${Math.round(drawn.min_percent)} %`}
      />
    </svg>
  );
}
