// What a page sends to the API: an id for each entry, one call, and what a refusal says.

import { _ } from "./words.js";
import { hereText } from "./times.js";

const PATIENCE_MS = 15000;

/** A version 7 UUID: its first 48 bits are the time, so ids sort as they were made. Works without a secure context. */
export function newId(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 0; i < 6; i += 1) bytes[i] = Math.floor(now / 2 ** (8 * (5 - i))) & 255;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** The newest CSRF token: signing in changes it under a page that is still open. */
const csrfToken = () => document.cookie.match(/(?:^|; )(?:__Host-)?csrftoken=([^;]+)/)?.[1]
  ?? document.querySelector("meta[name='csrf-token']").content;

/** One call with the session: {status, ok, content, wait}. `content` is null where the answer is not the API's (a proxy's
 * page), `wait` the seconds after which to call again. Rejects where the server could not be reached. */
export async function call(method, path, body) {
  const answer = await fetch(path, {
    method, credentials: "same-origin", cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS),
    headers: { Accept: "application/json", ...(body ? { "Content-Type": "application/json", "X-CSRFToken": csrfToken() } : {}) },
    body: body ? JSON.stringify(body) : undefined,
  });
  const text = await answer.text();
  let content = null;
  try { content = text ? JSON.parse(text) : null; } catch { /* not from the API */ }
  return { status: answer.status, ok: answer.ok, content, wait: Number(answer.headers.get("Retry-After")) || 0 };
}

const FIELDS = { value: "", at: "time", given_at: _("time given"), taken_at: _("time taken"), opened_at: _("time opened"), sbp: "systolic", dbp: "diastolic" };

/* "/patient/age/value" as " (patient age)". */
function fieldText(pointer) {
  const words = (pointer ?? "").split("/").map((name) => FIELDS[name] ?? name.replaceAll("_", " ")).filter(Boolean).join(" ");
  return words && ` (${words})`;
}

/** What a problem document says to a person; `named` tells of each fault its field: as the form calls it, or in the API's words. */
export const sentence = (problem, status, named = false) => hereText(reasonOf(problem, status, named));

function told(detail, pointer, named) {
  const name = typeof named === "function" ? named(pointer) : "";
  if (name) return `${name}: ${detail}`;
  return `${detail}${named || detail.startsWith("This field") ? fieldText(pointer) : ""}`;
}

/** The same for what is kept or sent, its times in UTC. */
export function reasonOf(problem, status, named = false) {
  const faults = (problem?.errors ?? []).filter(({ detail }) => detail).map(({ detail, pointer }) => told(detail, pointer, named));
  return faults.join(" ") || problem?.detail || problem?.title || _("The server did not accept it ({status}).", { status });
}
