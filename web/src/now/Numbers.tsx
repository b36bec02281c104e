import type { ComponentChildren } from "preact";
import { freshness, type Freshness, type View } from "../age";
import { ageOf, moving } from "../flow";
import type { UnitChoice } from "../api";
import { bare, NOTHING, duration, rounded, shown, withUnit } from "../format";
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
  /** What it is called here, where that is shorter than in a trend. */
  called?: string;
  of: Valued;
  quantity: Quantity;
  /** Measured, but of no meaning now. */
  faint?: boolean;
  children?: ComponentChildren;
}

function Tile({ channel, called, of, quantity, faint = false, children }: TileProps) {
  const age = ageWords(of);
  return (
    <a class={`tile${faint ? " faint" : ""}`} href={trendAddress(channel)}>
      <span class="tile-label">{called ?? named(channel).label}</span>
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

/** The two limits of the salt in words: between them the tank stays as it is. */
function saltLimits(accept: number | undefined, reject: number | undefined, units: UnitChoice): string {
  if (accept === undefined) return "limit not known";
  if (reject === undefined) return `tank opens at ${rounded(accept, "salt", units)}`;
  return `tank opens at ${bare(accept, "salt", units)}, closes at ${rounded(reject, "salt", units)}`;
}

/** What the salt reading says about the limits; null of water that stands, or that a flush left. */
function saltJudgement(value: number, accept: number | undefined, reject: number | undefined): string | null {
  if (accept === undefined) return null;
  if (value <= accept) return "within limit";
  return value <= (reject ?? accept) ? "between the limits" : "above limit";
}

function SaltTile() {
  const { view, units } = usePage();
  const of = derivedValue(view, "product_tds_mg_l");
  const accept = limitOf(view, "accept_tds_mg_l");
  const reject = limitOf(view, "reject_tds_mg_l");
  const value = believable(of);
  const flows = moving(view).product && MAKING.has(view.plant?.state ?? "");
  const judgement = value !== null && flows ? saltJudgement(value, accept, reject) : null;
  const limits = saltLimits(accept, reject, units);
  return (
    <Tile channel="product_tds_mg_l" of={of} quantity="salt" faint={!flows}>
      <Scale
        value={flows ? value : null}
        to={SCALE_TDS_MG_L}
        step={100}
        limit={accept}
        further={reject}
        label={judgement ?? limits}
      />
      {judgement !== null && <span class="tile-says">{judgement}</span>}
      {value !== null && !flows && <span class="tile-note">of water that stands</span>}
      <span class="tile-note">{limits}</span>
    </Tile>
  );
}

/** How much there is: litres where the tank's size is known, else its share. */
function TankTile() {
  const { view, units } = usePage();
  const level = channelValue(view, "tank_fill");
  if (level.value === null && level.fault === null) return null;
  const capacity_l = limitOf(view, "tank_capacity_l") ?? 0;
  const known = capacity_l > 0;
  const share = level.value === null ? null : Math.min(100, Math.max(0, level.value));
  const of = { ...level, value: share !== null && known ? Math.round((capacity_l * share) / 100) : share };
  return (
    <Tile channel="tank_fill" called="In the tank" of={of} quantity={known ? "stock" : "percent"}>
      <Scale value={believable({ ...level, value: share })} to={100} step={10} label="how full the tank is" />
      {known && share !== null && (
        <span class="tile-note">
          {Math.round(share)} % of {rounded(capacity_l, "volume", units)}
        </span>
      )}
    </Tile>
  );
}

/** Less is nothing to plan by. */
const LEAST_TAKEN_WH = 5;

/** The battery that the run lives on: its charge where that is measured, else its voltage, and what this run takes. */
function BatteryTile() {
  const { view, units } = usePage();
  const charge = channelValue(view, "battery_charge_percent");
  const channel = charge.value === null ? "battery_voltage" : "battery_charge_percent";
  const of = channelValue(view, channel);
  if (of.value === null && of.fault === null) return null;
  const takes = view.plant?.run_takes_wh ?? 0;
  return (
    <Tile
      channel={channel}
      called="Battery"
      of={of}
      quantity={channel === "battery_voltage" ? "voltage" : "percent"}
    >
      {channel === "battery_charge_percent" && (
        <Scale value={believable(of)} to={100} step={10} label="charge of the battery" />
      )}
      {takes >= LEAST_TAKEN_WH && (
        <span class="tile-note">
          {`this run takes about ${withUnit(Math.round(takes / 10) * 10, "energy", units)} more`}
        </span>
      )}
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
      {expected !== null && <span class="tile-note">{`expected ${withUnit(expected, "flow", units)}`}</span>}
    </Tile>
  );
}

function pressureLimits(high: number | undefined, highest: number | undefined, units: UnitChoice): string {
  if (high === undefined) return "limit not known";
  if (highest === undefined) return `warning at ${rounded(high, "high_pressure", units)}`;
  return `warning at ${bare(high, "high_pressure", units)}, stops at ${rounded(highest, "high_pressure", units)}`;
}

function PressureTile() {
  const { view, units } = usePage();
  const of = channelValue(view, "vessel_pressure");
  const high = limitOf(view, "vessel_pressure_high_bar");
  const highest = limitOf(view, "vessel_pressure_high_high_bar");
  const top = Math.ceil(Math.max(70, (highest ?? high ?? 0) * 1.15) / 10) * 10;
  return (
    <Tile channel="vessel_pressure" of={of} quantity="high_pressure">
      <Scale
        value={believable(of)}
        to={top}
        step={10}
        limit={high}
        further={highest}
        label="membrane pressure"
      />
      <span class="tile-note">{pressureLimits(high, highest, units)}</span>
    </Tile>
  );
}

function RunTile() {
  const { view, units } = usePage();
  const run = view.plant?.run ?? null;
  if (run === null) return null;
  const of: Valued = {
    value: run.litres ?? null,
    fresh: freshness(view.lag_s),
    age_s: view.lag_s,
    fault: null,
  };
  const target = run.target_l ?? null;
  const notes = [
    target === null ? "into the tank" : `of ${rounded(target, "volume", units)} into the tank`,
    run.energy_wh == null ? null : withUnit(run.energy_wh, "energy", units),
  ].filter((note) => note !== null);
  return (
    <a class="tile" href="#/log">
      <span class="tile-label">This run</span>
      <Value of={of} quantity="volume" />
      {target !== null && (
        <Scale value={believable(of)} to={target} step={target / 10} label="share of the amount asked for" />
      )}
      <span class="tile-note">{notes.join(", ")}</span>
    </a>
  );
}

/** The numbers under the drawing; each opens its trend. First what is asked most: the salt, and how much there is. */
export function Numbers() {
  const { view } = usePage();
  return (
    <section class={`numbers${view.past ? " past" : ""}`} aria-label="Numbers">
      <SaltTile />
      <TankTile />
      <BatteryTile />
      <RunTile />
      <FlowTile />
      <PressureTile />
    </section>
  );
}
