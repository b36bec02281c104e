import { useState } from "preact/hooks";
import type { Schemas } from "../api";
import { capital, moment, plain } from "../format";
import { Told } from "./Told";
import { useRead } from "./useRead";
import { signed } from "./work";

type Events = Schemas["Events"];
type Event = Schemas["RecordedEvent"];

const AGAIN_S = 15;

const FROM: Record<string, string> = {
  page: "page",
  cli: "command line",
  mqtt: "MQTT",
  plant: "button at the plant",
};

/** Whose it was and where it came from; nothing for what the plant did by itself. */
export function cameFrom({ who, origin }: Pick<Event, "who" | "origin">): string {
  const from = origin === null ? "" : (FROM[origin] ?? plain(origin));
  if (who === null || who === "") return capital(from);
  return [signed(who), from].filter((words) => words !== "").join(", ");
}

function Line({ event }: { event: Event }) {
  return (
    <li class="entry">
      <span class="entry-when">
        {event.time === null ? "date not known" : moment(event.time, new Date(), true)}
      </span>
      <span class="entry-main">{event.text}</span>
      <span class="entry-why">{cameFrom(event)}</span>
    </li>
  );
}

function Stretch({ said: { events, older }, newest, onGo }: StretchProps) {
  if (events.length === 0) return <p class="nothing">Nothing is on record yet.</p>;
  return (
    <>
      <ul class="entries" aria-label="What happened">
        {events.map((event) => (
          <Line key={event.key} event={event} />
        ))}
      </ul>
      <div class="span-row">
        <button type="button" class="plain" disabled={older === null} onClick={() => onGo(older)}>
          Older
        </button>
        <button type="button" class="plain" disabled={newest} onClick={() => onGo(null)}>
          Newest
        </button>
      </div>
    </>
  );
}

interface StretchProps {
  said: Events;
  newest: boolean;
  onGo: (before: string | null) => void;
}

/** Everything that happened, newest first, a stretch at a time as far back as the record goes. */
export function EventList() {
  const [before, setBefore] = useState<string | null>(null);
  const newest = before === null;
  const path = newest ? "/events" : `/events?before=${encodeURIComponent(before)}`;
  const said = useRead<Events>(path, newest ? AGAIN_S : null);
  return <Told said={said}>{(stretch) => <Stretch said={stretch} newest={newest} onGo={setBefore} />}</Told>;
}
