import { duration, moment, withUnit } from "../format";
import { usePage } from "../page";
import { Rows, type Row } from "./Rows";
import { Told } from "./Told";
import { useRead, type Said } from "./useRead";
import { lastUpkeep, signed, workLabel, type Work, type WorkDone } from "./work";

const AGAIN_S = 5;

function dated(work: Work): string {
  return work.time === null ? "date not known" : moment(work.time);
}

/** What was put on record by hand, newest first. */
export function WorkList() {
  const said = useRead<WorkDone>("/work", AGAIN_S);
  return <Told said={said}>{({ work }) => <Works work={work} />}</Told>;
}

function Works({ work }: { work: Work[] }) {
  if (work.length === 0) return <p class="nothing">No work is on record yet.</p>;
  return (
    <ul class="entries" aria-label="Work on record">
      {work.map((one) => (
        <li key={`${one.boot} ${one.seq}`} class="entry">
          <span class="entry-when">{dated(one)}</span>
          <span class="entry-main">
            <strong>{workLabel(one.kind)}</strong>
            {one.note !== "" && `: ${one.note}`}
          </span>
          <span class="entry-why">{signed(one.who)}</span>
        </li>
      ))}
    </ul>
  );
}

/** When what wears was last seen to, and how much the plant has run since. Nothing where nothing is on record. */
export function Upkeep({ said }: { said: Said<WorkDone> }) {
  const { units } = usePage();
  if (said.kind !== "ready") return null;
  const rows = lastUpkeep(said.value.work).map((one): Row => {
    const made = withUnit(one.product_l_since, "volume", units);
    return [workLabel(one.kind), dated(one), `pump ${duration(one.pump_s_since)} since, ${made} made`];
  });
  if (rows.length === 0) return null;
  return (
    <>
      <h3>Last maintenance</h3>
      <Rows rows={rows} />
    </>
  );
}
