import { inOrder, PRIORITY_WORDS } from "../alarms";
import type { Alarm, Plant, UnitChoice } from "../api";
import type { View } from "../age";
import { fork, moving, type Fork } from "../flow";
import { NOTHING, rounded, shown, withUnit } from "../format";
import { usePage } from "../page";
import type { Quantity } from "../units";
import { channelValue, derivedValue, type Valued } from "./Numbers";
import {
  Battery,
  Filters,
  Membrane,
  PressurePump,
  Pump,
  Regulator,
  Sea,
  Strainer,
  Tank,
  Valve,
} from "./parts";

interface PipeProps {
  d: string;
  moves: boolean;
  kind?: "sea" | "brine" | "product" | "flush";
  /** The fork leads the other way. */
  shut?: boolean;
}

/** A pipe: still, or with dashes that move where water is measured to move. */
function Pipe({ d, moves, kind = "sea", shut = false }: PipeProps) {
  return (
    <g class={`pipe ${kind}${moves ? " moves" : ""}${shut ? " shut" : ""}`}>
      <path class="pipe-wall" d={d} />
      {moves && <path class="pipe-dash" d={d} />}
    </g>
  );
}

interface LabelProps {
  x: number;
  y: number;
  children: string;
  end?: "start" | "middle" | "end";
  goes?: boolean;
}

function Label({ x, y, children, end = "middle", goes = false }: LabelProps) {
  return (
    <text class={`part-label${goes ? " goes" : ""}`} x={x} y={y} text-anchor={end}>
      {children}
    </text>
  );
}

function Figure({
  x,
  y,
  of,
  quantity,
  called = "",
  end = "start",
}: {
  x: number;
  y: number;
  of: Valued;
  quantity: Quantity;
  /** What it is, where its place alone does not say so. */
  called?: string;
  end?: "start" | "middle" | "end";
}) {
  const { units } = usePage();
  const { text, unit } = shown(of.value, quantity, units);
  if (text === NOTHING && of.fault === null) return null;
  return (
    <text class={`figure ${text === NOTHING ? "fault" : of.fresh}`} x={x} y={y} text-anchor={end}>
      {text === NOTHING ? of.fault : `${called}${text} ${unit}`}
    </text>
  );
}

type Part = NonNullable<Alarm["part"]>;

const MARK_AT: Record<Part, [number, number]> = {
  sea: [40, 190],
  filters: [116, 92],
  pump_inlet: [146, 136],
  pressure_pump: [200, 138],
  membrane: [300, 132],
  product: [290, 70],
  tank: [276, 24],
  flush: [132, 62],
};

/** The alarm's own shape at the part it belongs to: one for each part, the highest. */
function Marks({ alarms }: { alarms: Alarm[] }) {
  const taken = new Map<Part, Alarm>();
  for (const alarm of alarms) {
    const part = alarm.part;
    if (part !== null && alarm.priority !== "log" && !taken.has(part)) taken.set(part, alarm);
  }
  return (
    <>
      {[...taken].map(([part, alarm]) => {
        const [x, y] = MARK_AT[part];
        return (
          <g key={part} class={`mark ${alarm.priority}`} transform={`translate(${x} ${y})`}>
            <title>{alarm.means}</title>
            <path
              d={
                alarm.priority === "urgent"
                  ? "M-4-9h8l5 5v8l-5 5h-8l-5-5v-8z"
                  : alarm.priority === "high"
                    ? "M0-10 10 8h-20z"
                    : "M-8-8h16v16h-16z"
              }
            />
            <text y="5.5" text-anchor="middle">
              !
            </text>
          </g>
        );
      })}
    </>
  );
}

/** Less is nothing to plan by. */
const LEAST_TAKEN_WH = 5;

const FORK_WORDS: Record<Fork, string> = {
  tank: "to the tank",
  overboard: "overboard",
  between: "between tank and overboard",
  unknown: "not known",
};

const LEVER: Record<Fork, string | null> = {
  tank: "M314.5 84H322V76.5",
  overboard: "M314.5 84H322V91.5",
  between: "M316 84h5",
  unknown: null,
};

function on(plant: Plant | null, output: string): boolean {
  return plant?.outputs?.[output] === true;
}

/** The drawing in words, for those who hear the page. */
export function streamWords(view: View, alarms: Alarm[]): string {
  const moves = moving(view);
  const { at, measured } = fork(view.plant);
  const product = `Product ${moves.product ? "flows" : "is set to flow"} ${FORK_WORDS[at]}${measured ? "" : ", as switched, not measured"}.`;
  const feed = moves.feed ? "Sea water moves through the membrane." : "No movement of sea water is measured.";
  const flush = moves.flush ? " Fresh water flushes the membrane." : "";
  const marks = alarms.length > 0 ? ` ${PRIORITY_WORDS[alarms[0]?.priority ?? "log"]} alarm.` : "";
  return `${view.past ? "Last known. " : ""}${feed} ${product}${flush}${marks}`;
}

function Pipes({ view, at }: { view: View; at: Fork }) {
  const moves = moving(view);
  const toTank = moves.product && at === "tank";
  const out = moves.product && at === "overboard";
  return (
    <>
      <Pipe d="M22 196V120H166" moves={moves.feed} />
      <Pipe d="M146 46V120" moves={moves.flush} kind="flush" />
      <Pipe d="M199 120H212" moves={moves.feed || moves.flush} />
      <Pipe d="M248 142V196" moves={moves.brine || moves.flush} kind="brine" />
      <Pipe d="M286 98V84H316" moves={moves.product} kind="product" />
      <Pipe d="M322 78V56" moves={toTank} kind="product" shut={at === "overboard"} />
      <Pipe d="M322 90V196" moves={out} kind="product" shut={at === "tank"} />
    </>
  );
}

function Labels({ at }: { at: Fork }) {
  return (
    <>
      <Label x={36} y={164} end="start">
        strainer
      </Label>
      <Label x={66} y={98}>
        feed pump
      </Label>
      <Label x={116} y={154}>
        filters
      </Label>
      <Label x={183} y={154}>
        pressure pump
      </Label>
      <Label x={245} y={92}>
        membrane
      </Label>
      <Label x={238} y={186} end="end">
        brine
      </Label>
      <Label x={315} y={186} end="end" goes={at === "overboard"}>
        overboard
      </Label>
      <Label x={146} y={24}>
        flush water
      </Label>
      <Label x={313} y={10} goes={at === "tank"}>
        tank
      </Label>
      <Label x={8} y={213} end="start">
        sea
      </Label>
    </>
  );
}

function Figures({ view }: { view: View }) {
  const channel = (id: string) => channelValue(view, id);
  const moves = moving(view);
  return (
    <>
      <Figure x={138} y={97} of={channel("feed_pressure")} quantity="pressure" />
      <Figure x={258} y={129} of={channel("vessel_pressure")} quantity="high_pressure" end="middle" />
      <Figure x={274} y={66} of={channel("product_flow")} quantity="flow" end="end" />
      {(moves.product || view.past) && (
        <Figure x={274} y={48} of={derivedValue(view, "product_tds_mg_l")} quantity="salt" end="end" />
      )}
      <Figure
        x={116}
        y={184}
        of={derivedValue(view, "filter_drop_bar")}
        quantity="pressure"
        called="drop "
        end="middle"
      />
      <Figure x={30} y={213} of={channel("sea_temperature")} quantity="temperature" />
      {moves.brine && <Figure x={236} y={172} of={channel("brine_flow")} quantity="flow" end="end" />}
      {moves.flush && <Figure x={153} y={66} of={channel("flush_flow")} quantity="flow" />}
    </>
  );
}

/** What is in the tank: litres where its size is known, else its share. */
export function tankWords(percent: number, capacity_l: number | null | undefined, units: UnitChoice): string {
  if (capacity_l === null || capacity_l === undefined || capacity_l <= 0) return `${Math.round(percent)} %`;
  const litres = (capacity_l * Math.min(100, Math.max(0, percent))) / 100;
  return rounded(units.volume === "L" ? Math.round(litres) : litres, "volume", units);
}

/** The battery that the run lives on: its charge where that is measured, else its voltage, and what this run takes. */
function Stored() {
  const { view, units } = usePage();
  const charge = channelValue(view, "battery_charge_percent");
  const volts = channelValue(view, "battery_voltage");
  const takes = view.plant?.run_takes_wh ?? null;
  const of = charge.value === null ? volts : charge;
  if (of.value === null) return null;
  const says = withUnit(of.value, charge.value === null ? "voltage" : "percent", units);
  return (
    <>
      <Label x={36} y={10}>
        battery
      </Label>
      <Battery level={charge.value === null ? null : charge.value / 100} says={says} fresh={of.fresh} />
      {takes !== null && takes >= LEAST_TAKEN_WH && (
        <text class={`figure small${view.past ? " dead" : ""}`} x="6" y="69">
          {`run takes ${withUnit(Math.round(takes / 10) * 10, "energy", units)}`}
        </text>
      )}
    </>
  );
}

/** The drawing says it where the fork is sure; doubts are put in words. */
function ForkWords({ at, measured }: { at: Fork; measured: boolean }) {
  if (at === "between") return <p class="fork-words">The fork stands between tank and overboard.</p>;
  if (at === "unknown") return <p class="fork-words">Where product goes is not known.</p>;
  return measured ? null : (
    <p class="fork-words">Product {FORK_WORDS[at]} as switched: no position switch is fitted.</p>
  );
}

/** One line from the sea to the tank: what is switched on, what moves, what is measured, where product goes. */
export function Stream() {
  const { view, units } = usePage();
  const { plant } = view;
  const { at, measured } = fork(plant);
  const capacity_l = plant?.limits?.["tank_capacity_l"];
  const alarms = view.past
    ? []
    : inOrder(plant).filter((alarm) => alarm.state !== "shelved" && alarm.state !== "suppressed");
  const level = channelValue(view, "tank_fill");
  return (
    <section class={`stream${view.past ? " past" : ""}`} aria-label="The stream">
      <svg viewBox="0 0 344 218" role="img" aria-label={streamWords(view, alarms)}>
        <Sea />
        <Pipes view={view} at={at} />
        <Strainer x={22} y={160} />
        <Pump x={66} y={120} on={on(plant, "feed_pump")} />
        <Filters x={116} y={120} />
        <Valve x={146} y={34} on={on(plant, "flush_valve")} />
        <PressurePump x={182} y={120} on={on(plant, "high_pressure_pump")} />
        <Membrane />
        <Regulator x={248} y={157} />
        <Tank
          level={level.value === null ? null : level.value / 100}
          says={level.value === null ? "" : tankWords(level.value, capacity_l, units)}
          fresh={level.fresh}
          filling={at === "tank"}
        />
        <g class={`fork ${at}${measured ? "" : " assumed"}`}>
          <circle cx="322" cy="84" r="8" />
          {LEVER[at] !== null && <path d={LEVER[at]} />}
          {at === "unknown" && (
            <text x="322" y="88.5" text-anchor="middle">
              ?
            </text>
          )}
        </g>
        <Labels at={at} />
        <Stored />
        <Figures view={view} />
        <Marks alarms={alarms} />
      </svg>
      <ForkWords at={at} measured={measured} />
    </section>
  );
}
