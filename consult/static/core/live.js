// One live socket: connects, asks anew when nothing is heard, takes the server's time, and hands on what arrives.

import { serverNow, setServerTime } from "./clock.js";

const SILENCE_MS = 8000; // ticks come every 5 s; with 8 s of silence the page says so well within 10 s
const WAITS_MS = [1000, 2000, 4000, 8000];
const LOOKS_MS = 500;
const REFUSED = [4401, 4403]; // signed out, or not theirs
const CHECKS_MAY_REST_S = 30; // as consult/heartbeat.py

/** Keep one socket open; `onMessage` gets every message, `onLive` a boolean when the link comes or goes, `onRefused` the
 * code with which the server closed it for good. `live` is null until the first word, `heardAt` by the steady clock, which
 * nobody can set, `lastAt` by the server's, `nextTry` null while one is under way. */
export class Live {
  live = null;
  lastAt = serverNow();
  heardAt = performance.now();
  nextTry = null;
  #tries = 0;
  #triedAt = 0;
  #socket = null;

  constructor(path, { onMessage, onLive = () => {}, onRefused = () => {}, silence = SILENCE_MS }) {
    Object.assign(this, { onMessage, onLive, onRefused, silence });
    this.url = `${location.protocol === "https:" ? "wss" : "ws"}://${location.host}${path}`;
    addEventListener("online", () => this.connect());
    this.looking = setInterval(() => this.#look(), LOOKS_MS);
    this.connect();
  }

  connect() {
    this.nextTry = null;
    this.#triedAt = performance.now();
    this.#socket?.close();
    const socket = new WebSocket(this.url);
    this.#socket = socket;
    socket.onmessage = ({ data }) => this.#socket === socket && this.#take(JSON.parse(data));
    socket.onclose = ({ code }) => this.#socket === socket && this.#closed(code);
  }

  #take(message) {
    if (message.server_time) setServerTime(message.server_time);
    this.lastAt = serverNow();
    this.heardAt = performance.now();
    this.#tries = 0;
    this.#set(true);
    if (message.type === "tick") showChecks(message);
    this.onMessage(message);
  }

  #closed(code) {
    this.#set(false);
    if (REFUSED.includes(code)) {
      clearInterval(this.looking);
      return this.onRefused(code);
    }
    this.nextTry = performance.now() + WAITS_MS[Math.min(this.#tries++, WAITS_MS.length - 1)];
    return undefined;
  }

  /** What is due: the next try, or one in place of a socket that says nothing any more. */
  #look() {
    const now = performance.now();
    const silent = now - Math.max(this.heardAt, this.#triedAt) > this.silence;
    if (silent) this.#set(false);
    if (this.nextTry === null ? silent : now >= this.nextTry) this.connect();
  }

  #set(live) {
    if (this.live === live) return;
    this.live = live;
    this.onLive(live);
  }
}

/** Says when nothing raises alerts any more: each tick carries how long ago the sweep last ran. */
function showChecks({ sweep_age_s: age }) {
  document.getElementById("checks-notice").hidden = age !== null && age < CHECKS_MAY_REST_S;
}
