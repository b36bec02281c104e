import "../styles/rooms";
import type { Schemas } from "../api";
import { unbroken } from "../format";
import { usePage } from "../page";
import { standing } from "../rooms/standing";
import { Rows, type Row } from "../rooms/Rows";
import { useRead } from "../rooms/useRead";
import type { WorkDone } from "../rooms/work";
import { Upkeep } from "../rooms/WorkList";

const AGAIN_S = 60;

/** What is owed now and what is foreseen: each with what it rests on. */
export function Due() {
  const { view, units } = usePage();
  const health = useRead<Schemas["Health"]>("/health", AGAIN_S);
  const work = useRead<WorkDone>("/work", AGAIN_S);
  const owed = standing(view, units).filter(([label]) => label === "Flush" || label === "First water");
  const figures = health.kind === "ready" ? (health.value.membrane?.figures ?? []) : [];
  const foreseen = figures
    .filter(({ end }) => end !== "")
    .map(({ name, end }): Row => [name, unbroken(end) ?? end]);
  return (
    <section class="due" aria-label="What is due">
      <h2>What is due</h2>
      <Rows rows={[...owed, ...foreseen]} />
      <Upkeep said={work} />
      <p>
        <a href="#/health">All of it in Health</a>
      </p>
    </section>
  );
}
