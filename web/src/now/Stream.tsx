import { inOrder, PRIORITY_WORDS } from "../alarms";
import type { Alarm, Plant } from "../api";
import type { View } from "../age";
import { fork, moving, type Flow, type Fork } from "../flow";
import { NOTHING, shown } from "../format";
import { usePage } from "../page";
import type { Quantity } from "../units";
import { channelValue, derivedValue, type Valued } from "./Numbers";
import { Filters, Membrane, PressurePump, Pump, Regulator, Sea, Strainer, Tank, Valve } from "./parts";

interface PipeProps {
  d: string;
  moves: Flow;
  kind?: "sea" | "brine" | "product" | "flush";
  /** The fork leads the other way. */
  shut?: boolean;
}

/** A pipe: still, with dashes that move where water is measured to move, or with dots where it is only assumed to. */
function Pipe({ d, moves, kind = "sea", shut = false }: PipeProps) {
  return (
    <g class={`pipe ${kind}${moves === null ? "" : ` ${moves}`}${shut ? " shut" : ""}`}>
      <path class="pipe-wall" d={d} />
      {moves === "measured" && <path class="pipe-dash" d={d} />}
      {moves === "assumed" && <path class="pipe-dots" d={d} />}
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

/** Beside its part, where no words stand. */
const MARK_AT: Record<Part, [number, number]> = {
  sea: [112, 202],
  filters: [112, 76],
  pump_inlet: [150, 126],
  pressure_pump: [204, 126],
  membrane: [290, 136],
  product: [303, 84],
  tank: [280, 26],
  flush: [134, 46],
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

const FORK_WORDS: Record<Fork, string> = {
  tank: "to the tank",
  overboard: "overboard",
  between: "between tank and overboard",
  unknown: "not known",
};

/** From the middle of the fork to where it leads. */
const LEVER: Record<Fork, string | null> = {
  tank: "M-15 0H0V-15",
  overboard: "M-15 0H0V15",
  between: "M-15 0H-4",
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
  const feed =
    moves.feed === "measured"
      ? "Sea water moves through the membrane."
      : moves.feed === "assumed"
        ? "Sea water is assumed to move: no meter is fitted."
        : "No movement of sea water is measured.";
  const flush = moves.flush !== null ? " Fresh water flushes the membrane." : "";
  const marks = alarms.length > 0 ? ` ${PRIORITY_WORDS[alarms[0]?.priority ?? "log"]} alarm.` : "";
  return `${view.past ? "Last known. " : ""}${feed} ${product}${flush}${marks}`;
}

/*
 * The grid, in units of the drawing, which are CSS pixels on the narrowest phone. Columns: intake 20, feed pump 56,
 * filters 112, flush 152, pressure pump 188, membrane 214 to 288, brine 240, fork 316. Rows: names over the membrane 86,
 * the main line 112, names under it 147, what is measured under those 164, sea 190. No words stand on a line; a test
 * measures that in a browser.
 */

function Pipes({ view, at }: { view: View; at: Fork }) {
  const moves = moving(view);
  const toTank = at === "tank" ? moves.product : null;
  const out = at === "overboard" ? moves.product : null;
  return (
    <>
      <Pipe d="M20 190V112H171" moves={moves.feed} />
      <Pipe d="M152 26V112" moves={moves.flush} kind="flush" />
      <Pipe d="M205 112H214" moves={moves.feed ?? moves.flush} />
      <Pipe d="M240 132V190" moves={moves.brine} kind="brine" />
      <Pipe d="M288 112H301" moves={moves.product} kind="product" />
      <Pipe d="M316 97V64" moves={toTank} kind="product" shut={at === "overboard"} />
      <Pipe d="M316 127V190" moves={out} kind="product" shut={at === "tank"} />
    </>
  );
}

function Labels({ at }: { at: Fork }) {
  return (
    <>
      <Label x={34} y={180} end="start">
        strainer
      </Label>
      <Label x={56} y={147}>
        feed pump
      </Label>
      <Label x={112} y={147}>
        filters
      </Label>
      <Label x={188} y={147}>
        pressure pump
      </Label>
      <Label x={289} y={86} end="end">
        membrane
      </Label>
      <Label x={248} y={147} end="start">
        brine
      </Label>
      <Label x={256} y={164} end="start">
        regulator
      </Label>
      <Label x={308} y={181} end="end" goes={at === "overboard"}>
        overboard
      </Label>
      <Label x={152} y={18}>
        flush water
      </Label>
      <Label x={316} y={12} goes={at === "tank"}>
        tank
      </Label>
      <Label x={8} y={209} end="start">
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
      <Figure x={160} y={86} of={channel("feed_pressure")} quantity="pressure" />
      <Figure x={251} y={123} of={channel("vessel_pressure")} quantity="high_pressure" end="middle" />
      <Figure x={286} y={68} of={channel("product_flow")} quantity="flow" end="end" />
      {(moves.product !== null || view.past) && (
        <Figure x={286} y={50} of={derivedValue(view, "product_tds_mg_l")} quantity="salt" end="end" />
      )}
      <Figure
        x={112}
        y={164}
        of={derivedValue(view, "filter_drop_bar")}
        quantity="pressure"
        called="drop "
        end="middle"
      />
      <Figure x={32} y={209} of={channel("sea_temperature")} quantity="temperature" />
      {moves.brine === "measured" && (
        <Figure x={231} y={164} of={channel("brine_flow")} quantity="flow" end="end" />
      )}
      {moves.flush === "measured" && <Figure x={160} y={66} of={channel("flush_flow")} quantity="flow" />}
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

/** What the two kinds of moving water in the drawing mean; only where there are two. */
function Legend({ view }: { view: View }) {
  if (!Object.values(moving(view)).includes("assumed")) return null;
  return (
    <p class="fork-words legend">
      <span>
        <svg viewBox="0 0 26 8" aria-hidden="true">
          <path class="pipe-dash" d="M1 4H25" />
        </svg>
        measured
      </span>{" "}
      <span>
        <svg viewBox="0 0 26 8" aria-hidden="true">
          <path class="pipe-dots" d="M1 4H25" />
        </svg>
        assumed, no meter there
      </span>
    </p>
  );
}

/** One line from the sea to the tank: what is switched on, what moves, what is measured, where product goes. */
export function Stream() {
  const { view } = usePage();
  const { plant } = view;
  const { at, measured } = fork(plant);
  const alarms = view.past
    ? []
    : inOrder(plant).filter((alarm) => alarm.state !== "shelved" && alarm.state !== "suppressed");
  const level = channelValue(view, "tank_fill");
  return (
    <section class={`stream${view.past ? " past" : ""}`} aria-label="The stream">
      <svg viewBox="0 0 344 214" role="img" aria-label={streamWords(view, alarms)}>
        <Sea />
        <Pipes view={view} at={at} />
        <Strainer x={20} y={164} />
        <Pump x={56} y={112} on={on(plant, "feed_pump")} />
        <Filters x={112} y={111} />
        <Valve x={152} y={40} on={on(plant, "flush_valve")} />
        <PressurePump x={188} y={112} on={on(plant, "high_pressure_pump")} />
        <Membrane />
        <Regulator x={240} y={160} />
        <Tank level={level.value === null ? null : level.value / 100} fresh={level.fresh} />
        <g class={`fork ${at}${measured ? "" : " assumed"}`} transform="translate(316 112)">
          <circle r="15" />
          {LEVER[at] !== null && <path d={LEVER[at]} />}
          {at === "unknown" && (
            <text y="6" text-anchor="middle">
              ?
            </text>
          )}
        </g>
        <Labels at={at} />
        <Figures view={view} />
        <Marks alarms={alarms} />
      </svg>
      <ForkWords at={at} measured={measured} />
      <Legend view={view} />
    </section>
  );
}
