// What the first look at the page costs on the wire, compressed. Fails above 60 kB.
import { readdirSync, readFileSync } from "node:fs";
import { gzipSync } from "node:zlib";
import { fileURLToPath } from "node:url";

const LIMIT_BYTES = 60_000;
const dist = fileURLToPath(new URL("../dist/", import.meta.url));
const html = readFileSync(`${dist}index.html`, "utf8");
const names = ["index.html", "favicon.svg", ...readdirSync(`${dist}assets`).map((name) => `assets/${name}`)];
let first = 0;
let all = 0;
for (const name of names) {
  const bytes = gzipSync(readFileSync(dist + name)).length;
  const atOnce = name === "index.html" || html.includes(name);
  if (atOnce) first += bytes;
  all += bytes;
  console.log(`${String(bytes).padStart(7)} B  ${atOnce ? "first" : "later"}  ${name}`);
}
console.log(`first load ${first} B, everything ${all} B, limit ${LIMIT_BYTES} B`);
if (first > LIMIT_BYTES) process.exit(1);
