import { useEffect, useRef, useState } from "preact/hooks";
import {
  announcement,
  inOrder,
  PRIORITY_WORDS,
  presses,
  speaksUp,
  stateWords,
  wantsAcknowledging,
} from "../alarms";
import type { Alarm } from "../api";
import { duration, moment, unbroken } from "../format";
import { usePage } from "../page";
import { Shape } from "./Shape";
import { useSpoken } from "./spoken";

/** What to do stays in sight as long as nobody has acknowledged; what happens otherwise is one press away. */
function Details({ alarm, all, todo }: { alarm: Alarm; all: boolean; todo: boolean }) {
  if (!all && !todo) return null;
  return (
    <dl class="alarm-details">
      <div>
        <dt>Do:</dt> <dd>{unbroken(alarm.do)}</dd>
      </div>
      {all && (
        <div>
          <dt>If ignored:</dt> <dd>{unbroken(alarm.ignored)}</dd>
        </div>
      )}
    </dl>
  );
}

function Since({ alarm }: { alarm: Alarm }) {
  if (alarm.since !== null) return <time dateTime={alarm.since}>{moment(alarm.since)}</time>;
  return alarm.since_s === null ? null : <span class="since">{duration(alarm.since_s)} ago</span>;
}

function Heading({ alarm, first }: { alarm: Alarm; first: boolean }) {
  const state = stateWords(alarm);
  return (
    <p class="alarm-heading">
      <Shape priority={alarm.priority} open={!wantsAcknowledging(alarm)} />
      <strong>{PRIORITY_WORDS[alarm.priority]}</strong>
      {first && <span class="first">First cause</span>}
      {state !== null && <span>{state}</span>}
      <Since alarm={alarm} />
    </p>
  );
}

interface OneAlarmProps {
  alarm: Alarm;
  first: boolean;
}

function Acknowledge({ alarm }: { alarm: Alarm }) {
  const { view, perform } = usePage();
  if (!wantsAcknowledging(alarm) || view.past) return null;
  return (
    <button type="button" class="plain" onClick={() => perform("acknowledge", { alarm: alarm.id })}>
      Acknowledge<span class="hidden">: {alarm.means}</span>
    </button>
  );
}

function classOf(alarm: Alarm): string {
  return `alarm ${alarm.priority}${wantsAcknowledging(alarm) ? " unseen" : ""}`;
}

/** The highest: what it means, and what to do as long as that is not done or nobody has acknowledged. */
function TopAlarm({ alarm, first }: OneAlarmProps) {
  const { view, perform } = usePage();
  const open = wantsAcknowledging(alarm);
  const [details, setDetails] = useState(false);
  const todo = open || (alarm.priority === "urgent" && alarm.state === "acknowledged");
  return (
    <li class={classOf(alarm)}>
      <Heading alarm={alarm} first={first} />
      <p class="alarm-means">{unbroken(alarm.means)}</p>
      <Details alarm={alarm} all={details} todo={todo} />
      <div class="alarm-buttons">
        <button type="button" class="plain" aria-expanded={details} onClick={() => setDetails(!details)}>
          {details ? "Less" : "More"}
          <span class="hidden"> on: {alarm.means}</span>
        </button>
        <Acknowledge alarm={alarm} />
        {open && !view.past && (
          <button type="button" class="plain" onClick={() => perform("silence")}>
            Silence
          </button>
        )}
      </div>
    </li>
  );
}

/** A further alarm: one line, which opens. Acknowledged only where it has been opened and so been read. */
function FurtherAlarm({ alarm, first }: OneAlarmProps) {
  const [opened, setOpened] = useState(false);
  const state = stateWords(alarm);
  return (
    <li class={`${classOf(alarm)} further`}>
      <button type="button" class="alarm-open" aria-expanded={opened} onClick={() => setOpened(!opened)}>
        <Shape priority={alarm.priority} open={!wantsAcknowledging(alarm)} />
        <span>
          <strong>{PRIORITY_WORDS[alarm.priority]}:</strong> {alarm.name}
          {state !== null && <span class="alarm-state">, {state}</span>}
        </span>
        {first && <span class="first">First cause</span>}
      </button>
      {opened && (
        <div class="alarm-opened">
          <p class="alarm-means">{unbroken(alarm.means)}</p>
          <Details alarm={alarm} all todo />
          <div class="alarm-buttons">
            <Acknowledge alarm={alarm} />
            <Since alarm={alarm} />
          </div>
        </div>
      )}
    </li>
  );
}

/** Tells a screen reader when alarms come and go, and nothing while they only stand. */
function Announcer({ alarms }: { alarms: Alarm[] }) {
  const before = useRef<Alarm[]>([]);
  const [text, say] = useSpoken();
  const ids = alarms.map((alarm) => alarm.id).join(" ");
  useEffect(() => {
    const said = announcement(before.current, alarms);
    before.current = alarms;
    if (said !== null) say(said);
  }, [ids]);
  return (
    <p class="hidden" role="alert">
      {text}
    </p>
  );
}

function countWords(count: number): string {
  return count === 1 ? "1 more alarm" : `${count} more alarms`;
}

/** Where the alarms are out of sight, the first of them says so above everything else, and leads to it. */
export function AlarmLine({ onPress }: { onPress: () => void }) {
  const { view } = usePage();
  const standing = inOrder(view.plant).filter(speaksUp);
  const alarm = standing.find(wantsAcknowledging) ?? standing[0];
  if (alarm === undefined || view.past) return null;
  const unseen = wantsAcknowledging(alarm);
  return (
    <button type="button" class={`alarm-line ${alarm.priority}${unseen ? " unseen" : ""}`} onClick={onPress}>
      <Shape priority={alarm.priority} open={!unseen} />
      <span>
        {PRIORITY_WORDS[alarm.priority]}: {alarm.name}
      </span>
      {standing.length > 1 && <span class="alarm-others">and {standing.length - 1} more</span>}
    </button>
  );
}

/**
 * The highest with what it means and what to do, every further one that presses in a line; what is acknowledged, or can
 * wait, behind one press. In brief, nothing of it: then the alarm's line stands above the room.
 */
export function AlarmStrip({ brief = false }: { brief?: boolean }) {
  const { view } = usePage();
  const [all, setAll] = useState(false);
  const first_out = view.plant?.first_out ?? null;
  const alarms = inOrder(view.plant);
  const [top, ...rest] = alarms;
  // What presses never hides behind "more", nor does the first cause.
  const pressing = rest.filter((alarm) => alarm.id === first_out || presses(alarm));
  const others = rest.filter((alarm) => !pressing.includes(alarm));
  return (
    <section class={`alarms${view.past ? " past" : ""}`} aria-label="Alarms">
      <Announcer alarms={view.past ? [] : alarms} />
      {top !== undefined && !brief && (
        <>
          {view.past && <p class="past-mark">Last known:</p>}
          <ul>
            <TopAlarm key={top.id} alarm={top} first={top.id === first_out} />
            {[...pressing, ...(all ? others : [])].map((alarm) => (
              <FurtherAlarm key={alarm.id} alarm={alarm} first={alarm.id === first_out} />
            ))}
          </ul>
          {others.length > 0 && (
            <button type="button" class="more" aria-expanded={all} onClick={() => setAll(!all)}>
              {all ? "Fewer" : countWords(others.length)}
            </button>
          )}
        </>
      )}
    </section>
  );
}
