{% load static %}// Keeps the static files, the bare page and two pages of the help; never a page of somebody signed in, never data.
"use strict";

const FILES = [
  "{% static "plant/site.css" %}",
  "{% static "plant/site.js" %}",
  "{% static "plant/phone.js" %}",
  "{% static "plant/say.js" %}",
  "{% static "plant/plate.svg" %}",
  {% if words %}"{{ words }}",
  {% endif %}// The pictures of the guide that is kept.
  {% for file in shots %}"{% static file %}",
  {% endfor %}
];
const PAGE = "/phone";
// Read without signal too; they hold nothing of anybody.
const HELP = [{% for address in help %}"{{ address }}"{% if not forloop.last %}, {% endif %}{% endfor %}];
// A new file has a new name, so a new list is a new store; and so is a new page.
const STORE = "files-{{ page }}" + FILES.join().split("").reduce((sum, c) => (sum * 31 + c.charCodeAt(0)) | 0, 7);

async function fill() {
  const store = await caches.open(STORE);
  await store.addAll(FILES);
  // Without cookies: the page that is kept knows nobody.
  const page = await fetch(PAGE, { credentials: "omit", cache: "no-store" });
  if (!page.ok) throw new Error("the page for no signal was not to be had");
  await store.put(PAGE, page);
  for (const address of HELP) {
    const told = await fetch(address, { credentials: "omit", cache: "no-store" }).catch(() => null);
    if (told && told.ok) await store.put(address, told);
  }
}

self.addEventListener("install", (event) => {
  event.waitUntil(fill().then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(names.filter((n) => n !== STORE).map((n) => caches.delete(n))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("fetch", (event) => {
  const request = event.request;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) return;
  if (request.mode === "navigate") {
    event.respondWith(fetch(request).catch(async () => (await caches.match(address.pathname)) || caches.match(PAGE)));
  } else if (FILES.includes(address.pathname + address.search)) {
    event.respondWith(caches.match(request).then((kept) => kept || fetch(request)));
  }
});
