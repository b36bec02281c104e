import { useEffect, useRef, useState } from "preact/hooks";
import { actions, type Action } from "./actions";
import { openSession, sendCommand, type Answer, type Arguments, type Snapshot } from "./api";
import { instant, view, type Instant, type Seen, type View } from "./age";
import { RefusedSheet } from "./dialogs/RefusedSheet";
import { capital, plain } from "./format";
import { ActionBar } from "./frame/ActionBar";
import { presses, toAcknowledge } from "./alarms";
import { AlarmLine, AlarmStrip } from "./frame/AlarmStrip";
import { useFocusKept } from "./frame/focus";
import { useInSight } from "./frame/inSight";
import { AskLine } from "./frame/AskLine";
import { Banners } from "./frame/Banners";
import { RoomBar } from "./frame/RoomBar";
import { Sentence } from "./frame/Sentence";
import { TopLine } from "./frame/TopLine";
import { watch, type Watching } from "./live";
import { Now } from "./now/Now";
import { PageContext, type Page } from "./page";
import { fetchWhenIdle, FlushSheet, Health, Log, PinDialog, Plan, StartSheet, Trends } from "./parts";
import { useRoute, type Route } from "./router";
import { METRIC } from "./units";

const TICK_MS = 500;
const TOLD_MS = 6000;

interface PinOver {
  kind: "pin";
  wants: "session" | "again";
  why: string | null;
  command: string;
  args: Arguments;
  /** Whoever gave the command hears what became of it. */
  done: (taken: boolean) => void;
}

/** What lies over the page: one thing at a time. */
export type Over =
  | { kind: "start"; litres?: number }
  | { kind: "flush" }
  | { kind: "refused"; title: string; reasons: string[] }
  | PinOver
  | { kind: "read_pin" };

function useTick(): void {
  const [, set] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => set((count) => count + 1), TICK_MS);
    return () => clearInterval(timer);
  }, []);
}

function useStream(): { seen: Seen; again: () => void } {
  const [seen, setSeen] = useState<Seen>(() => ({
    snapshot: null,
    heard: null,
    began: instant(),
    wantsPin: false,
  }));
  const watching = useRef<Watching | null>(null);
  useEffect(() => {
    const started = watch(setSeen);
    watching.current = started;
    return started.stop;
  }, []);
  return { seen, again: () => watching.current?.again() };
}

const STOP_FAILED = "Stop did not get through. Press the stop button at the plant.";
const ANSWERS_AGAIN =
  "The boat's computer answers again. That stop was lost: press Stop again if it is still wanted.";

const NOT_NOW = "A run can be started while the plant is at rest and no alarm waits to be seen.";

/** The sheet of a start with so much asked for, or why none would be taken now. */
export function startOver(shown: View, drive: Snapshot["drive"] | undefined, litres: number): Over {
  const start = actions(shown, drive ?? null).offered.find(({ id }) => id === "start");
  const reasons = start === undefined ? [NOT_NOW] : start.refused;
  return reasons.length > 0
    ? { kind: "refused", title: "Why not start?", reasons }
    : { kind: "start", litres };
}

export interface Commands {
  over: Over | null;
  told: { text: string; bad: boolean } | null;
  /** Puts this in the place of the good news of a moment ago; bad news stays. */
  tell: (text: string | null) => void;
  /** The plant is heard again: that a stop was lost is past, and the page can be trusted with the next. */
  heardAgain: () => void;
  show: (over: Over | null) => void;
  perform: (command: string, args?: Arguments) => Promise<boolean> | void;
  performWithPin: (asked: PinOver, pin: string, name: string) => Promise<string | null>;
}

/** Gives commands and turns every answer into something a person sees. */
function useCommands(): Commands {
  const [over, show] = useState<Over | null>(null);
  const [told, setTold] = useState<{ text: string; bad: boolean } | null>(null);
  useEffect(() => {
    if (told === null || told.bad) return;
    const timer = setTimeout(() => setTold(null), TOLD_MS);
    return () => clearTimeout(timer);
  }, [told]);

  const settle = (command: string, args: Arguments, answer: Answer, done: (taken: boolean) => void) => {
    if (answer.kind !== "pin") done(answer.kind === "accepted");
    const name = capital(plain(command));
    setTold(null);
    switch (answer.kind) {
      case "accepted":
        show(null);
        setTold({ text: answer.told.length > 0 ? answer.told.join(" ") : `${name}: accepted.`, bad: false });
        return;
      case "refused":
        show({ kind: "refused", title: `${name} was refused`, reasons: answer.reasons });
        return;
      case "pin":
        show({ kind: "pin", wants: answer.wants, why: answer.text, command, args, done });
        return;
      case "failed":
        show(null);
        setTold({ text: command === "stop" ? STOP_FAILED : `${name}: ${answer.text}`, bad: true });
    }
  };

  const perform = async (command: string, args: Arguments = {}) => {
    setTold({ text: `${capital(plain(command))}: asking…`, bad: false });
    const answer = await sendCommand(command, args);
    return new Promise<boolean>((done) => settle(command, args, answer, done));
  };

  // The PIN goes along with the command: the gravest ones want it even from an open session.
  const performWithPin = async ({ wants, command, args, done }: PinOver, pin: string, name: string) => {
    const refusal = wants === "session" ? await openSession(pin, name) : null;
    if (refusal !== null) return refusal;
    const answer = await sendCommand(command, { ...args, pin });
    if (answer.kind === "pin") return answer.text ?? "That is not the PIN.";
    settle(command, args, answer, done);
    return null;
  };

  const tell = (text: string | null) =>
    setTold((known) => {
      if (known?.bad === true) return known;
      return text === null ? null : { text, bad: false };
    });
  const heardAgain = () =>
    setTold((known) => (known?.text === STOP_FAILED ? { text: ANSWERS_AGAIN, bad: false } : known));
  return { over, told, tell, heardAgain, show, perform, performWithPin };
}

function Rooms({ route }: { route: Route }) {
  switch (route.room) {
    case "now":
      return <Now />;
    case "trends":
      return <Trends query={route.query} />;
    case "log":
      return <Log rest={route.rest} />;
    case "health":
      return <Health rest={route.rest} />;
    case "plan":
      return <Plan />;
  }
}

function Overlay({ commands, again }: { commands: Commands; again: () => void }) {
  const { over, show, perform } = commands;
  const close = () => show(null);
  switch (over?.kind) {
    case "start":
      return <StartSheet litres={over.litres} onClose={close} onStart={(args) => perform("start", args)} />;
    case "flush":
      return <FlushSheet onClose={close} onFlush={() => perform("flush")} />;
    case "refused":
      return <RefusedSheet title={over.title} reasons={over.reasons} onClose={close} />;
    case "pin":
      return (
        <PinDialog
          why={over.why}
          asksName={over.wants === "session"}
          onClose={close}
          onPin={(pin, name) => commands.performWithPin(over, pin, name)}
        />
      );
    case "read_pin":
      return (
        <PinDialog
          why="The owner shows this page only to those who know the PIN."
          asksName
          onClose={close}
          onPin={async (pin, name) => {
            const refusal = await openSession(pin, name);
            if (refusal === null) {
              close();
              again();
            }
            return refusal;
          }}
        />
      );
    default:
      return null;
  }
}

function Told({ told }: { told: Commands["told"] }) {
  return (
    <p class={`told${told === null ? " empty" : ""}${told?.bad === true ? " bad" : ""}`} role="status">
      {told?.text}
    </p>
  );
}

export interface ScreenProps {
  seen: Seen;
  now: Instant;
  route: Route;
  commands: Commands;
  again: () => void;
}

/** All that is seen of what was heard: everything the page shows, and nothing that fetches the snapshot. */
export function Screen({ seen, now, route, commands, again }: ScreenProps) {
  const { over, perform, show } = commands;
  const { snapshot } = seen;
  const shown = view(seen, now);
  const openStart = (litres: number) => show(startOver(shown, snapshot?.drive, litres));
  const page: Page = { snapshot, view: shown, units: snapshot?.units ?? METRIC, perform, openStart };

  const main = useRef<HTMLElement>(null);
  const unseen = shown.past ? [] : toAcknowledge(shown.plant);
  const inSight = useInSight(main, ".alarm.unseen", `${unseen[0]?.id} ${route.room}`);
  const askInSight = useInSight(main, ".ask", `${shown.plant?.ask?.id} ${unseen.length > 0} ${route.room}`);
  const elsewhere = route.room !== "now";
  const place = [route.room, ...route.rest].join("/");
  const pressing = unseen
    .filter(presses)
    .map((alarm) => alarm.id)
    .join(" ");
  const toTop = () => {
    if (main.current !== null) main.current.scrollTop = 0;
  };
  const seeNow = () => {
    location.hash = "#/now";
    toTop();
  };
  useEffect(toTop, [place]);
  // What was asked for or refused a moment ago lies over no other room, and over no alarm that comes.
  useEffect(() => {
    const moves = over?.kind === "start" || over?.kind === "flush";
    if (over?.kind === "refused" || moves) show(null);
    if (moves) commands.tell("Nothing was started.");
    else if (pressing !== "") commands.tell(null);
  }, [place, pressing]);

  const live = shown.link.kind === "live";
  useEffect(() => {
    if (live) commands.heardAgain();
  }, [live]);

  const buttons = actions(shown, snapshot?.drive, inSight).offered.map(({ id }) => id);
  useFocusKept(main, `${buttons.join(" ")} ${over === null}`);

  const onAction = (action: Action) => {
    if (action.refused.length > 0) {
      const title = `Why not ${action.label.replace("…", "").toLowerCase()}?`;
      show({ kind: "refused", title, reasons: action.refused });
    } else if (action.id === "start" || action.id === "flush") show({ kind: action.id });
    else if (action.id === "see_alarm") seeNow();
    else perform(action.id, action.args);
  };

  return (
    <PageContext.Provider value={page}>
      <TopLine
        boat={snapshot?.boat ?? null}
        simulated={snapshot?.simulated === true}
        link={shown.link}
        inert={over !== null}
      />
      {(elsewhere || !inSight) && <AlarmLine onPress={seeNow} />}
      <main class={`room in-${route.room}`} tabIndex={0} inert={over !== null} ref={main}>
        <AlarmStrip brief={elsewhere} />
        <Banners />
        <Sentence brief={elsewhere} />
        <Rooms route={route} />
      </main>
      <Overlay commands={commands} again={again} />
      <footer class="bottom">
        <Told told={commands.told} />
        {(elsewhere || !askInSight) && <AskLine onPress={seeNow} />}
        <ActionBar
          calm={route.rest[0] === "task"}
          alarmInSight={inSight && !elsewhere}
          onAction={onAction}
          onStop={() => perform("stop")}
        />
        <RoomBar room={route.room} />
      </footer>
    </PageContext.Provider>
  );
}

export function App() {
  useTick();
  const { seen, again } = useStream();
  const route = useRoute();
  const commands = useCommands();
  const { snapshot, wantsPin } = seen;
  const known = snapshot !== null;
  useEffect(() => (known ? fetchWhenIdle() : undefined), [known]);
  useEffect(() => {
    if (wantsPin) commands.show({ kind: "read_pin" });
  }, [wantsPin]);
  useEffect(() => {
    document.title = `${snapshot?.boat ?? "Halocline"}${snapshot?.simulated === true ? " (simulated)" : ""}`;
  }, [snapshot?.boat, snapshot?.simulated]);
  return <Screen seen={seen} now={instant()} route={route} commands={commands} again={again} />;
}
