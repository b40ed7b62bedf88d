/* The crew's pages without a link: what is asked for comes from the server; only where it does not answer in time, from what
   was kept when it did. VERSION, FILES and NOT_KEPT stand before this text (screens/crew_worker.py): the digest of all scripts,
   styles and texts, their addresses, and the page that is shown where none is kept. Pages are kept of one membership, of its open cases, for a day. */

const FILES_HERE = `crew-files-${VERSION}`;
const PAGES_HERE = `crew-pages-${VERSION}-`; // and whose they are
const LONGEST_MS = 3000; // so long the server is waited for before a kept page is shown
const KEPT_MS = 24 * 60 * 60 * 1000;
const ASKED = /^\/crew\/(who\/|worker\.js)$/; // answers of the moment
const CASE = /^\/crew\/[0-9a-f-]{36}\//;
const keptPages = new Set(); // the open pages that came from here: their files do, too

const wait = (milliseconds) => new Promise((resolve) => setTimeout(resolve, milliseconds, null));
const drop = async (isOld) => Promise.all((await caches.keys()).filter(isOld).map((name) => caches.delete(name)));
const isPages = (name) => name.startsWith("crew-pages-");

addEventListener("install", (event) => {
  event.waitUntil(caches.open(FILES_HERE).then((files) => files.addAll(FILES)).then(() => self.skipWaiting()));
});

addEventListener("activate", (event) => {
  const isOld = (name) => name.startsWith("crew-") && name !== FILES_HERE && !name.startsWith(PAGES_HERE);
  event.waitUntil(drop(isOld).then(() => self.clients.claim()));
});

addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return;
  if (pathname.startsWith("/static/")) event.respondWith(file(event));
  if (pathname.startsWith("/crew/") && !ASKED.test(pathname)) event.respondWith(request.mode === "navigate" ? opened(event) : asked(event));
});

async function file({ request, clientId }) {
  const known = () => caches.match(request.url, { cacheName: FILES_HERE, ignoreVary: true });
  const kept = keptPages.has(clientId) && (await known());
  return kept || fetch(request).catch(async (fault) => (await known()) ?? Promise.reject(fault));
}

/* A page that somebody opens. */
async function opened(event) {
  const fresh = asked(event);
  event.waitUntil(fresh.catch(() => null)); // what comes later is kept for the next time
  const answer = await Promise.race([fresh.catch(() => null), wait(LONGEST_MS)]);
  if (answer && answer.status < 500 && !(answer.status === 404 && (await isNotSent(event.request.url)))) return answer;
  const page = await kept(event.request.url);
  if (!page) return answer ?? fresh.catch(() => new Response(notKept(event.request.url), { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } }));
  keptPages.add(event.resultingClientId);
  return page;
}

/* What is said where no page is kept: it leads back to the case that was asked for. */
function notKept(address) {
  const [ofCase] = CASE.exec(new URL(address).pathname) ?? [];
  const [, link] = /<template>(.*)<\/template>/.exec(NOT_KEPT);
  return ofCase ? NOT_KEPT.replace("<!--case-->", () => link.replace("CASE", ofCase)) : NOT_KEPT;
}

/* What the server answers, which is kept. */
async function asked(event) {
  const answer = await fetch(event.request);
  event.waitUntil(keep(event.request.url, answer.clone()));
  return answer;
}

/* Keep a page of an open case; without a membership it belongs to nobody, or to a case that has ended. */
async function keep(address, answer) {
  const [url, whose] = [address.split("#")[0], answer.headers.get("X-Membership")];
  if (answer.type === "opaqueredirect" || answer.redirected) return void (await drop(isPages)); // nobody is signed in
  if (answer.status === 200 && whose) {
    await drop((name) => isPages(name) && name !== PAGES_HERE + whose);
    const headers = new Headers(answer.headers);
    for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name);
    headers.set("X-Kept-At", String(Date.now()));
    await (await caches.open(PAGES_HERE + whose)).put(url, new Response(await answer.blob(), { headers }));
  }
  const [ofCase] = CASE.exec(new URL(url).pathname) ?? [];
  if ([200, 404].includes(answer.status) && !whose && ofCase && !(answer.status === 404 && (await isNotSent(url)))) await forget(ofCase);
}

/* Whether the page is one of a case that waits on this phone (not_sent.js): the server knows none such yet. */
async function isNotSent(address) {
  const page = await caches.match(address.split("#")[0], { ignoreVary: true });
  return page?.headers.has("X-Not-Sent") ?? false;
}

/* Drop the pages of a case that has ended, or is another unit's now. */
async function forget(start) {
  for (const name of (await caches.keys()).filter(isPages)) {
    const pages = await caches.open(name);
    for (const { url } of await pages.keys()) if (new URL(url).pathname.startsWith(start)) await pages.delete(url, { ignoreVary: true });
  }
}

/* The page as it was kept, marked so; null where there is none of the last day. */
async function kept(address) {
  const page = await caches.match(address.split("#")[0], { ignoreVary: true });
  if (!page || !(Date.now() - Number(page.headers.get("X-Kept-At")) < KEPT_MS)) return null;
  const html = (await page.text()).replace("<body ", "<body data-kept ");
  return new Response(html, { headers: page.headers });
}
