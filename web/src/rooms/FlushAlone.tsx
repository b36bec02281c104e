import { useState } from "preact/hooks";
import { moment, rounded } from "../format";
import { usePage } from "../page";

const DAYS = [3, 7, 14, 30];

/** Consent to flushes while nobody is there: what they use, when the next one comes, and how it is taken back. */
export function FlushAlone() {
  const { snapshot, view, units, perform } = usePage();
  const [name, setName] = useState("");
  const [days, setDays] = useState(7);
  const alone = view.past ? null : (snapshot?.flush_alone ?? null);
  if (alone === null) return null;
  const each = rounded(alone.flush_l, "volume", units);
  if (alone.by !== null) {
    return (
      <section class="alone" aria-label="Flushes by themselves">
        <h3>Flushes by themselves</h3>
        <p>
          {alone.by} consented until {moment(alone.until)}: {each} each, at most{" "}
          {rounded(alone.left_l ?? 0, "volume", units)} more in all.
        </p>
        <p>
          The next comes{" "}
          {alone.next === null ? "once the time is known" : `${moment(alone.next)} at the earliest`}.
        </p>
        {alone.failures > 0 && <p>The last one failed; a second failure in a row ends the consent.</p>}
        {alone.not_now.length > 0 && (
          <ul class="says">
            {alone.not_now.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        )}
        <button type="button" class="plain" onClick={() => perform("withdraw_flush_consent")}>
          Take the consent back
        </button>
      </section>
    );
  }
  const refused = snapshot?.refused?.["consent_flush"] ?? [];
  const submit = (event: Event) => {
    event.preventDefault();
    if (name.trim() !== "") perform("consent_flush", { name: name.trim(), days });
  };
  return (
    <details class="picker">
      <summary>Let it flush by itself while nobody is there</summary>
      <form class="log-entry" onSubmit={submit}>
        <p class="hint">
          {each} of fresh water each time, when a flush is due and at most once a day; {alone.tank_percent} %
          of the tank stay. The buzzer sounds a minute before. Two failures in a row, a safety stop or your
          being there end it. Before you leave, open the regulator fully; fresh-water pump and brine outlet
          stay as they are in a flush.
        </p>
        {refused.map((text) => (
          <p key={text} class="nothing">
            {text}
          </p>
        ))}
        <label class="field">
          Your name
          <input
            type="text"
            maxLength={40}
            value={name}
            onInput={(event) => setName(event.currentTarget.value)}
          />
        </label>
        <label class="field">
          For how long
          <select value={days} onChange={(event) => setDays(Number(event.currentTarget.value))}>
            {DAYS.map((number) => (
              <option key={number} value={number}>
                {number} days
              </option>
            ))}
          </select>
        </label>
        <button type="submit" class="main wide" disabled={name.trim() === "" || refused.length > 0}>
          Consent
        </button>
      </form>
    </details>
  );
}
