// Serves the built page as the daemon does, policy included, with the fixtures behind it.
//   npm run fixtures -- [--port 4173] [--fixture producing] [--pin 123456] [--root dist] [--every 500]
// --every: milliseconds from one snapshot to the next; less than aboard lets hours pass in a minute.
import { createServer } from "node:http";
import { readFile } from "node:fs/promises";
import { fileURLToPath, pathToFileURL } from "node:url";
import { extname, join, normalize } from "node:path";
import { parseArgs } from "node:util";
import { fixtureApi } from "./fixture-api.mjs";

const KINDS = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript",
  ".css": "text/css",
  ".svg": "image/svg+xml",
};
export const POLICY =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; font-src 'self'; " +
  "manifest-src 'self'; base-uri 'none'; form-action 'self'; frame-src 'self'; frame-ancestors 'self'";

function files(root) {
  return async (request, response) => {
    const { pathname } = new URL(request.url, "http://boat.local");
    const path = normalize(join(root, pathname === "/" ? "index.html" : pathname));
    try {
      if (!path.startsWith(root)) throw new Error("outside");
      const content = await readFile(path);
      response.writeHead(200, {
        "Content-Type": KINDS[extname(path)] ?? "application/octet-stream",
        "Content-Security-Policy": POLICY,
      });
      response.end(content);
    } catch {
      response.writeHead(404);
      response.end();
    }
  };
}

export function startServer({
  port = 0,
  root = "dist",
  fixture = "producing",
  pin = null,
  every_ms = 500,
} = {}) {
  const folder = fileURLToPath(new URL(`../${root}`, import.meta.url));
  const api = fixtureApi({ name: fixture, pin, every_ms });
  const file = files(folder);
  const server = createServer((request, response) =>
    api(request, response, () => void file(request, response)),
  );
  return new Promise((resolve) => {
    server.listen(port, "127.0.0.1", () =>
      resolve({ server, url: `http://127.0.0.1:${server.address().port}` }),
    );
  });
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  const { values } = parseArgs({
    options: {
      port: { type: "string", default: "4173" },
      fixture: { type: "string", default: "producing" },
      pin: { type: "string" },
      root: { type: "string", default: "dist" },
      every: { type: "string", default: "500" },
    },
  });
  const { url } = await startServer({
    ...values,
    port: Number(values.port),
    pin: values.pin ?? null,
    every_ms: Number(values.every),
  });
  console.log(url);
}
