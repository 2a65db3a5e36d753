// The page's types against the server's own structs: same fields, null where the server may have nothing.
// The oracle is the Rust source under crates/register/src/view; run from the web folder.
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { test } from "node:test";

const views = "../crates/register/src/view";
const rust = readdirSync(views).filter((f) => f.endsWith(".rs")).map((f) => readFileSync(`${views}/${f}`, "utf8")).join("\n");
const wire = readFileSync("src/wire.ts", "utf8");

/** Structs of the contract: name to fields, with whether each may be null. */
function structs(text: string): Map<string, Map<string, boolean>> {
  const found = new Map<string, Map<string, boolean>>();
  for (const [, name, body] of text.matchAll(/pub struct (\w+) \{\n([\s\S]*?)\n\}/g)) {
    const fields = new Map<string, boolean>();
    for (const [, field, type] of (body ?? "").matchAll(/^\s*pub (\w+): (.+),$/gm)) fields.set(field as string, (type as string).startsWith("Option<"));
    found.set(name as string, fields);
  }
  return found;
}

function interfaces(text: string): Map<string, Map<string, boolean>> {
  const found = new Map<string, Map<string, boolean>>();
  for (const [, name, body] of text.matchAll(/export interface (\w+) \{\n([\s\S]*?)\n\}/g)) {
    const fields = new Map<string, boolean>();
    for (const [, field, type] of (body ?? "").matchAll(/^ {2}(\w+)\??: (.+);$/gm)) fields.set(field as string, (type as string).endsWith("| null"));
    found.set(name as string, fields);
  }
  return found;
}

test("every field that the page reads is a field that the server writes, null where the server may write null", () => {
  const server = structs(rust);
  const compared: string[] = [];
  for (const [name, fields] of interfaces(wire)) {
    const theirs = server.get(name);
    if (!theirs) continue;
    assert.deepEqual(new Map([...fields].sort()), new Map([...theirs].sort()), name);
    compared.push(name);
  }
  // Guards against a pattern that silently finds nothing.
  assert.ok(compared.length >= 25, `only ${compared.length} compared: ${compared.join(", ")}`);
});

test("verdicts and ways of being known are the server's words", () => {
  const words = readFileSync("../crates/register/src/words.rs", "utf8");
  for (const list of ["CheckVerdict", "SeparationVerdict", "DigVerdict", "Known", "Touched", "SurfaceKind", "AngleRead", "FaceRead", "SightKind", "CheckOutcome", "Spread", "HoldState", "HoldVerdict", "ReleaseOutcome"]) {
    const theirs = [...(new RegExp(`\\b${list} \\{([\\s\\S]*?)\\n {4}\\}`).exec(words)?.[1] ?? "").matchAll(/= "([^"]+)"/g)].map((m) => m[1]);
    const ours = [...(new RegExp(`export type ${list} = ([^;]+);`).exec(wire)?.[1] ?? "").matchAll(/"([^"]+)"/g)].map((m) => m[1]);
    assert.ok(theirs.length >= 2, list);
    assert.deepEqual([...ours].sort(), [...theirs].sort(), list);
  }
});
