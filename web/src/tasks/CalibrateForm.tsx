import { useState } from "preact/hooks";
import type { Plant } from "../api";
import { number, plain } from "../format";
import { CHANNELS } from "../names";
import { usePage } from "../page";
import { calibration, WAYS, type Pair, type Way } from "./calibration";

const METERS = new Set(["product_flow", "flush_flow", "brine_flow"]);

function nameOf(channel: string): string {
  return CHANNELS[channel]?.label ?? plain(channel);
}

/** What the channel shows and what the wire says, side by side. */
function Live({ plant, channel }: { plant: Plant; channel: string }) {
  const reading = plant.readings?.[channel];
  if (reading === undefined) return null;
  const value = reading.value === null ? "–" : `${number(reading.value, 3)} ${reading.unit}`;
  const raw = reading.raw === null ? "–" : `${number(reading.raw, 4)} ${METERS.has(channel) ? "Hz" : "V"}`;
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
        <dd>{reading.quality}</dd>
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
  const { perform, view } = usePage();
  const channels = Object.keys(plant.readings ?? {});
  const [channel, setChannel] = useState(channels[0] ?? "");
  const [chosen, setWay] = useState<Way>("now");
  const [pairs, setPairs] = useState(EMPTY);
  const [initials, setInitials] = useState("");
  const meter = METERS.has(channel);
  const way: Way = meter ? "bucket" : chosen;
  const unit = meter ? "L" : (plant.readings?.[channel]?.unit ?? "");
  const args = calibration(channel, way, pairs, initials);
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
              {nameOf(one)}
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
              label={meter ? "Litres the meter counted" : `It showed (${unit})`}
              text={pairs[at]?.shown ?? ""}
              onText={(shown) => set(at, { shown })}
            />
          )}
          <Text
            label={
              meter ? "Litres in the bucket" : way === "now" ? `True now (${unit})` : `True was (${unit})`
            }
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
  const { perform, view } = usePage();
  const [initials, setInitials] = useState("");
  const { derived, readings } = plant;
  const flow = readings?.["product_flow"]?.value ?? null;
  const tds = derived?.["product_tds_mg_l"] ?? null;
  const expected = derived?.["expected_flow_l_h"] ?? null;
  return (
    <div class="log-entry">
      <p class="hint">
        Now {flow === null ? "–" : number(flow, 1)} L/h with {tds === null ? "–" : number(tds, 0)} mg/L;
        expected until now {expected === null ? "–" : number(expected, 1)} L/h.
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
