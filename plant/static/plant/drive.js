/* Draws the drive afresh while its figures are typed. Without this the button "Draw it" does so. */
"use strict";

document.addEventListener("DOMContentLoaded", () => {
  const part = document.getElementById("drawn");
  const form = part?.closest("form");
  if (!form) return;
  const REST_MS = 500;
  let waiting = 0;
  let asked = null;

  async function draw() {
    asked?.abort();
    asked = new AbortController();
    const told = new FormData(form);
    told.set("draw", "1");
    try {
      const answer = await fetch(location.pathname, {
        method: "POST",
        body: told,
        headers: { "X-Part": "drawn" },
        redirect: "error",
        signal: asked.signal,
      });
      if (answer.ok) part.innerHTML = await answer.text();
    } catch {
      // No signal, or typed on: the drawing stays as it is.
    }
  }

  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(draw, REST_MS);
  });
});
