// Nobody is signed in here: the pages that were kept for when there is no link (crew/worker.js) are nobody's any more.

for (const name of (await globalThis.caches?.keys()) ?? []) if (name.startsWith("crew-pages-")) await caches.delete(name);
