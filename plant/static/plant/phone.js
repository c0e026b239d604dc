/* Keeps checks and reports on this phone until they are sent, and works the bare page without
   signal. An entry is on the phone before it is sent, and goes only when the answer says kept. */
"use strict";
(() => {
  const ENTRIES = "/phone/entries";
  const MOST_AT_ONCE = 50;
  const PATIENCE = 8000; // how long a send may take before the person is told that it is kept
  const GIVEN_UP = 60000; // a send that hangs this long is given up and tried again
  const GIVEN_UP_PHOTOS = 300000; // six photos on a thin line take minutes
  const SOONEST = 2000;
  const LATEST = 300000;
  const PACK_AGE = 600000;
  const WIDEST_PHOTO = 2048;
  const LARGEST_PHOTO = 400000; // bytes, about: a photo is made smaller until it fits
  const MOST_PHOTOS = 6;
  const MOST_TOLD = 20; // how many answers this phone keeps the way to
  const body = document.body;

  // In another language its catalogue has come before; without one a text stays as it is written.
  const gettext = window.gettext || ((text) => text);
  const ngettext = window.ngettext || ((one, many, count) => (count === 1 ? one : many));
  const filled = (text, given) => text.replace(/%\((\w+)\)s/g, (place, name) => given[name]);
  // What a counter counts is a key; these are its words.
  const COUNTED = {
    starts: gettext("starts"),
    strokes: gettext("strokes"),
    drops: gettext("drops"),
    lifts: gettext("lifts"),
    cycles: gettext("cycles"),
  };

  // --- What is kept -----------------------------------------------------------------------
  const opened = new Promise((done, failed) => {
    const request = indexedDB.open("site-plant", 1);
    request.onupgradeneeded = () => {
      for (const name of ["entries", "packs", "drafts", "settings"]) {
        request.result.createObjectStore(name);
      }
    };
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
  opened.catch(() => {}); // a browser that keeps nothing still sends by the plain form

  async function on(store, mode, act) {
    const turn = (await opened).transaction(store, mode, { durability: "strict" });
    const request = act(turn.objectStore(store));
    return new Promise((done, failed) => {
      turn.oncomplete = () => done(request && request.result);
      turn.onerror = turn.onabort = () => failed(turn.error || new Error("not kept"));
    });
  }
  const get = (store, key) => on(store, "readonly", (s) => s.get(key));
  const all = (store) => on(store, "readonly", (s) => s.getAll());
  const put = (store, key, value) => on(store, "readwrite", (s) => s.put(value, key));
  const drop = (store, key) => on(store, "readwrite", (s) => s.delete(key));

  function newId() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    let stamp = Date.now();
    for (let place = 5; place >= 0; place--) {
      bytes[place] = stamp % 256;
      stamp = Math.floor(stamp / 256);
    }
    bytes[6] = (bytes[6] & 0x0f) | 0x70;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
  }

  // The moment by the phone's clock, with its offset from UTC.
  function moment() {
    const now = new Date();
    const minutes = -now.getTimezoneOffset();
    const local = new Date(now.getTime() + minutes * 60000).toISOString().slice(0, 23);
    const far = Math.abs(minutes);
    const two = (n) => String(n).padStart(2, "0");
    return `${local}${minutes < 0 ? "-" : "+"}${two(Math.floor(far / 60))}:${two(far % 60)}`;
  }

  async function keep(entry, photos, number) {
    const seq = ((await get("settings", "seq")) || 0) + 1;
    await put("settings", "seq", seq);
    entry.device_seq = String(seq);
    await put("entries", entry.id, { entry, photos, number, seq });
    await tellCount();
  }

  // By the name under which each is sent: "photo", or "photo_" and the key of its item.
  const photosOf = (kept) => kept.photos || (kept.photo ? { photo: kept.photo } : {});
  const hasPhotos = (kept) => Object.keys(photosOf(kept)).length > 0;

  // --- Sending ----------------------------------------------------------------------------
  let tries = 0;
  let timer = 0;
  let shownKept = "";

  function later(seconds) {
    clearTimeout(timer);
    const wait = seconds ? seconds * 1000 : Math.min(LATEST, SOONEST * 2 ** tries);
    tries += 1;
    timer = setTimeout(send, wait * (0.75 + Math.random() / 2));
  }

  // What became of each entry, {id, state, words, address, number} by its id: a page may learn it
  // from any of its own sends, or from another tab's.
  const outcomes = new Map();
  const tabs = "BroadcastChannel" in window ? new BroadcastChannel("sent") : null;
  if (tabs) {
    tabs.onmessage = (event) => {
      outcomes.set(event.data.id, event.data);
      showGone();
    };
  }

  // Tabs take turns. What goes wrong in the middle, a strange network's own page for an answer for
  // instance, is tried again like a lost signal.
  async function send() {
    const work = () => sendAll().catch(() => later());
    return navigator.locks ? navigator.locks.request("sending", work) : work();
  }

  async function sendAll() {
    let waiting = (await all("entries")).filter((kept) => !kept.attention);
    waiting.sort((a, b) => a.seq - b.seq);
    while (waiting.length) {
      const alone = hasPhotos(waiting[0]) || waiting[0].alone;
      const count = alone ? 1 : Math.min(MOST_AT_ONCE, run(waiting));
      const batch = waiting.slice(0, count);
      waiting = waiting.slice(count);
      const answer = await post(batch);
      if (!answer) {
        later();
        break;
      }
      if ([400, 413, 422].includes(answer.status)) {
        if (batch.length > 1) {
          for (const kept of batch) kept.alone = true; // one of them is at fault: find which
          waiting = [...batch, ...waiting];
        } else {
          await attention(batch[0], await wordsOf(answer));
        }
        continue;
      }
      if (!answer.ok) {
        later(Number(answer.headers.get("Retry-After")));
        break;
      }
      tries = 0;
      for (const result of (await answer.json()).results) {
        outcomes.set(result.id, result);
        if (tabs) tabs.postMessage(result);
        const kept = batch.find((one) => one.entry.id === result.id);
        if (!kept) continue;
        if (result.state === "kept") {
          // First the way to its answer: a page that is left between sends it again, and that is
          // one record all the same.
          await rememberTold(kept, result).catch(() => {});
          await drop("entries", result.id);
        }
        else if (result.state === "attention") await attention(kept, result.words);
        else later();
      }
    }
    await tellCount();
    await fillOwn(document);
    showGone();
  }

  const run = (waiting) => {
    const end = waiting.findIndex((kept) => hasPhotos(kept) || kept.alone);
    return end < 0 ? waiting.length : end;
  };

  async function post(batch) {
    const told = JSON.stringify({ sent_at: moment(), entries: batch.map((kept) => kept.entry) });
    const given = { method: "POST", credentials: "omit", cache: "no-store" };
    const most = hasPhotos(batch[0]) ? GIVEN_UP_PHOTOS : GIVEN_UP;
    given.signal = AbortSignal.timeout(most);
    if (hasPhotos(batch[0])) {
      given.body = new FormData();
      given.body.append("entries", told);
      for (const [name, photo] of Object.entries(photosOf(batch[0]))) {
        given.body.append(name, photo, "photo.jpg");
      }
    } else {
      given.body = told;
      given.headers = { "Content-Type": "application/json" };
    }
    try {
      return await fetch(ENTRIES, given);
    } catch {
      return null; // no signal, or one that leads nowhere
    }
  }

  // The way to the answer. Opened once, it leaves a mark with this phone by which the label's page
  // knows who told it; what somebody signed in told stands on their own first page.
  async function rememberTold(kept, result) {
    if (!result.address.startsWith("/q/")) return;
    const signal = AbortSignal.timeout(PATIENCE);
    await fetch(result.address, { redirect: "manual", cache: "no-store", signal });
    const { id, kind, device_time } = kept.entry;
    const told = ((await get("settings", "told")) || []).filter((one) => one.id !== id);
    told.unshift({ id, kind, at: device_time, number: kept.number, address: result.address });
    await put("settings", "told", told.slice(0, MOST_TOLD));
  }

  async function wordsOf(answer) {
    try {
      return (await answer.json()).words;
    } catch {
      return "";
    }
  }

  async function attention(kept, words) {
    kept.attention = words || gettext("It was not taken.");
    await put("entries", kept.entry.id, kept);
  }

  async function tellCount() {
    const line = document.getElementById("kept");
    if (!line) return;
    const kept = await all("entries");
    const stuck = kept.filter((one) => one.attention).length;
    line.hidden = !kept.length;
    const day = 86400000;
    const old = kept.some((one) => Date.now() - Date.parse(one.entry.device_time) > day);
    line.classList.toggle("kept-long", old);
    const told = [
      filled(
        ngettext(
          "%(count)s kept on this phone, not sent yet",
          "%(count)s kept on this phone, not sent yet",
          kept.length,
        ),
        { count: kept.length },
      ),
    ];
    if (stuck) {
      const words = ngettext("%(count)s needs attention", "%(count)s need attention", stuck);
      told.push(filled(words, { count: stuck }));
    }
    line.querySelector("a").textContent = told.join("; ");
  }

  // --- The pack of machines -----------------------------------------------------------------
  async function refreshPack() {
    const address = body.dataset.pack;
    if (!address) return;
    const key = address.includes("code=") ? address : `who-${body.dataset.who}`;
    const held = await get("packs", key);
    if (held && Date.now() - held.read_at < PACK_AGE && !address.includes("code=")) return;
    const join = address.includes("?") ? "&" : "?";
    const answer = await fetch(`${address}${join}have=${held ? held.version : ""}`, {
      cache: "no-store",
    });
    if (answer.status === 204) await put("packs", key, { ...held, read_at: Date.now() });
    else if (answer.ok) await put("packs", key, { ...(await answer.json()), read_at: Date.now() });
    else if ([401, 403, 404].includes(answer.status)) await drop("packs", key);
  }

  async function known() {
    const found = new Map();
    for (const pack of await all("packs")) {
      for (const machine of pack.machines) found.set(machine.id, { machine, pack });
    }
    return found;
  }

  // The mark is remembered here too, so that the phone itself says no until it knows better.
  async function remember(id, mark, passed) {
    const packs = await on("packs", "readonly", (s) => s.getAllKeys());
    for (const key of packs) {
      const pack = await get("packs", key);
      const machine = pack.machines.find((one) => one.id === id);
      if (!machine) continue;
      if (machine.mark !== "Do not use") machine.mark = mark;
      if (passed) machine.here = moment().slice(0, 16).replace("T", " ");
      await put("packs", key, pack);
    }
  }

  function day(iso) {
    const [year, month, date] = iso.split("-").map(Number);
    const months = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");
    return `${date} ${months[month - 1]} ${year}`;
  }
  const dayAndTime = (iso) => `${day(iso.slice(0, 10))}, ${iso.slice(11, 16)}`;

  // By the phone's own day, since a pack may be days old.
  function wantedWords(machine) {
    const { here, passed, wanted_on: wanted } = machine;
    const today = moment().slice(0, 10);
    if (here && here.slice(0, 10) === today) {
      return filled(gettext("Checked today %(at)s on this phone."), { at: here.slice(11) });
    }
    if (!wanted) return gettext("Check it before use.");
    if (wanted < today) return filled(gettext("Check is overdue since %(day)s."), { day: day(wanted) });
    if (wanted === today || !passed) return gettext("Check wanted today, before use.");
    const given = { day: day(passed.slice(0, 10)), at: passed.slice(11) };
    if (passed.slice(0, 10) === today) return filled(gettext("Checked today %(at)s."), given);
    return filled(gettext("Checked on %(day)s, %(at)s."), given);
  }

  async function hashOf(code) {
    const digest = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(code));
    return [...new Uint8Array(digest)].map((b) => b.toString(16).padStart(2, "0")).join("");
  }

  // --- Forms --------------------------------------------------------------------------------
  const draftKey = (form) => `${form.dataset.entry} ${form.dataset.machine}`;
  const photoKey = (form) => `${draftKey(form)} photos`;
  const chosen = new WeakMap(); // form: its photos by name, made small already
  let making = Promise.resolve(); // the photos that are being made small

  // How long each question takes, by a clock that no setting of the phone moves. What is done while
  // the page is away, with the camera for instance, belongs to no question.
  let last = performance.now();
  let away = 0;
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) away = performance.now();
    else last += performance.now() - away;
  });
  function noteTime(question) {
    const now = performance.now();
    question.dataset.tenths = Number(question.dataset.tenths || 0) + (now - last) / 100;
    last = now;
  }

  function saveDraft(form) {
    const fields = {};
    const tenths = {};
    for (const question of form.querySelectorAll("fieldset[data-tenths]")) {
      tenths[question.dataset.item] = question.dataset.tenths;
    }
    for (const [name, value] of new FormData(form)) {
      if (typeof value === "string" && !["csrfmiddlewaretoken", "entry"].includes(name)) {
        fields[name] = value;
      }
    }
    put("drafts", draftKey(form), { fields, tenths, id: form.dataset.id, at: Date.now() }).catch(() => {});
  }

  async function restoreDraft(form) {
    const draft = await get("drafts", draftKey(form));
    form.dataset.id = (draft && draft.id) || newId();
    const fresh = draft && Date.now() - draft.at <= 12 * 3600000;
    const fields = { by_name: await get("settings", "name"), ...(fresh ? draft.fields : {}) };
    for (const [name, value] of Object.entries(fields)) {
      const field = form.elements[name];
      if (field && !field.value) field.value = value || "";
    }
    for (const [item, tenths] of Object.entries((fresh && draft.tenths) || {})) {
      const question = form.querySelector(`fieldset[data-item="${CSS.escape(item)}"]`);
      if (question) question.dataset.tenths = tenths;
    }
    const photos = (fresh && (await get("drafts", photoKey(form)))) || {};
    chosen.set(form, { ...photos, ...chosen.get(form) });
    for (const name of Object.keys(photos)) sayPhoto(form.elements[name], gettext("The photo from before is kept."));
    for (const words of form.querySelectorAll(".ready-words")) words.hidden = false;
  }

  function writeWord(button) {
    const field = button.closest(".field").querySelector("input[type=text]");
    const said = field.value.split(", ").filter(Boolean);
    if (!said.includes(button.textContent)) said.push(button.textContent);
    field.value = said.join(", ").slice(0, field.maxLength);
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function sayPhoto(input, words) {
    if (!input) return;
    let line = input.nextElementSibling;
    if (!line || !line.matches(".hint")) {
      line = document.createElement("p");
      line.className = "hint";
      line.setAttribute("role", "status");
      input.after(line);
    }
    line.textContent = words;
  }

  // Made small when it is chosen, and kept at once: the page may be gone the next moment.
  async function choosePhoto(input) {
    const form = input.form;
    const photos = { ...chosen.get(form) };
    delete photos[input.name];
    chosen.set(form, photos);
    const small = await shrink(input.files[0]);
    if (small) chosen.set(form, { ...chosen.get(form), [input.name]: small });
    const kept = await put("drafts", photoKey(form), chosen.get(form)).then(
      () => true,
      () => false,
    );
    let words = kept
      ? gettext("Photo taken, %(size)s kB.")
      : gettext("Photo taken, %(size)s kB. No room to keep it: stay on this page until it is sent.");
    if (!small) words = gettext("This is not a photo that can be kept. Choose another.");
    if (!input.files.length) words = gettext("No photo.");
    sayPhoto(input, filled(words, { size: small && Math.round(small.size / 1000) }));
  }

  function wrongWith(form) {
    const problems = [];
    for (const question of form.querySelectorAll("fieldset[data-item]")) {
      const answer = question.querySelector("input[type=radio]:checked");
      const word = question.querySelector("input[type=text]");
      if (!answer) problems.push([question, gettext("No answer yet. Not sent. Press OK, Wrong or Could not check.")]);
      else if (answer.value !== "ok" && !word.value.trim()) {
        problems.push([word.closest(".field"), gettext("A word is missing. Not sent yet. Press one or write it.")]);
      }
    }
    for (const name of ["part", "told", "stop", "by_name"]) {
      const field = form.elements[name];
      if (!field || field.value.trim()) continue;
      const near = field.length && !field.tagName ? field[0] : field;
      problems.push([near.closest(".field") || near, gettext("Fill this in. Not sent yet.")]);
    }
    const dial = form.elements.dial;
    if (dial && dial.value.trim() && !/^(\d{1,6}(\.\d{1,6})?( ?(h|min))?|\d{1,6}:[0-5]\d)$/.test(dial.value.trim())) {
      problems.push([dial.closest(".field"), gettext("Type it as 1204.5 or 120:30, or leave it empty.")]);
    }
    for (const count of form.querySelectorAll("[name^=count_]")) {
      if (/^\d{0,8}$/.test(count.value.trim())) continue;
      problems.push([count.closest(".field"), gettext("Type a whole number of up to 8 figures, or leave it empty.")]);
    }
    if (Object.keys(photosToSend(form)).length > MOST_PHOTOS) {
      const words = filled(gettext("At most %(most)s photos. Take some off."), { most: MOST_PHOTOS });
      problems.push([form.elements.photo.closest(".field"), words]);
    }
    return problems;
  }

  // A photo beside an answer that is OK by now is not of anything wrong, and stays behind.
  function photosToSend(form) {
    const photos = { ...chosen.get(form) };
    for (const question of form.querySelectorAll("fieldset[data-item]")) {
      const answer = question.querySelector("input[type=radio]:checked");
      if (answer && answer.value === "ok") delete photos[`photo_${question.dataset.item}`];
    }
    return photos;
  }

  function showProblems(form, problems) {
    for (const old of form.querySelectorAll(".errorlist[data-here]")) old.remove();
    for (const old of form.querySelectorAll(".field-wrong")) old.classList.remove("field-wrong");
    for (const [near, words] of problems) {
      const line = document.createElement("p");
      line.className = "errorlist";
      line.dataset.here = "";
      line.textContent = words;
      near.classList.add("field-wrong");
      (near.querySelector("legend, label") || near).after(line);
    }
    if (problems.length) problems[0][0].querySelector("input, select, textarea").focus();
  }

  function entryOf(form) {
    const entry = {
      id: form.dataset.id || newId(),
      schema: "3",
      kind: form.dataset.entry,
      machine: form.dataset.machine,
      permit: form.dataset.permit,
      device_time: moment(),
      by_name: form.elements.by_name ? form.elements.by_name.value.trim() : "",
    };
    if (entry.kind === "check") {
      entry.answers = {};
      entry.pace = {};
      for (const question of form.querySelectorAll("fieldset[data-item]")) {
        entry.answers[question.dataset.item] = {
          answer: question.querySelector("input[type=radio]:checked").value,
          word: question.querySelector("input[type=text]").value.trim(),
        };
        const tenths = Math.round(Number(question.dataset.tenths));
        if (tenths >= 0) entry.pace[question.dataset.item] = tenths;
      }
      if (form.elements.dial) entry.dial = form.elements.dial.value.trim();
      entry.counts = {};
      for (const count of form.querySelectorAll("[name^=count_]")) {
        if (count.value.trim()) entry.counts[count.name.slice("count_".length)] = count.value.trim();
      }
    } else {
      entry.told = form.elements.told.value.trim();
    }
    if (entry.kind === "fault") {
      entry.part = form.elements.part.value;
      entry.stop_now = form.elements.stop.value === "stop";
    }
    return entry;
  }

  // What the phone itself says, until the sealed record says it.
  function verdictOf(form, mark) {
    if (form.dataset.entry !== "check" || mark === "Do not use") return "Do not use";
    let verdict = mark === "Use, with a note" ? mark : "OK to use";
    // No check answers a first look, but a competent person's; so the phone promises nothing more.
    if (form.dataset.firstLook) verdict = "Not yet passed";
    for (const question of form.querySelectorAll("fieldset[data-item]")) {
      const answer = question.querySelector("input[type=radio]:checked").value;
      if (answer === "wrong") return "Do not use";
      if (answer !== "ok" && question.dataset.level !== "decide") verdict = "Not yet passed";
    }
    return verdict;
  }

  async function shrink(file) {
    if (!file || !file.size) return null;
    try {
      const picture = await createImageBitmap(file);
      const scale = Math.min(1, WIDEST_PHOTO / Math.max(picture.width, picture.height));
      let small = null;
      for (const [size, quality] of [[1, 0.8], [1, 0.65], [0.75, 0.65], [0.55, 0.6], [0.4, 0.5]]) {
        const canvas = document.createElement("canvas");
        canvas.width = Math.max(1, Math.round(picture.width * scale * size));
        canvas.height = Math.max(1, Math.round(picture.height * scale * size));
        canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
        small = await new Promise((done) => canvas.toBlob(done, "image/jpeg", quality));
        if (small && small.size <= LARGEST_PHOTO) break;
      }
      picture.close();
      return small;
    } catch {
      return null; // no picture that this phone knows
    }
  }

  async function submit(form) {
    showProblems(form, []);
    const problems = wrongWith(form);
    if (problems.length) {
      showProblems(form, problems);
      return;
    }
    const button = form.querySelector("button[type=submit]");
    button.disabled = true;
    await making;
    const entry = entryOf(form);
    const verdict = verdictOf(form, form.dataset.mark);
    const kept = await keepAtAll(form, entry);
    if (!kept) {
      button.disabled = false;
      if (navigator.onLine && !body.dataset.bare) form.submit(); // the plain way
      else say(gettext("This phone has no room left. Not kept. Tell your foreman by word, and free some room."));
      return;
    }
    await drop("drafts", draftKey(form)).catch(() => {});
    await drop("drafts", photoKey(form)).catch(() => {});
    // What follows is a help only: without room for it the entry is kept all the same.
    if (entry.by_name) await put("settings", "name", entry.by_name).catch(() => {});
    const passed = entry.kind === "check" && Object.values(entry.answers).every((a) => a.answer === "ok");
    await remember(entry.machine, verdict, passed).catch(() => {});
    const slow = new Promise((done) => setTimeout(done, PATIENCE));
    await Promise.race([send(), slow]);
    const result = outcomes.get(entry.id);
    if (result && result.state === "kept") location.assign(result.address);
    else showKept(form, entry, verdict, result, kept === "bare");
  }

  // With its photos; without them where they find no room: an answer counts for more than a picture.
  async function keepAtAll(form, entry) {
    const photos = photosToSend(form);
    const tries = [async () => {}, () => drop("drafts", photoKey(form))];
    for (const before of Object.keys(photos).length ? tries : tries.slice(0, 1)) {
      try {
        await before();
        await keep(entry, photos, form.dataset.number);
        return "whole";
      } catch {} // no room
    }
    if (!Object.keys(photos).length) return "";
    if (navigator.onLine && !body.dataset.bare) return ""; // the plain way takes the photos too
    try {
      await keep(entry, {}, form.dataset.number);
      return "bare";
    } catch {
      return "";
    }
  }

  function say(words) {
    const line = document.createElement("p");
    line.className = "stop";
    line.setAttribute("role", "alert");
    line.textContent = words;
    document.getElementById("main").prepend(line);
    line.scrollIntoView();
  }

  function showKept(form, entry, verdict, result, withoutPhotos) {
    const part = document.getElementById("kept-here");
    if (!part) return;
    const told = part.content.cloneNode(true);
    told.querySelector("[data-number]").textContent = form.dataset.number;
    for (const mark of told.querySelectorAll("[data-mark]")) {
      if (mark.dataset.mark !== verdict) mark.remove();
    }
    if (withoutPhotos) {
      told.querySelector("[data-words]").textContent =
        gettext("This phone has no room for the photos. The rest is kept here and sends itself.");
    }
    if (result && result.words) told.querySelector("[data-words]").textContent = result.words;
    const main = document.getElementById("main");
    main.replaceChildren(told);
    shownKept = entry.id;
    showGone(); // it may have gone in the meantime
    main.focus();
    scrollTo(0, 0);
  }

  // The page that said "kept on this phone" says that it went, and where the answer is.
  function showGone() {
    const result = outcomes.get(shownKept);
    const said = document.querySelector("#main [data-words]");
    if (said && result?.state === "attention") said.textContent = result.words;
    const answer = document.querySelector("#main [data-answer]");
    if (!answer || !result || result.state !== "kept") return;
    said.textContent = filled(gettext("Sent and sealed: record %(number)s."), result);
    document.querySelector("#main [data-until-sent]").remove();
    answer.href = result.address;
    answer.hidden = false;
    shownKept = "";
  }

  document.addEventListener("submit", (event) => {
    if (event.target.matches("form[data-entry]") && event.target.dataset.permit) {
      event.preventDefault();
      submit(event.target);
    }
  });
  document.addEventListener("input", (event) => {
    const form = event.target.closest && event.target.closest("form[data-entry]");
    const question = form && event.target.closest("fieldset[data-item]");
    if (question) noteTime(question);
    if (form) saveDraft(form);
  });
  document.addEventListener("click", (event) => {
    if (event.target.matches(".ready-words button")) writeWord(event.target);
  });
  document.addEventListener("change", (event) => {
    const input = event.target;
    if (input.matches("form[data-entry] input[type=file]")) {
      making = making.then(() => choosePhoto(input)).catch(() => {});
    }
  });

  // --- The bare page --------------------------------------------------------------------------
  async function bare() {
    const machines = await known();
    const [, where, what, act] = location.pathname.split("/");
    let found = null;
    if (where === "machines" && what) found = machines.get(what);
    if (where === "q" && what) {
      const hash = await hashOf(decodeURIComponent(what));
      found = [...machines.values()].find((one) => one.machine.code === hash);
    }
    const name = (found && (act || "start")) || "list";
    const template = document.getElementById(`bare-${name}`) || document.getElementById("bare-list");
    const page = template.content.cloneNode(true);
    if (found) fillMachine(page, found.machine, found.pack, `/${where}/${what}`);
    if (template.id === "bare-list") fillList(page, machines, Boolean(what && !found));
    document.getElementById("bare").replaceChildren(page);
    for (const form of document.querySelectorAll("form[data-entry]")) await restoreDraft(form);
  }

  function fillMachine(page, machine, pack, address) {
    for (const part of page.querySelectorAll("[data-number]")) part.textContent = machine.number;
    for (const part of page.querySelectorAll("[data-kind]")) part.textContent = machine.kind;
    for (const mark of page.querySelectorAll("[data-mark]")) {
      if (mark.dataset.mark !== machine.mark) mark.remove();
    }
    for (const part of page.querySelectorAll("[data-wanted]")) {
      part.textContent = wantedWords(machine);
      part.hidden = machine.mark === "Do not use";
    }
    for (const link of page.querySelectorAll("a[data-act]")) {
      link.href = link.dataset.act ? `${address}/${link.dataset.act}` : address;
    }
    for (const form of page.querySelectorAll("form[data-entry]")) {
      Object.assign(form.dataset, {
        machine: machine.id,
        permit: machine.permit,
        number: machine.number,
        mark: machine.mark,
        ...(machine.first_look && { firstLook: "1" }),
      });
    }
    if (!pack.by_label) {
      for (const name of page.querySelectorAll("[name=by_name]")) name.closest(".field").remove();
    }
    if (!machine.meter) {
      for (const dial of page.querySelectorAll("[name=dial]")) dial.closest(".field").remove();
    }
    const blank = page.querySelector("[data-count]");
    for (const measure of blank ? machine.counts || [] : []) {
      const one = blank.cloneNode(true);
      const count = one.querySelector("input");
      count.name = `count_${measure}`;
      count.id = count.name;
      one.querySelector("label").htmlFor = count.id;
      one.querySelector("[data-counted]").textContent = COUNTED[measure] || measure;
      blank.before(one);
    }
    if (blank) blank.remove();
    const questions = page.querySelector("[data-questions]");
    for (const key of questions ? machine.items : []) {
      const asked = pack.questions[key];
      const one = document.getElementById("bare-question").content.cloneNode(true);
      const set = one.querySelector("fieldset");
      set.dataset.item = key;
      set.dataset.level = asked.level;
      const words = set.querySelector("[data-asked]");
      const short = document.createElement("b");
      short.textContent = `${asked.short}.`;
      words.append(short, ` ${asked.words}`);
      set.querySelector("[data-said]").textContent = `: ${asked.short}`;
      const pictures = document.getElementById("bare-pictures").content;
      const picture = pictures.querySelector(`[data-drawing="${CSS.escape(asked.drawing)}"]`);
      if (picture) words.before(document.importNode(picture, true));
      for (const radio of set.querySelectorAll("input[type=radio]")) radio.name = `answer_${key}`;
      const word = set.querySelector("input[type=text]");
      word.name = `word_${key}`;
      word.id = `word_${key}`;
      set.querySelector("[data-word]").htmlFor = word.id;
      const photo = set.querySelector("input[type=file]");
      photo.name = `photo_${key}`;
      photo.id = photo.name;
      const label = set.querySelector("[data-photo]");
      label.htmlFor = photo.id;
      label.prepend(`${asked.short}: `);
      const whys = document.getElementById("bare-whys").content;
      const why = whys.querySelector(`[data-why="${CSS.escape(`check.${key}`)}"]`);
      if (why) set.append(document.importNode(why, true));
      questions.append(one);
    }
    const parts = page.querySelector("select[name=part]");
    for (const key of parts ? machine.items : []) {
      parts.add(new Option(pack.questions[key].short, key), parts.length - 1);
    }
  }

  function fillList(page, machines, strange) {
    const list = page.querySelector("[data-machines]");
    const marks = document.getElementById("bare-start").content;
    const shown = (mark) =>
      marks.querySelector(`[data-mark="${CSS.escape(mark)}"]`)?.textContent || mark;
    const find = page.querySelector("input[type=search]");
    page.querySelector("[data-strange]").hidden = !strange;
    page.querySelector("[data-none]").hidden = machines.size > 0;
    fillOwn(page);
    const key = (words) => words.toUpperCase().replace(/[^A-Z0-9]/g, "");
    const draw = () => {
      const wanted = key(find.value);
      list.replaceChildren();
      for (const { machine } of machines.values()) {
        const fits = key(machine.number).includes(wanted) || machine.short_code === wanted;
        if (!fits || list.children.length > 60) continue;
        const line = document.createElement("li");
        const link = document.createElement("a");
        link.className = "what";
        link.href = `/machines/${machine.id}`;
        link.textContent = machine.number;
        line.append(link, ` ${machine.kind}: ${shown(machine.mark)}`);
        list.append(line);
      }
    };
    find.addEventListener("input", draw);
    draw();
  }

  // What is kept here, and what was told; drawn again when something has gone.
  async function fillOwn(page) {
    const kept = page.querySelector("[data-kept]");
    const toldHead = page.querySelector("[data-told-head]");
    const toldList = page.querySelector("[data-told]");
    if (!kept) return;
    const what = (kind, number) => {
      if (number) {
        const of = {
          check: gettext("Check of %(number)s"),
          fault: gettext("Fault report of %(number)s"),
          stop: gettext("Stop of %(number)s"),
        };
        return filled(of[kind], { number });
      }
      return {
        check: gettext("Check of a machine"),
        fault: gettext("Fault report of a machine"),
        stop: gettext("Stop of a machine"),
      }[kind];
    };
    const waiting = (await all("entries")).map((one) => {
      const line = document.createElement("li");
      const at = dayAndTime(one.entry.device_time);
      const given = { what: what(one.entry.kind, one.number), at };
      line.textContent = one.attention
        ? `${given.what}, ${at}: ${one.attention}`
        : filled(gettext("%(what)s, %(at)s: kept here, sends itself"), given);
      return line;
    });
    const told = ((await get("settings", "told")) || []).map((one) => {
      const line = document.createElement("li");
      const link = document.createElement("a");
      link.className = "what";
      link.href = one.address;
      link.textContent = what(one.kind, one.number);
      line.append(link, ` ${dayAndTime(one.at)}`);
      return line;
    });
    kept.replaceChildren(...waiting);
    toldList.replaceChildren(...told);
    toldHead.hidden = !told.length;
  }

  // --- Beginning ------------------------------------------------------------------------------
  async function begin() {
    if ("serviceWorker" in navigator) navigator.serviceWorker.register("/sw.js").catch(() => {});
    if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
    if (body.dataset.bare) await bare();
    else for (const form of document.querySelectorAll("form[data-entry]")) await restoreDraft(form);
    await tellCount();
    if (navigator.onLine) {
      await refreshPack().catch(() => {});
      await send();
    }
  }
  addEventListener("online", () => {
    tries = 0;
    send();
  });
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && navigator.onLine) send();
  });
  begin().catch(() => {});
})();
