import { usePage } from "../page";
import { Conditions } from "./Conditions";

/** True when the server's version is a later one than the page's. */
export function newerThan(server: string, page: string): boolean {
  const parts = (text: string) =>
    text
      .split(/[.+-]/)
      .slice(0, 3)
      .map((part) => Number.parseInt(part, 10) || 0);
  const theirs = parts(server);
  const ours = parts(page);
  for (let at = 0; at < 3; at += 1) {
    const difference = (theirs[at] ?? 0) - (ours[at] ?? 0);
    if (difference !== 0) return difference > 0;
  }
  return false;
}

/** What stands over everything else for a while: a lock, trouble with the computer itself. */
export function Banners() {
  const { snapshot, view, perform } = usePage();
  const locked = view.plant?.locked ?? null;
  const version = snapshot?.version ?? null;
  return (
    <>
      <Conditions />
      {version !== null && newerThan(version, __VERSION__) && (
        <section class="banner" aria-label="Page">
          <p>This page is older than the boat's computer.</p>
          <button type="button" class="plain" onClick={() => location.reload()}>
            Load it anew
          </button>
        </section>
      )}
      {locked !== null && (
        <section class="banner lock" aria-label="Service lock">
          <p>
            <strong>Locked by {locked.name}:</strong> {locked.reason}
          </p>
          {view.plant?.allowed_commands?.includes("service_unlock") === true && !view.past && (
            <button type="button" class="plain" onClick={() => perform("service_unlock")}>
              Unlock
            </button>
          )}
        </section>
      )}
    </>
  );
}
