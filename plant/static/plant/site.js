/* The "/" key goes to the find box; Escape closes what was opened; the first entry with an error gets the focus; before a session
   ends by itself, the page says so and keeps what was typed. */
"use strict";

document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, textarea, select, [contenteditable]");
  const find = document.getElementById("find");
  if (event.key === "/" && !typing && !event.ctrlKey && !event.metaKey && !event.altKey && find) {
    event.preventDefault();
    find.select();
    find.focus();
  }
});

// What was opened on the spot is closed from inside it, and the focus goes back to what opened it.
document.addEventListener("keydown", (event) => {
  const open = event.key === "Escape" && event.target.closest("details[open]");
  if (!open) return;
  open.open = false;
  open.querySelector("summary").focus();
});

function focusFirstError(part) {
  const wrong = part.querySelectorAll(
    "[aria-invalid=true], .field-wrong input, .field-wrong select, .field-wrong textarea, [role=alert]:not([hidden])",
  );
  [...wrong].find((one) => !one.closest("[data-for-show]"))?.focus();
}

document.addEventListener("DOMContentLoaded", () => focusFirstError(document));
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.xhr.status === 422) focusFirstError(event.detail.target);
});

// A button that was pressed says that it is at work, once that takes longer than a blink.
const BUSY_AFTER_MS = 300;
const BUSY_AT_MOST_MS = 20000; // a file that comes leaves the page as it is
document.addEventListener("submit", (event) => {
  const button = event.submitter;
  setTimeout(() => {
    if (!button || event.defaultPrevented) return;
    button.setAttribute("aria-busy", "true");
    setTimeout(() => button.removeAttribute("aria-busy"), BUSY_AT_MOST_MS);
  }, BUSY_AFTER_MS);
});
window.addEventListener("pageshow", () => {
  document.querySelectorAll("[aria-busy]").forEach((one) => one.removeAttribute("aria-busy"));
});

const ending = document.getElementById("ending");
if (ending) {
  const WARNED_S = 300;
  const gettext = window.gettext || ((text) => text);
  const words = ending.querySelector("span");
  const button = ending.querySelector("button");
  let timers = [];

  const clock = (at) => at.toTimeString().slice(0, 5);

  const arm = (seconds) => {
    const ends = Date.now() + seconds * 1000;
    timers.forEach(clearTimeout);
    ending.hidden = true;
    // A computer that slept has no timers: it is asked again whenever the page is looked at.
    const look = () => {
      const left = (ends - Date.now()) / 1000;
      if (left <= 0) {
        button.hidden = true;
        words.textContent = gettext(
          "You are signed out. What you typed is still here: press the button of the form as usual, then sign in; it is sent after that.",
        );
        ending.hidden = false;
      } else if (left <= WARNED_S) {
        button.hidden = false;
        words.textContent = gettext(
          "You will be signed out at %(at)s, because nothing was sent. What you typed stays.",
        ).replace("%(at)s", clock(new Date(ends)));
        ending.hidden = false;
      }
    };
    timers = [Math.max(0, seconds - WARNED_S), seconds].map((s) =>
      setTimeout(look, Math.min(s * 1000 + 50, 2 ** 31 - 1)),
    );
    document.onvisibilitychange = look;
  };

  button.addEventListener("click", async () => {
    const token = JSON.parse(document.body.getAttribute("hx-headers"))["X-CSRFToken"];
    try {
      const answer = await fetch(ending.dataset.stay, {
        method: "POST",
        headers: { "X-CSRFToken": token },
        redirect: "error",
      });
      if (!answer.ok) throw new Error(answer.status);
      arm((await answer.json()).seconds);
    } catch {
      words.textContent = gettext(
        "That did not work. Copy what you typed, or press the button of the form as usual.",
      );
    }
  });

  arm(Number(ending.dataset.seconds));
}
