import type { Schemas } from "../api";
import { duration } from "../format";
import { Rows, type Row } from "./Rows";

type State = Schemas["RecordState"];

const STATES: Record<State["state"], string> = {
  ok: "in order",
  behind: "behind: the card is slower than the plant",
  failing: "failing: nothing can be written",
};

/** What has not come into the record, and why; nothing where nothing is missing. */
function missing({ refused, lost, unreadable }: State): Row[] {
  const rows: [string, number, string][] = [
    [
      "Put off",
      refused,
      "rows that came while the card was too slow; control kept them and sends them again",
    ],
    ["Lost", lost, "rows that control no longer had"],
    ["Not understood", unreadable, "rows that made no sense"],
  ];
  return rows.filter(([, count]) => count > 0).map(([label, count, why]) => [label, String(count), why]);
}

/** How the record of the plant on the card is doing. */
export function RecordState({ state }: { state: State }) {
  const written = state.last_write_age_s;
  const rows: Row[] = [
    ["Record", STATES[state.state], state.problem ?? undefined],
    ["Last written", written === null ? "not since the start" : `${duration(written)} ago`],
    ["Waiting", `${state.held} ${state.held === 1 ? "row" : "rows"}`, "written together, to spare the card"],
    ...missing(state),
  ];
  return (
    <>
      {state.note !== null && <p class="hint">{state.note}</p>}
      <Rows rows={rows} />
    </>
  );
}
