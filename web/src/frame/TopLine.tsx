import type { Link } from "../age";
import { duration } from "../format";
import { choosePalette, nextPalette, usePalette, type Palette } from "../palette";

function age(age_s: number | null): string {
  return age_s === null ? "" : ` ${duration(age_s)}`;
}

/** The state of the link in a word or two, and whether it is worth worrying about. */
export function linkWords(link: Link): { text: string; state: "live" | "late" | "lost" } {
  switch (link.kind) {
    case "live":
      return { text: "live", state: "live" };
    case "late":
      return { text: `${Math.round(link.age_s)} s old`, state: "late" };
    case "seeking":
      return { text: "looking…", state: "late" };
    case "unreachable":
      return { text: "no link", state: "lost" };
    case "page_lost":
    case "control_lost":
      return { text: `lost${age(link.age_s)}`, state: "lost" };
  }
}

const GLYPHS: Record<Palette, string> = {
  day: "M12 7a5 5 0 1 1 0 10 5 5 0 0 1 0-10zM12 1v3M12 20v3M1 12h3M20 12h3M4.2 4.2l2.1 2.1M17.7 17.7l2.1 2.1M4.2 19.8l2.1-2.1M17.7 6.3l2.1-2.1",
  dusk: "M2 17h20M6 17a6 6 0 0 1 12 0M12 5v3M3.5 10.5l2 1.5M20.5 10.5l-2 1.5M7 21h10",
  night: "M19 14.5A8 8 0 1 1 10.5 4a6.5 6.5 0 0 0 8.5 10.5z",
};

function PaletteSwitch() {
  const palette = usePalette();
  const next = nextPalette(palette);
  return (
    <button
      type="button"
      class="palette"
      onClick={() => choosePalette(next)}
      aria-label={`Colours: ${palette}. Change to ${next}.`}
    >
      <svg viewBox="0 0 24 24" aria-hidden="true">
        <path d={GLYPHS[palette]} />
      </svg>
      <span aria-hidden="true">{palette}</span>
    </button>
  );
}

/** The boat, the health of the link, the palette; and that nothing of it is real, where it is not. */
export function TopLine({
  boat,
  simulated,
  link,
  inert = false,
}: {
  boat: string | null;
  simulated: boolean;
  link: Link;
  inert?: boolean;
}) {
  const { text, state } = linkWords(link);
  return (
    <header class="top" inert={inert}>
      {simulated && (
        <p class="simulated">
          <strong>SIMULATED</strong> <span>no real water, no real plant</span>
        </p>
      )}
      <div class="top-line">
        <h1>{boat ?? "Halocline"}</h1>
        <p class={`link ${state}`}>
          <svg viewBox="0 0 12 12" aria-hidden="true">
            {state === "lost" ? <path d="M2 2l8 8M10 2l-8 8" /> : <circle cx="6" cy="6" r="4" />}
          </svg>
          <span class="hidden">Link to the plant: </span>
          {text}
        </p>
        <PaletteSwitch />
      </div>
    </header>
  );
}
