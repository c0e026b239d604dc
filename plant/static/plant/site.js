/* The "/" key goes to the find box; the first entry with an error gets the focus. */
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

function focusFirstError(part) {
  const wrong = part.querySelector(
    "[aria-invalid=true], .field-wrong input, .field-wrong select, .field-wrong textarea, [role=alert]",
  );
  if (wrong) wrong.focus();
}

document.addEventListener("DOMContentLoaded", () => focusFirstError(document));
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.xhr.status === 422) focusFirstError(event.detail.target);
});
