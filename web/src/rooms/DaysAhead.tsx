import type { Schemas } from "../api";
import { duration, moment, rounded, withUnit } from "../format";
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

function Drawing({
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
  return (
    <svg
      class="ahead"
      viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
      role="img"
      aria-label={`Tank and battery over the days ahead. ${ahead.says}`}
    >
      {drawn.blocked.map(({ from: begin, to: until }) => (
        <rect
          key={begin + until}
          class="ahead-blocked"
          x={across(begin, from, to)}
          y={AXIS}
          width={Math.max(across(until, from, to) - across(begin, from, to), 0)}
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

function RunTable({ runs }: { runs: Run[] }) {
  const { units } = usePage();
  return (
    <table class="offers">
      <caption>Runs planned; nothing starts by itself</caption>
      <thead>
        <tr>
          <th scope="col">When</th>
          <th scope="col">Into the tank</th>
          <th scope="col">Battery</th>
        </tr>
      </thead>
      <tbody>
        {runs.map((run) => (
          <tr key={run.start}>
            <th scope="row">
              {moment(run.start)}
              <small>for {duration(run.minutes * 60)}</small>
            </th>
            <td>{rounded(Math.round(run.litres_to_tank), "volume", units)}</td>
            <td>{withUnit(Math.round(run.energy_wh / 10) * 10, "energy", units)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** When to make water in the days ahead, and why; or what has to be known before that can be said. */
export function DaysAhead({ ahead }: { ahead: Ahead }) {
  const { from, to, drawn, runs } = ahead;
  const told = [...ahead.problems, ...ahead.missing];
  return (
    <>
      <h2>The days ahead</h2>
      {told.map((text) => (
        <p key={text} class="nothing">
          {text}
        </p>
      ))}
      {ahead.says !== "" && <p class="ahead-says">{ahead.says}</p>}
      {ahead.changed !== null && <p>{ahead.changed}</p>}
      {ahead.reasons.map((text) => (
        <p key={text} class="ahead-reason">
          {text}
        </p>
      ))}
      {drawn !== null && from && to && <Drawing ahead={ahead} drawn={drawn} from={from} to={to} />}
      {drawn !== null && (
        <p class="hint">
          Lines: a usual day. Shade: high use, little sun. Upright bars: runs. Grey: no run then.
        </p>
      )}
      {runs && runs.length > 0 && <RunTable runs={runs} />}
      {ahead.what_ifs.length > 0 && (
        <details>
          <summary>What would change it, and what it rests on</summary>
          <ul class="says">
            {[...ahead.what_ifs, ...ahead.rests_on].map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </details>
      )}
    </>
  );
}
