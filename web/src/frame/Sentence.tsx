import { useEffect, useRef } from "preact/hooks";
import type { Link } from "../age";
import type { Ask } from "../api";
import { inOrder, wantsAcknowledging } from "../alarms";
import { duration, unbroken } from "../format";
import { usePage } from "../page";
import { Hand, useWatched } from "./AskLine";
import { FileProblems, ofTheLink } from "./Conditions";
import { Owed } from "./Owed";
import { useSpoken } from "./spoken";
import { StillThere } from "./StillThere";

interface Loss {
  what: string;
  todo: string;
}

function since(age_s: number | null): string {
  return age_s === null ? "" : ` for ${duration(age_s)}`;
}

/** What a broken link means and what to do, in words; null while there is news. */
export function lossWords(link: Link): Loss | null {
  switch (link.kind) {
    case "page_lost":
      return {
        what: `No news from the boat's computer${since(link.age_s)}. What the plant does now is not known here.`,
        todo: "Check that this device is still in the boat's network. In doubt, press the stop button at the plant.",
      };
    case "control_lost":
      return {
        what: `The plant's control has been silent${since(link.age_s)}. What the plant does now is not known here.`,
        todo: "Look at the boat's computer: is the control process running?",
      };
    case "unreachable":
      return {
        what: "The boat's computer does not answer.",
        todo: "Check that it has power and that this device is in the boat's network. The page goes on trying.",
      };
    case "seeking":
      return { what: "Looking for the boat's computer…", todo: "" };
    default:
      return null;
  }
}

/** Says a new sentence to a screen reader when the state changes, not with every litre. */
function StateAnnouncer({ state, sentence }: { state: string | null; sentence: string | null }) {
  const [text, say] = useSpoken();
  const known = useRef(state);
  useEffect(() => {
    if (known.current !== state && sentence !== null) say(sentence);
    known.current = state;
  }, [state]);
  return (
    <p class="hidden" role="status">
      {text}
    </p>
  );
}

interface AskBoxProps {
  text: string;
  whole?: boolean;
  plain?: boolean;
  /** The number to look at, where the text does not say it. */
  watched?: string | null;
}

/** What only a person can do, now. */
function AskBox({ text, whole = false, plain = false, watched = null }: AskBoxProps) {
  return (
    <div class={`ask${whole ? " whole" : ""}`}>
      <Hand />
      <p>
        {!plain && <span class="ask-for">For you to do:</span>} {unbroken(text)}
        {watched !== null && <span class="ask-now"> {unbroken(watched)}</span>}
      </p>
    </div>
  );
}

function Said({ sentence, ask }: { sentence: string | null; ask: Ask | null }) {
  const watched = useWatched(ask);
  if (ask === null || ask.text === null)
    return <p class="said">{unbroken(sentence) ?? "The boat's computer gives no words for this state."}</p>;
  const whole = sentence ?? "";
  // Where the request stands in the middle of the sentence, that is the request, and begins with what it is about.
  if (ask.place === "start" || ask.place === "within")
    return <AskBox text={whole} whole plain={ask.place === "within"} />;
  const apart = ask.place === "end" ? whole.slice(0, whole.length - ask.text.length).trim() : whole;
  return (
    <>
      {apart !== "" && <p class="said">{unbroken(apart)}</p>}
      <AskBox text={ask.text} whole={apart === ""} watched={watched} />
    </>
  );
}

const AT_THE_PLANT = "If the plant still runs, stop it by hand at the plant.";

/**
 * One big line: what the plant does and why, and what it waits for. In brief, beside a room's own matter, what is asked
 * of a person stands in its own line below, and what an alarm says louder is not said again.
 */
export function Sentence({ brief = false }: { brief?: boolean }) {
  const { view, snapshot } = usePage();
  const loss = lossWords(view.link);
  const known = view.plant?.sentence ?? null;
  // While control is lost the server may know why; while the server is lost nobody does.
  const lost = view.link.kind === "control_lost";
  const why = lost ? (snapshot?.sentence ?? null) : null;
  const cause = lost ? ofTheLink(snapshot?.conditions ?? []) : null;
  if (loss !== null) {
    return (
      <section class={`sentence lost ${cause?.id ?? view.link.kind}`} aria-label="What the plant does">
        <p class="said">{unbroken(why ?? cause?.means ?? loss.what)}</p>
        {lost && <p class="todo">{AT_THE_PLANT}</p>}
        {(cause?.do ?? loss.todo) !== "" && <p class="todo">{cause?.do ?? loss.todo}</p>}
        <FileProblems problems={cause?.problems ?? []} />
        {known !== null && (
          <p class="past-mark">
            Last known{view.lag_s < Infinity ? `, ${duration(view.lag_s)} ago` : ""}: {known}
          </p>
        )}
      </section>
    );
  }
  // An alarm that nobody has acknowledged says the same louder: then the sentence leaves room for what is asked.
  const louder = inOrder(view.plant).some(wantsAcknowledging);
  return (
    <section class={`sentence${louder ? " under-alarm" : ""}`} aria-label="What the plant does">
      <StateAnnouncer state={snapshot?.state ?? null} sentence={known} />
      {(!brief || !louder) && <Said sentence={known} ask={brief ? null : (view.plant?.ask ?? null)} />}
      <StillThere />
      <Owed />
    </section>
  );
}
