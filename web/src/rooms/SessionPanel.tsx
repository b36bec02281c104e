import { useState } from "preact/hooks";
import { closeSession, type SessionState } from "../api";
import { useRead } from "./useRead";

/** Says whether this device may give commands without the PIN, and lets go of it: the phone may change hands. */
export function SessionPanel() {
  const said = useRead<SessionState>("/session");
  const [closed, setClosed] = useState(false);
  if (said.kind !== "ready" || !said.value.needed || !said.value.present) return null;
  if (closed) return <p class="hint">This device has to bring the PIN again.</p>;
  const who = said.value.name === null || said.value.name === "" ? "" : ` as ${said.value.name}`;
  return (
    <div class="owed confirm">
      <p>This device may give commands{who}: the PIN was entered on it.</p>
      <button type="button" class="plain" onClick={() => void closeSession().then(() => setClosed(true))}>
        Let go of that
      </button>
    </div>
  );
}
