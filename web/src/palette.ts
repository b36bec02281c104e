/** Day, dusk and night. Until a person chooses, the device's own setting counts. */

import { useEffect, useState } from "preact/hooks";

export type Palette = "day" | "dusk" | "night";

export const PALETTES: readonly Palette[] = ["day", "dusk", "night"];
const KEY = "halocline.palette";
const CHANGED = "halocline-palette";

function remembered(): Palette | null {
  try {
    const kept = localStorage.getItem(KEY);
    return PALETTES.find((palette) => palette === kept) ?? null;
  } catch {
    return null;
  }
}

function fromDevice(): Palette {
  return typeof matchMedia === "function" && matchMedia("(prefers-color-scheme: dark)").matches
    ? "dusk"
    : "day";
}

export function currentPalette(): Palette {
  const shown = document.documentElement.dataset["palette"];
  return PALETTES.find((palette) => palette === shown) ?? remembered() ?? fromDevice();
}

function apply(palette: Palette): void {
  document.documentElement.dataset["palette"] = palette;
  dispatchEvent(new Event(CHANGED));
}

export function choosePalette(palette: Palette): void {
  try {
    localStorage.setItem(KEY, palette);
  } catch {
    // A private window keeps nothing; the choice holds until it is closed.
  }
  apply(palette);
}

/** Applies the palette now and follows the device until one is chosen. */
export function startPalette(): void {
  apply(remembered() ?? fromDevice());
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    if (remembered() === null) apply(fromDevice());
  });
}

export function usePalette(): Palette {
  const [palette, set] = useState(currentPalette);
  useEffect(() => {
    const follow = () => set(currentPalette());
    follow();
    addEventListener(CHANGED, follow);
    return () => removeEventListener(CHANGED, follow);
  }, []);
  return palette;
}

export function nextPalette(palette: Palette): Palette {
  return PALETTES[(PALETTES.indexOf(palette) + 1) % PALETTES.length] ?? "day";
}
