/* Reads the code on one of our labels with the phone's camera, where the phone itself can. */
"use strict";

document.addEventListener("DOMContentLoaded", async () => {
  const part = document.getElementById("camera");
  if (!part || !("BarcodeDetector" in window) || !navigator.mediaDevices?.getUserMedia) return;
  const formats = await BarcodeDetector.getSupportedFormats().catch(() => []);
  if (!formats.includes("qr_code")) return;

  const gettext = window.gettext || ((text) => text);
  const start = document.getElementById("camera-start");
  const stop = document.getElementById("camera-stop");
  const words = document.getElementById("camera-words");
  const picture = document.getElementById("camera-picture");
  const detector = new BarcodeDetector({ formats: ["qr_code"] });
  let stream = null;
  part.hidden = false;

  /* The page of a label of ours, or nothing: a code from elsewhere is never followed. */
  function ours(text) {
    let address;
    try {
      address = new URL(text);
    } catch {
      return "";
    }
    const known = [location.origin, new URL(part.dataset.site).origin];
    const label = /^\/q\/[A-Za-z0-9_-]{22}$/.test(address.pathname);
    return known.includes(address.origin) && label && !address.search ? address.pathname : "";
  }

  function off() {
    if (stream) for (const track of stream.getTracks()) track.stop();
    stream = null;
    picture.hidden = true;
    stop.hidden = true;
    start.hidden = false;
  }

  async function look() {
    if (!stream) return;
    const codes = await detector.detect(picture).catch(() => []);
    if (!stream) return;
    const found = codes.map((code) => ours(code.rawValue)).find(Boolean);
    if (found) {
      off();
      words.textContent = gettext("Opening the machine.");
      location.assign(found);
      return;
    }
    if (codes.length) words.textContent = gettext("This code is not one of our labels. It was not opened.");
    setTimeout(look, 250);
  }

  start.addEventListener("click", async () => {
    words.textContent = gettext("Starting the camera.");
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch {
      words.textContent = gettext("The camera cannot be used. Type the code instead.");
      return;
    }
    picture.srcObject = stream;
    picture.hidden = false;
    stop.hidden = false;
    start.hidden = true;
    await picture.play().catch(() => {});
    picture.scrollIntoView({ block: "center" });
    words.textContent = gettext("Hold the label in the picture.");
    look();
  });
  stop.addEventListener("click", () => {
    off();
    words.textContent = "";
  });
  window.addEventListener("pagehide", off);
});
