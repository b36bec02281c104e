import { useState } from "preact/hooks";
import type { Address } from "../api";
import { usePalette } from "../palette";
import { useRead } from "./useRead";

/** A code is white paper: at night it is shown only on request. */
function Code({ url }: { url: string }) {
  const night = usePalette() === "night";
  const [wanted, setWanted] = useState(false);
  if (night && !wanted) {
    return (
      <button type="button" class="plain" onClick={() => setWanted(true)}>
        Show the code (bright)
      </button>
    );
  }
  return <img class="qr" src="/api/v1/address/qr.svg" alt={`QR code of ${url}`} width="200" height="200" />;
}

/** Where this page is reached from another phone: the address and a code to point a camera at. */
export function OtherPhones() {
  const said = useRead<Address>("/address", 300);
  if (said.kind !== "ready") return null;
  const { addresses, best, note } = said.value;
  return (
    <details class="picker">
      <summary>This page on another phone</summary>
      <div class="other-phones">
        <p class="hint">{note}</p>
        <ul class="addresses">
          {addresses
            .filter((one) => one.kind !== "this_computer" || best === null)
            .map((one) => (
              <li key={one.url}>
                <code>{one.url}</code>
              </li>
            ))}
        </ul>
        {best !== null && <Code url={best} />}
      </div>
    </details>
  );
}
