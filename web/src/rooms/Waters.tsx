import { useState } from "preact/hooks";
import type { Schemas } from "../api";
import { usePage } from "../page";

const WHYS: [why: string, label: string][] = [
  ["silt", "Silt"],
  ["harbour", "Harbour"],
  ["bloom", "Bloom"],
  ["oil", "Oil, fuel"],
];

const FOR_H: [hours: number, label: string][] = [
  [6, "6 h"],
  [12, "12 h"],
  [24, "1 day"],
  [72, "3 days"],
];

const PLACE_LETTERS = 40;

/** Waters in which none is made: which, then where and for how long. Each ends by itself, or by one press. */
export function Waters({
  forbidden,
  again,
}: {
  forbidden: Schemas["ForbiddenWater"][];
  /** The plan has to be read anew. */
  again: () => void;
}) {
  const { perform } = usePage();
  const [why, setWhy] = useState<string | null>(null);
  const [place, setPlace] = useState("");
  const say = async (of: string, hours: number) => {
    setWhy(null);
    await perform("forbid_water", { why: of, hours, ...(hours > 0 && { place }) });
    setPlace("");
    again();
  };
  return (
    <section class="waters" aria-label="Forbidden waters">
      <h3>Forbidden waters</h3>
      {forbidden.map((each) => (
        <div key={each.why} class="standing-water">
          <p>{each.text}</p>
          <button type="button" class="plain" onClick={() => void say(each.why, 0)}>
            End it
          </button>
        </div>
      ))}
      <div class="quick" role="group" aria-label="Why no water is made here">
        {WHYS.map(([of, label]) => (
          <button
            key={of}
            type="button"
            class="plain"
            aria-pressed={why === of}
            onClick={() => setWhy(why === of ? null : of)}
          >
            {label}
          </button>
        ))}
      </div>
      {why === null ? (
        <p class="hint">Plan no run here because of…</p>
      ) : (
        <>
          <label class="field">
            Where, if you like
            <input
              type="text"
              maxLength={PLACE_LETTERS}
              value={place}
              onInput={(event) => setPlace(event.currentTarget.value)}
            />
          </label>
          <div class="quick" role="group" aria-label="For how long">
            {FOR_H.map(([hours, label]) => (
              <button key={hours} type="button" class="plain" onClick={() => void say(why, hours)}>
                {label}
              </button>
            ))}
          </div>
        </>
      )}
    </section>
  );
}
