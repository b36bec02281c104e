import type { ComponentChildren } from "preact";
import { freshness, type Freshness, type View } from "../age";
import { ageOf, moving } from "../flow";
import { NOTHING, duration, rounded, shown, withUnit } from "../format";
import { named, qualityWords } from "../names";
import { usePage } from "../page";
import { trendAddress } from "../router";
import type { Quantity } from "../units";
import { Scale } from "./Scale";

export interface Valued {
  value: number | null;
  fresh: Freshness;
  age_s: number | null;
  /** Why there is no good value, in words. */
  fault: string | null;
}

/** A channel as it may be shown: past values and old ones are marked, never passed off as news. */
export function channelValue(view: View, channel: string): Valued {
  const reading = view.plant?.readings?.[channel];
  if (reading === undefined) return { value: null, fresh: "fresh", age_s: null, fault: null };
  const age_s = ageOf(reading, view.lag_s);
  return { value: reading.value, fresh: freshness(age_s), age_s, fault: qualityWords(reading.quality) };
}

/** A derived value is as old as the snapshot it came with. */
export function derivedValue(view: View, name: string): Valued {
  const value = view.plant?.derived?.[name] ?? null;
  return { value, fresh: freshness(view.lag_s), age_s: view.lag_s, fault: null };
}

/** A value with its unit, struck out when it is too old to mean anything. */
export function Value({ of, quantity }: { of: Valued; quantity: Quantity }) {
  const { units } = usePage();
  const { text, unit } = shown(of.value, quantity, units);
  const dead = of.fresh === "dead" && text !== NOTHING;
  return (
    <span class={`value ${text === NOTHING ? "" : of.fresh}`}>
      {dead ? <s>{text}</s> : text} <span class="unit">{text === NOTHING ? "" : unit}</span>
      {dead && <span class="hidden"> (too old to be trusted)</span>}
    </span>
  );
}

function ageWords(of: Valued): string | null {
  if (of.value === null || of.fresh === "fresh" || of.age_s === null || !Number.isFinite(of.age_s))
    return null;
  return `${duration(of.age_s)} old`;
}

interface TileProps {
  channel: string;
  of: Valued;
  quantity: Quantity;
  /** Measured, but of no meaning now. */
  faint?: boolean;
  children?: ComponentChildren;
}

function Tile({ channel, of, quantity, faint = false, children }: TileProps) {
  const age = ageWords(of);
  return (
    <a class={`tile${faint ? " faint" : ""}`} href={trendAddress(channel)}>
      <span class="tile-label">{named(channel).label}</span>
      <Value of={of} quantity={quantity} />
      {(of.fault !== null || age !== null) && <span class="tile-fault">{of.fault ?? age}</span>}
      {children}
    </a>
  );
}

/** A limit by its name; past limits serve to read past values. */
export function limitOf(view: View, name: string): number | undefined {
  return view.plant?.limits?.[name] ?? undefined;
}

const SCALE_TDS_MG_L = 1000;

/** In these states the salt is that of water just made; what a flush leaves behind says nothing. */
const MAKING = new Set(["pressurising", "diverting", "producing", "stopping", "hand_run"]);

function believable(of: Valued): number | null {
  return of.fresh === "dead" ? null : of.value;
}

/** What the salt reading says about the limit; of water that stands, or that a flush left, it says nothing. */
function saltWords(value: number | null, flows: boolean, limit: number | undefined, text: string): string {
  if (limit === undefined) return "limit not known";
  if (value === null) return `limit ${text}`;
  if (!flows) return "not judged now";
  return `${value <= limit ? "within limit" : "above limit"} ${text}`;
}

function SaltTile() {
  const { view, units } = usePage();
  const of = derivedValue(view, "product_tds_mg_l");
  const limit = limitOf(view, "accept_tds_mg_l");
  const value = believable(of);
  const flows = moving(view).product && MAKING.has(view.plant?.state ?? "");
  const words = saltWords(value, flows, limit, limit === undefined ? "" : rounded(limit, "salt", units));
  return (
    <Tile channel="product_tds_mg_l" of={of} quantity="salt" faint={!flows}>
      <Scale value={flows ? value : null} to={SCALE_TDS_MG_L} step={100} limit={limit} label={words} />
      <span class="tile-note">{words}</span>
    </Tile>
  );
}

function FlowTile() {
  const { view, units } = usePage();
  const of = channelValue(view, "product_flow");
  const expected = derivedValue(view, "expected_flow_l_h").value;
  const value = believable(of);
  const top = Math.max(expected ?? 0, value ?? 0, 20) * 1.25;
  const step = top > 250 ? 50 : top > 100 ? 20 : 10;
  return (
    <Tile channel="product_flow" of={of} quantity="flow">
      <Scale value={value} to={Math.ceil(top / step) * step} step={step} label="product flow" />
      <span class="tile-note">
        {expected === null ? "no forecast now" : `expected ${withUnit(expected, "flow", units)}`}
      </span>
    </Tile>
  );
}

function PressureTile() {
  const { view, units } = usePage();
  const of = channelValue(view, "vessel_pressure");
  const limit = limitOf(view, "vessel_pressure_high_bar");
  const top = Math.ceil(Math.max(70, (limit ?? 0) * 1.15) / 10) * 10;
  return (
    <Tile channel="vessel_pressure" of={of} quantity="high_pressure">
      <Scale value={believable(of)} to={top} step={10} limit={limit} label="membrane pressure" />
      <span class="tile-note">
        {limit === undefined ? "limit not known" : `warning from ${rounded(limit, "high_pressure", units)}`}
      </span>
    </Tile>
  );
}

function RunTile() {
  const { view, units } = usePage();
  const run = view.plant?.run ?? null;
  const of: Valued = {
    value: run?.litres ?? null,
    fresh: freshness(view.lag_s),
    age_s: view.lag_s,
    fault: null,
  };
  const target = run?.target_l ?? null;
  const notes = [
    target === null ? null : `of ${rounded(target, "volume", units)}`,
    run?.energy_wh == null ? null : withUnit(run.energy_wh, "energy", units),
  ].filter((note) => note !== null);
  return (
    <a class="tile" href="#/log">
      <span class="tile-label">Into the tank, this run</span>
      <Value of={of} quantity="volume" />
      <Scale
        value={target === null ? null : (run?.litres ?? null)}
        to={target ?? 1}
        step={(target ?? 1) / 10}
        label="share of the amount asked for"
      />
      <span class="tile-note">{run === null ? "no run" : notes.join(", ") || "until the tank is full"}</span>
    </a>
  );
}

/** The four numbers under the drawing; each opens its trend. */
export function Numbers() {
  const { view } = usePage();
  return (
    <section class={`numbers${view.past ? " past" : ""}`} aria-label="Numbers">
      <SaltTile />
      <FlowTile />
      <PressureTile />
      <RunTile />
    </section>
  );
}
