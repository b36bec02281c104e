import { useState } from "preact/hooks";
import type { Schemas } from "../api";
import { unbroken } from "../format";
import { usePage } from "../page";
import { Chart } from "../parts";
import { drawn, type Figure } from "./figures";
import { FindingNotice } from "./Finding";

type Said = Pick<Schemas["Health"], "membrane" | "note">;

const HEIGHT_PX = 116;
const NOTHING: never[] = [];
const nothing = () => undefined;

/** One figure in words, and its band over time. */
function FigureOverTime({ figure }: { figure: Figure }) {
  const { units } = usePage();
  const [reading, setReading] = useState<string | null>(null);
  const course = drawn(figure, units);
  return (
    <figure class="ageing">
      <figcaption>
        <strong>{figure.name}</strong>
        <span>{unbroken(reading ?? figure.now)}</span>
      </figcaption>
      {course !== null && (
        <Chart
          words={course.words}
          series={course.series}
          range={course.range}
          bands={NOTHING}
          marks={NOTHING}
          limit={course.limit}
          {...(course.y === undefined ? {} : { y: course.y })}
          height={HEIGHT_PX}
          onRange={nothing}
          onReading={setReading}
        />
      )}
      {figure.end !== "" && <p class="hint">{unbroken(figure.end)}</p>}
    </figure>
  );
}

function pastWords(complete: boolean): string {
  const kept =
    "Line and band are what was to be told on each day, 80 % sure, computed from the record as it was then.";
  return complete ? kept : `${kept} Earlier days are still being computed.`;
}

/** How the plant ages, in the program's own words: the story, each figure over time, and behind them why it says so. */
export function Ageing({ membrane, note }: Said) {
  if (membrane === null) return note === null ? null : <p class="nothing">{note}</p>;
  const { figures, finding } = membrane;
  const anyCourse = figures.some(({ band }) => band.estimate.filter((value) => value !== null).length > 1);
  return (
    <>
      <h3>How it ages</h3>
      {finding === null ? <p>{membrane.sentence}</p> : <FindingNotice finding={finding} />}
      {figures.map((figure) => (
        <FigureOverTime key={figure.name} figure={figure} />
      ))}
      {anyCourse && <p class="hint">{pastWords(membrane.past_complete)}</p>}
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
