// Types of the interface from the daemon's own description:  npm run types -- path/to/openapi.json
import { mkdirSync, writeFileSync } from "node:fs";
import { resolve } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import openapiTS, { astToString } from "openapi-typescript";

const source = process.argv[2];
if (source === undefined) {
  console.error("Say which description: npm run types -- path/to/openapi.json");
  process.exit(2);
}
const folder = fileURLToPath(new URL("../src/generated/", import.meta.url));
mkdirSync(folder, { recursive: true });
const types = await openapiTS(pathToFileURL(resolve(source)));
writeFileSync(`${folder}api.d.ts`, `// Made by npm run types. Do not edit.\n\n${astToString(types)}`);
console.log("src/generated/api.d.ts written");
