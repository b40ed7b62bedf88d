// The websocket of board and case page: connects, tells the page what arrives, and says unmistakably when it is not live.

import { countText, now, setServerTime } from "./clock.js";
import { showChecks } from "./checks-notice.js";
import { checkRules } from "./rules-banner.js";
import { clockText } from "./zone.js";

const SILENCE = 8000; // the server ticks every 5 s; with 8 s of silence the page says so well within 10 s
const WAITS = [1000, 2000, 4000, 8000];

/** Keep one socket open; `onMessage` gets every message but ticks, `onLive` a boolean when the link comes or goes. */
export class Live {
  constructor(path, { onMessage, onLive = () => {} }) {
    this.url = `${location.protocol === "https:" ? "wss" : "ws"}://${location.host}${path}`;
    this.onMessage = onMessage;
    this.onLive = onLive;
    this.tries = 0;
    this.live = null;
    this.lastAt = now();
    this.heardAt = performance.now(); // how long ago that was nobody can set
    document.addEventListener("click", (event) => event.target.closest("[data-act='reconnect']") && this.connect());
    setInterval(() => this.watch(), 500);
    this.connect();
  }

  connect() {
    clearTimeout(this.timer);
    this.nextTry = null;
    this.socket?.close();
    const socket = new WebSocket(this.url);
    this.socket = socket;
    socket.onmessage = (event) => this.socket === socket && this.take(JSON.parse(event.data));
    socket.onclose = (event) => this.socket === socket && this.closed(event.code);
  }

  take(message) {
    if (message.server_time) setServerTime(message.server_time);
    this.lastAt = now();
    this.heardAt = performance.now();
    this.tries = 0;
    this.set(true);
    if (message.type === "tick") return showChecks(message);
    checkRules((message.card ?? message.cases?.[0])?.rule_set);
    this.onMessage(message);
  }

  closed(code) {
    this.set(false);
    if (code === 4401) return location.assign("/sign-in/?next=" + encodeURIComponent(location.pathname));
    if (code === 4403) return location.assign("/");
    const wait = WAITS[Math.min(this.tries++, WAITS.length - 1)];
    this.nextTry = performance.now() + wait;
    this.timer = setTimeout(() => this.connect(), wait);
  }

  watch() {
    if (this.live !== false && performance.now() - this.heardAt > SILENCE) {
      this.set(false);
      this.connect();
    }
    show(this);
  }

  set(live) {
    if (this.live !== live) {
      this.live = live;
      for (const element of document.querySelectorAll("[data-live]")) element.dataset.live = live ? "live" : "lost";
      document.getElementById("announce")?.replaceChildren(live ? "Live" : "Not live. Use the radio.");
      this.onLive(live);
    }
    show(this);
  }
}

/** Write the strip: a dot that travels among five between ticks while live, else since when nothing has come. */
function show(link) {
  const silent = performance.now() - link.heardAt;
  const dots = document.querySelectorAll(".live-sign circle");
  const at = Math.min(Math.floor(silent / 1000), dots.length - 1);
  dots.forEach((dot, place) => dot.toggleAttribute("data-on", Boolean(link.live) && place === at));
  write("live-word", link.live ? "Live" : link.live === null ? "Connecting" : `Not live. Last update ${clockText(link.lastAt)}, ${countText(silent)} ago`);
  write("live-next", link.nextTry ? `next try in ${Math.max(0, Math.ceil((link.nextTry - performance.now()) / 1000))} s` : "trying now");
}

function write(id, text) {
  const element = document.getElementById(id);
  if (element && element.textContent !== text) element.textContent = text;
}
