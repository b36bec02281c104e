import { readFileSync } from "node:fs";
import { defineConfig, type Plugin } from "vite";
import { fixtureApi } from "./scripts/fixture-api.mjs";

// The program's own: the one place where it stands.
const program = readFileSync(new URL("../daemon/halocline/__init__.py", import.meta.url), "utf8");
const version = /^__version__ = "(.+)"$/m.exec(program)?.[1];
if (version === undefined) throw new Error("daemon/halocline/__init__.py names no __version__");

// `npm run dev` answers from the fixtures, or from a running daemon named in HALOCLINE_URL.
const daemon = process.env["HALOCLINE_URL"];

const fixtures: Plugin = {
  name: "fixtures",
  configureServer(server) {
    if (daemon === undefined) server.middlewares.use(fixtureApi());
  },
};

export default defineConfig(({ mode }) => ({
  define: { __VERSION__: JSON.stringify(version) },
  plugins: [fixtures],
  ...(daemon === undefined ? {} : { server: { proxy: { "/api": daemon } } }),
  build: {
    target: "es2020",
    cssTarget: ["chrome90", "firefox90", "safari14"],
    // The server's policy allows files from itself only: nothing may be inlined as a data: address.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    ...(mode === "gallery"
      ? { outDir: "dist-gallery", rollupOptions: { input: ["index.html", "gallery.html"] } }
      : { outDir: "dist" }),
  },
  test: {
    environment: "jsdom",
    include: ["tests/**/*.test.{ts,tsx}"],
    environmentOptions: { jsdom: { url: "http://cagarra.local:8080/" } },
  },
}));
