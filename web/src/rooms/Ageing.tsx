import type { Schemas } from "../api";
import { Rows, type Row } from "./Rows";

type Said = Pick<Schemas["Health"], "membrane" | "note">;

/** How the plant ages, in the program's own words: the story, each figure, and behind them why it says so. */
export function Ageing({ membrane, note }: Said) {
  if (membrane === null) return note === null ? null : <p class="nothing">{note}</p>;
  const rows: Row[] = membrane.figures.map(({ name, now, end }) => [name, now, end === "" ? undefined : end]);
  return (
    <>
      <h3>How it ages</h3>
      <p>{membrane.sentence}</p>
      <Rows rows={rows} long />
      {membrane.ask !== null && <p class="hint">What would tell: {membrane.ask}.</p>}
      {membrane.evidence.length > 0 && (
        <details class="picker">
          <summary>Why it says so</summary>
          <ul>
            {membrane.evidence.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </details>
      )}
    </>
  );
}
