import { useState } from "preact/hooks";
import type { Arguments, Schemas } from "../api";
import { dayName } from "../format";
import { usePage } from "../page";
import { measure, typedIn } from "../units";

const DAYS = 3;

function numberOf(typed: string): number {
  return typed.trim() === "" ? NaN : Number(typed.replace(",", "."));
}

/** Midnight after so many more days, on the device's clock. */
function midnight(now: Date, days: number): Date {
  const at = new Date(now);
  at.setHours(0, 0, 0, 0);
  at.setDate(at.getDate() + days);
  return at;
}

/** The forecast as it is sent; null while a number is missing or none. */
export function forecastOf(sun: string[], sea_c: number | null, now: Date): Arguments | null {
  const sun_wh_day = sun.map(numberOf);
  if (sun_wh_day.some((wh) => !(wh >= 0))) return null;
  const sea = sea_c === null ? [] : [{ from: midnight(now, 1).toISOString(), temperature_c: sea_c }];
  return { from: now.toISOString(), sun_wh_day, sea };
}

/** What people foresee of sun and sea; a program may send hours instead. */
export function ForecastForm({ ahead, again }: { ahead: Schemas["DaysAhead"]; again: () => void }) {
  const { perform, units } = usePage();
  const [sun, setSun] = useState<string[]>(() => Array(DAYS).fill(String(Math.round(ahead.sun_wh_day))));
  const [sea, setSea] = useState("");
  const now = new Date();
  const typed = numberOf(sea);
  const wrong = sea.trim() !== "" && !Number.isFinite(typed);
  const said = forecastOf(sun, sea.trim() === "" ? null : typedIn(typed, "temperature", units), now);
  const give = async (command: string, args: Arguments = {}) => {
    await perform(command, args);
    again();
  };
  const submit = (event: Event) => {
    event.preventDefault();
    if (said !== null && !wrong) void give("take_forecast", said);
  };
  return (
    <details class="picker">
      <summary>Sun and sea of the next days</summary>
      <form class="log-entry" onSubmit={submit}>
        {ahead.forecast === null && (
          <p class="hint">No forecast is known: the usual day of the configuration counts.</p>
        )}
        <p>What the sun charges, Wh</p>
        <div class="three-days">
          {sun.map((wh, day) => (
            <label key={day} class="field">
              {day === 0 ? "Today" : dayName(midnight(now, day))}
              <input
                type="text"
                inputMode="numeric"
                value={wh}
                onInput={(event) => {
                  const text = event.currentTarget.value;
                  setSun(sun.map((each, at) => (at === day ? text : each)));
                }}
              />
            </label>
          ))}
        </div>
        <label class="field">
          Sea from tomorrow on, {measure(0, "temperature", units).unit} (empty: as now)
          <input
            type="text"
            inputMode="decimal"
            value={sea}
            onInput={(event) => setSea(event.currentTarget.value)}
          />
        </label>
        <button type="submit" class="main wide" disabled={said === null || wrong}>
          Plan with this
        </button>
        {ahead.forecast !== null && (
          <button type="button" class="plain wide" onClick={() => void give("forget_forecast")}>
            Forget what page and broker said
          </button>
        )}
      </form>
    </details>
  );
}
