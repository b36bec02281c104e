import { useEffect, useRef, useState } from "preact/hooks";
import {
  announcement,
  inOrder,
  PRIORITY_WORDS,
  presses,
  stateWords,
  toAcknowledge,
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
  top: boolean;
  brief: boolean;
}

function OneAlarm({ alarm, first, top, brief }: OneAlarmProps) {
  const { view, perform } = usePage();
  const open = wantsAcknowledging(alarm);
  const [details, setDetails] = useState(false);
  const stands = open || alarm.state === "acknowledged";
  const todo = alarm.priority === "urgent" ? stands : open && top && !brief;
  return (
    <li class={`alarm ${alarm.priority}${open ? " unseen" : ""}`}>
      <Heading alarm={alarm} first={first} />
      <p class="alarm-means">{unbroken(alarm.means)}</p>
      <Details alarm={alarm} all={details} todo={todo} />
      <div class="alarm-buttons">
        <button type="button" class="plain" aria-expanded={details} onClick={() => setDetails(!details)}>
          {details ? "Less" : "More"}
          <span class="hidden"> on: {alarm.means}</span>
        </button>
        {open && (todo || details) && !view.past && (
          <button type="button" class="plain" onClick={() => perform("acknowledge", { alarm: alarm.id })}>
            Acknowledge<span class="hidden">: {alarm.means}</span>
          </button>
        )}
        {top && open && !view.past && (
          <button type="button" class="plain" onClick={() => perform("silence")}>
            Silence
          </button>
        )}
      </div>
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

/** Where the alarms are scrolled out of sight, the first of them says so above everything else, and leads to it. */
export function AlarmLine({ onPress }: { onPress: () => void }) {
  const { view } = usePage();
  const [alarm] = toAcknowledge(view.plant);
  if (alarm === undefined || view.past) return null;
  return (
    <button type="button" class={`alarm-line ${alarm.priority}`} onClick={onPress}>
      <Shape priority={alarm.priority} open={false} />
      <span>
        {PRIORITY_WORDS[alarm.priority]}: {alarm.means}
      </span>
    </button>
  );
}

/** What presses with what it means and what to do; what is acknowledged, or can wait, behind one press. */
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
      {top !== undefined && (
        <>
          {view.past && <p class="past-mark">Last known:</p>}
          <ul>
            <OneAlarm key={top.id} alarm={top} first={top.id === first_out} top brief={brief} />
            {pressing.map((alarm) => (
              <OneAlarm key={alarm.id} alarm={alarm} first={alarm.id === first_out} top={false} brief />
            ))}
            {all &&
              others.map((alarm) => (
                <OneAlarm key={alarm.id} alarm={alarm} first={false} top={false} brief />
              ))}
          </ul>
          {others.length > 0 && (
            <button type="button" class="more" aria-expanded={all} onClick={() => setAll(!all)}>
              {all ? "Only the highest" : countWords(others.length)}
            </button>
          )}
        </>
      )}
    </section>
  );
}
