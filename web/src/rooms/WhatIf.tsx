import type { UnitChoice } from "../api";
import { rounded } from "../format";
import { usePage } from "../page";
import { typedIn } from "../units";

/** What is taken to be otherwise, by the names of the interface; nothing stands as it is. */
export type Otherwise = Partial<Record<Name, number>>;

type Name = "more_l" | "more_people" | "sun_percent" | "engine_h" | "colder_k" | "feed_percent" | "wait_h";

export const NOTHING_OTHER: Otherwise = {};

/** What a thumb can turn up and down. Steps and ends are chosen so that a few presses span what happens aboard. */
interface Knob {
  name: Name;
  label: string;
  usual: number;
  step: (units: UnitChoice) => number;
  low: number;
  high: number;
  says: (value: number, units: UnitChoice) => string;
}

function signed(value: number, text: string): string {
  return `${value < 0 ? "−" : value > 0 ? "+" : ""}${text}`;
}

const KNOBS: Knob[] = [
  {
    name: "more_l",
    label: "Water wanted at the end",
    usual: 0,
    step: (units) => (units.volume === "L" ? 20 : typedIn(5, "volume", units)),
    low: -100,
    high: 200,
    says: (value, units) => signed(value, rounded(Math.abs(value), "volume", units)),
  },
  {
    name: "more_people",
    label: "People aboard",
    usual: 0,
    step: () => 1,
    low: -4,
    high: 8,
    says: (value) => signed(value, String(Math.abs(value))),
  },
  {
    name: "sun_percent",
    label: "Sun",
    usual: 100,
    step: () => 25,
    low: 0,
    high: 150,
    says: (value) => `${value} %`,
  },
  {
    name: "engine_h",
    label: "Engine, from now on",
    usual: 0,
    step: () => 1,
    low: 0,
    high: 6,
    says: (value) => `${value} h`,
  },
];

/** What is so or not. */
interface Switch {
  name: Name;
  value: number;
  label: (units: UnitChoice) => string;
}

const SWITCHES: Switch[] = [
  {
    name: "colder_k",
    value: 2,
    label: (units) => (units.temperature === "C" ? "Sea 2 °C colder" : "Sea 3.6 °F colder"),
  },
  { name: "feed_percent", value: 90, label: () => "Filter due" },
  { name: "wait_h", value: 24, label: () => "Wait a day" },
];

/** Where the server says what would be; null while everything is as it is. */
export function whatIfPath(otherwise: Otherwise): string | null {
  const asked = Object.entries(otherwise).map(([name, value]) => [name, String(Math.round(value * 10) / 10)]);
  return asked.length === 0 ? null : `/plan/what-if?${new URLSearchParams(asked).toString()}`;
}

/** The same with one thing changed; what is as usual is not asked. */
export function changed(otherwise: Otherwise, name: Name, value: number, usual: number | null): Otherwise {
  const { [name]: _, ...others } = otherwise;
  return value === usual ? others : { ...others, [name]: value };
}

function Turned({ knob, value, onTurn }: { knob: Knob; value: number; onTurn: (value: number) => void }) {
  const { units } = usePage();
  const step = knob.step(units);
  const less = value - step >= knob.low - 0.01;
  const more = value + step <= knob.high + 0.01;
  return (
    <div class="knob" role="group" aria-label={knob.label}>
      <span>{knob.label}</span>
      <button
        type="button"
        class="plain"
        aria-label="less"
        disabled={!less}
        onClick={() => onTurn(value - step)}
      >
        −
      </button>
      <output>{knob.says(value, units)}</output>
      <button
        type="button"
        class="plain"
        aria-label="more"
        disabled={!more}
        onClick={() => onTurn(value + step)}
      >
        +
      </button>
    </div>
  );
}

/** What may be tried with a thumb; the server reckons each anew and keeps none of it. */
export function WhatIf({
  otherwise,
  engine,
  onChange,
}: {
  otherwise: Otherwise;
  /** Whether it is known what the engine charges. */
  engine: boolean;
  onChange: (otherwise: Otherwise) => void;
}) {
  const { units } = usePage();
  return (
    <details class="picker">
      <summary>What if…</summary>
      <div class="knobs">
        {KNOBS.filter(({ name }) => engine || name !== "engine_h").map((knob) => (
          <Turned
            key={knob.name}
            knob={knob}
            value={otherwise[knob.name] ?? knob.usual}
            onTurn={(value) =>
              onChange(changed(otherwise, knob.name, Math.round(value * 10) / 10, knob.usual))
            }
          />
        ))}
        <div class="switches">
          {SWITCHES.map(({ name, value, label }) => {
            const on = otherwise[name] !== undefined;
            return (
              <button
                key={name}
                type="button"
                class="plain"
                aria-pressed={on}
                onClick={() => onChange(changed(otherwise, name, value, on ? value : null))}
              >
                {label(units)}
              </button>
            );
          })}
        </div>
      </div>
    </details>
  );
}
