import { useState } from "preact/hooks";
import type { Plant } from "../api";
import { NOTHING, number, withUnit } from "../format";
import { named, qualityWords } from "../names";
import { usePage } from "../page";
import { measure, typedIn, type Quantity } from "../units";
import { calibration, WAYS, type Pair, type Way } from "./calibration";

/** What is typed for a channel; a meter is compared with a bucket. */
type Typed = Exclude<Quantity, "salt">;

function typedFor(channel: string): Typed {
  const { quantity } = named(channel);
  return quantity === "flow" ? "volume" : (quantity as Typed);
}

const FINE = 2;

/** What the channel shows and what the wire says, side by side. */
function Live({ plant, channel }: { plant: Plant; channel: string }) {
  const { units } = usePage();
  const reading = plant.readings?.[channel];
  if (reading === undefined) return null;
  const { quantity } = named(channel);
  const shown = reading.value === null ? null : measure(reading.value, quantity, units);
  const value =
    shown === null ? NOTHING : `${number(shown.value, Math.max(shown.decimals, FINE))}\u00a0${shown.unit}`;
  const raw =
    reading.raw === null ? NOTHING : `${number(reading.raw, 4)}\u00a0${quantity === "flow" ? "Hz" : "V"}`;
  return (
    <dl class="facts live-reading" aria-live="off">
      <div class="fact">
        <dt>It shows</dt>
        <dd>{value}</dd>
      </div>
      <div class="fact">
        <dt>At the wire</dt>
        <dd>{raw}</dd>
      </div>
      <div class="fact">
        <dt>It is</dt>
        <dd>{qualityWords(reading.quality) ?? "good"}</dd>
      </div>
    </dl>
  );
}

function Text({ label, text, onText }: { label: string; text: string; onText: (text: string) => void }) {
  return (
    <label class="field">
      {label}
      <input
        type="text"
        inputMode="decimal"
        maxLength={12}
        value={text}
        onInput={(event) => onText(event.currentTarget.value)}
      />
    </label>
  );
}

function Initials({ text, onText }: { text: string; onText: (text: string) => void }) {
  return (
    <label class="field">
      Your initials
      <input type="text" maxLength={10} value={text} onInput={(event) => onText(event.currentTarget.value)} />
    </label>
  );
}

const EMPTY: Pair[] = [
  { shown: "", true: "" },
  { shown: "", true: "" },
];

function Sensor({ plant }: { plant: Plant }) {
  const { perform, view, units } = usePage();
  const channels = Object.keys(plant.readings ?? {});
  const [channel, setChannel] = useState(channels[0] ?? "");
  const [chosen, setWay] = useState<Way>("now");
  const [pairs, setPairs] = useState(EMPTY);
  const [initials, setInitials] = useState("");
  const typed = typedFor(channel);
  const meter = typed === "volume";
  const way: Way = meter ? "bucket" : chosen;
  const { unit } = measure(0, typed, units);
  const args = calibration(channel, way, pairs, initials, (value) => typedIn(value, typed, units));
  const set = (at: number, part: Partial<Pair>) =>
    setPairs(pairs.map((pair, each) => (each === at ? { ...pair, ...part } : pair)));
  const rows = way === "two" ? [0, 1] : [0];
  return (
    <div class="log-entry">
      <label class="field">
        Sensor
        <select
          value={channel}
          onChange={(event) => {
            setChannel(event.currentTarget.value);
            setPairs(EMPTY);
          }}
        >
          {channels.map((one) => (
            <option key={one} value={one}>
              {named(one).label}
            </option>
          ))}
        </select>
      </label>
      <Live plant={plant} channel={channel} />
      {!meter && (
        <label class="field">
          How it was compared
          <select value={chosen} onChange={(event) => setWay(event.currentTarget.value as Way)}>
            {WAYS.map(([id, label]) => (
              <option key={id} value={id}>
                {label}
              </option>
            ))}
          </select>
        </label>
      )}
      {rows.map((at) => (
        <div key={at} class="pair">
          {way !== "now" && (
            <Text
              label={`${meter ? "The meter counted" : "It showed"} (${unit})`}
              text={pairs[at]?.shown ?? ""}
              onText={(shown) => set(at, { shown })}
            />
          )}
          <Text
            label={`${meter ? "In the bucket" : way === "now" ? "True now" : "True was"} (${unit})`}
            text={pairs[at]?.true ?? ""}
            onText={(truth) => set(at, { true: truth })}
          />
        </div>
      ))}
      <Initials text={initials} onText={setInitials} />
      <button
        type="button"
        class="plain wide"
        disabled={args === null || view.past}
        onClick={() => args !== null && perform("calibrate", args)}
      >
        Set it right
      </button>
    </div>
  );
}

function Membrane({ plant }: { plant: Plant }) {
  const { perform, view, units } = usePage();
  const [initials, setInitials] = useState("");
  const { derived, readings } = plant;
  const flow = readings?.["product_flow"]?.value ?? null;
  const tds = derived?.["product_tds_mg_l"] ?? null;
  const expected = derived?.["expected_flow_l_h"] ?? null;
  return (
    <div class="log-entry">
      <p class="hint">
        Now {withUnit(flow, "flow", units)} with {withUnit(tds, "salt", units)}; expected until now{" "}
        {withUnit(expected, "flow", units)}.
      </p>
      <Initials text={initials} onText={setInitials} />
      <button
        type="button"
        class="plain wide"
        disabled={initials.trim() === "" || view.past}
        onClick={() => perform("calibrate", { membrane: true, initials: initials.trim() })}
      >
        Take this as its baseline
      </button>
    </div>
  );
}

/** Sets a sensor or the membrane right; the server judges it and says what was shown before and after. */
export function CalibrateForm({ membrane }: { membrane: boolean }) {
  const { view } = usePage();
  if (view.plant === null || view.past) return <p class="nothing">Nothing is heard from the plant now.</p>;
  return membrane ? <Membrane plant={view.plant} /> : <Sensor plant={view.plant} />;
}
