// Looks at the built page in a real browser: pictures of every state, and what axe-core has to say.
//   npm run look -- [--fixtures a,b] [--palettes day,dusk,night] [--sizes 360x740,1440x900] [--rooms now,trends]
//                   [--gallery] [--out pictures] [--no-pictures] [--no-axe]
// The browser is CHROMIUM or /usr/bin/chromium.
import { mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { parseArgs } from "node:util";
import { chromium } from "playwright-core";
import { fixtureNames } from "./fixture-api.mjs";
import { startServer } from "./fixture-server.mjs";

const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];

const { values } = parseArgs({
  options: {
    fixtures: { type: "string", default: fixtureNames().join() },
    palettes: { type: "string", default: "day,dusk,night" },
    sizes: { type: "string", default: "360x740" },
    rooms: { type: "string", default: "now" },
    out: { type: "string", default: "pictures" },
    gallery: { type: "boolean", default: false },
    "no-pictures": { type: "boolean", default: false },
    "no-axe": { type: "boolean", default: false },
  },
});

const READY = ".said, .ask";
let violations = 0;

async function judge(page, name) {
  await page.evaluate(AXE);
  const found = await page.evaluate((tags) => globalThis.axe.run(document, { runOnly: tags }), RULES);
  for (const violation of found.violations) {
    violations += 1;
    const where = violation.nodes
      .slice(0, 3)
      .map((node) => `${node.target.join(" ")}: ${node.failureSummary}`);
    console.log(`${name}: ${violation.id}: ${violation.help}\n  ${where.join("\n  ")}`);
  }
}

async function open(browser, url, palette, size) {
  const [width, height] = size.split("x").map(Number);
  const context = await browser.newContext({
    viewport: { width, height },
    deviceScaleFactor: width < 600 ? 2 : 1,
    reducedMotion: "reduce",
  });
  await context.addInitScript((chosen) => localStorage.setItem("halocline.palette", chosen), palette);
  const page = await context.newPage();
  page.on("console", (message) => {
    if (!["error", "warning"].includes(message.type())) return;
    violations += 1;
    console.log(`browser: ${message.text()}`);
  });
  page.on("pageerror", (error) => {
    violations += 1;
    console.log(`browser: ${error.message}`);
  });
  await page.goto(url);
  return page;
}

async function settle(page, room) {
  await page.waitForSelector(READY);
  if (room === "trends") await page.waitForSelector(".plot canvas");
  await page.waitForTimeout(room === "now" ? 150 : 500);
}

async function look(page, name) {
  if (!values["no-pictures"]) await page.screenshot({ path: `${values.out}/${name}.png` });
  if (!values["no-axe"]) await judge(page, name);
}

async function states(browser, url, palette, size) {
  for (const fixture of values.fixtures.split(",")) {
    await fetch(`${url}/fixtures/${fixture}`, { method: "PUT" });
    for (const room of values.rooms.split(",")) {
      const page = await open(browser, `${url}/#/${room}`, palette, size);
      await settle(page, room);
      await look(page, `${fixture}-${room}-${palette}-${size}`);
      await page.context().close();
    }
  }
}

async function gallery(browser, url, palette, size) {
  const page = await open(browser, `${url}/gallery.html`, palette, size);
  const names = await page.$$eval(".sight", (sights) => sights.map((sight) => sight.dataset.name));
  for (const name of names) {
    await page.goto(`${url}/gallery.html?sight=${encodeURIComponent(name)}`);
    await settle(page, "gallery");
    await look(page, `gallery-${name.replace(/\W+/g, "_")}-${palette}-${size}`);
  }
  await page.context().close();
}

const { server, url } = await startServer({ root: values.gallery ? "dist-gallery" : "dist" });
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--hide-scrollbars"],
});
mkdirSync(values.out, { recursive: true });
try {
  for (const palette of values.palettes.split(",")) {
    for (const size of values.sizes.split(",")) {
      await (values.gallery ? gallery : states)(browser, url, palette, size);
    }
  }
} finally {
  await browser.close();
  server.closeAllConnections();
  server.close();
}
console.log(violations === 0 ? "Nothing found." : `${violations} found.`);
process.exit(violations === 0 ? 0 : 1);
