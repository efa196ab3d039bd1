"use strict";
// Keeps the page current, and taps safe: one that cannot be sent waits here and is sent later, once.
// Without this script the page works too, by its forms alone.
(() => {
  const EVERY_MS = 20000;
  const PATIENCE_MS = 15000;
  const OLD_S = 60;
  const LOOK_MS = 2000;
  const SAID_MS = 600000;
  const MOST_SHOWN = 10;
  // What may pass: too often, or nobody knows this phone just now.
  const LATER = [401, 403, 404, 429];
  const MOST_WAITING = 200;
  const house = document.body;
  const base = house.dataset.base;
  const store = `daylatch taps ${house.dataset.house}`;
  const page = document.getElementById("page");
  const said = document.getElementById("said");
  const list = document.getElementById("waiting");
  const link = document.createElement("p");
  link.id = "link";
  link.setAttribute("role", "status");
  said.before(link);
  let here = [];
  let isStored = true;
  let inFlight = "";
  let saidAt = Date.now();

  // Other windows of this page see the same taps: each change begins with what is stored now.
  function waiting() {
    if (!isStored) return here;
    try {
      const found = JSON.parse(localStorage.getItem(store) || "[]");
      return found.filter((one) => one && one.key && ["note", "undo"].includes(one.kind));
    } catch {
      return here;
    }
  }

  function keep(taps) {
    here = taps;
    try {
      localStorage.setItem(store, JSON.stringify(taps));
    } catch {
      // Then they are kept as long as the page stays open.
      isStored = false;
    }
    show();
  }

  function drop(key) {
    keep(waiting().filter((one) => one.key !== key));
  }

  function mark(key, what) {
    keep(waiting().map((one) => (one.key === key ? { ...one, ...what } : one)));
  }

  function key() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  function element(name, text, more = {}) {
    const made = Object.assign(document.createElement(name), more);
    made.textContent = text;
    return made;
  }

  function ago(one) {
    const minutes = Math.max(0, Math.round((Date.now() - one.at) / 60000));
    if (minutes < 1) return "just now";
    return minutes < 120 ? `${minutes} min ago` : `${Math.round(minutes / 60)} h ago`;
  }

  function show() {
    const taps = waiting();
    list.replaceChildren(
      ...taps.slice(0, MOST_SHOWN).map((one) => {
        const row = document.createElement("li");
        const next = one.isUndone ? "waits to be undone" : "waits to be sent";
        const why = one.refused || one.hitch || next;
        row.append(element("span", `${one.words}, tapped ${ago(one)} on this phone: ${why}`));
        if (one.key !== inFlight && !one.isUndone) {
          const button = element("button", one.kind === "undo" ? "Leave it" : "Undo", {
            type: "button",
            className: "small",
          });
          button.addEventListener("click", () => leave(one));
          row.append(button);
        }
        return row;
      }),
    );
    if (taps.length > MOST_SHOWN) {
      list.append(element("li", `and ${taps.length - MOST_SHOWN} more`));
    }
    list.hidden = taps.length === 0;
  }

  // One that was sent may be in the diary already, whatever became of the answer.
  function leave(one) {
    if (one.kind === "note" && one.wasSent && !one.refused) {
      mark(one.key, { isUndone: true });
      catchUp();
    } else {
      drop(one.key);
      tell(one.kind === "undo" ? "It stays noted." : `Not noted: ${one.words}.`);
    }
  }

  function tell(words, entry = null) {
    saidAt = Date.now();
    said.replaceChildren(element("p", words));
    if (entry !== null) {
      const form = document.createElement("form");
      form.dataset.undo = entry;
      form.append(element("button", "Undo", { className: "small" }));
      said.append(form);
    }
  }

  // What was said is of then: after a while, or once it no longer holds, it goes.
  function clearSaid(fresh, asked) {
    const undo = said.querySelector("[data-undo]");
    const live = fresh.getElementById("page").dataset.undoable.split(" ");
    const isGone = undo && saidAt < asked && !live.includes(undo.dataset.undo);
    if (isGone || Date.now() - saidAt > SAID_MS) said.replaceChildren();
  }

  function fields(one) {
    const sent = new URLSearchParams({ token: house.dataset.token });
    if (one.kind === "undo") {
      sent.set("entry", one.entry);
    } else {
      sent.set("tap", one.key);
      sent.set("what", one.what);
      sent.set("value", one.value);
      // The difference of two looks at one clock: however wrong that is, it is right.
      sent.set("ago", Math.max(0, Math.round((Date.now() - one.at) / 1000)));
    }
    return sent;
  }

  async function ask(address, more) {
    const patience = new AbortController();
    const timer = setTimeout(() => patience.abort(), PATIENCE_MS);
    try {
      const answer = await fetch(address, { ...more, signal: patience.signal });
      // Whatever stands in between may answer, too, and has noted nothing.
      if (answer.redirected) throw new Error("no answer of the home");
      return { status: answer.status, text: await answer.text() };
    } finally {
      clearTimeout(timer);
    }
  }

  async function post(one) {
    const { status, text } = await ask(`${base}/${one.kind}`, {
      method: "POST",
      body: fields(one),
      headers: { Accept: "application/json" },
    });
    const words = JSON.parse(text);
    if (!words.said) throw new Error("no answer of the home");
    return { status, ...words };
  }

  // A tap that is taken back must first be known to be in the diary, or never come there.
  async function postWhole(one) {
    const answer = await post(one);
    if (!one.isUndone || answer.status >= 400 || !answer.entry) return answer;
    return post({ kind: "undo", entry: answer.entry });
  }

  async function sendAll() {
    if (inFlight) return;
    if (navigator.onLine === false) {
      lost();
      return;
    }
    try {
      for (;;) {
        const one = waiting().find((other) => !other.refused);
        if (!one) break;
        inFlight = one.key;
        if (!one.wasSent) mark(one.key, { wasSent: true });
        let answer = await postWhole(one);
        if (answer.status === 403 && (await refresh())) {
          // The page was of another time: its forms carry another token now.
          answer = await postWhole(one);
        }
        if (LATER.includes(answer.status) || answer.status >= 500) {
          mark(one.key, { hitch: `${answer.said} It is tried again.` });
          tell(`${answer.said} It is tried again.`);
          break;
        }
        if (answer.status >= 400) {
          mark(one.key, { refused: answer.said });
          tell(answer.said);
        } else {
          drop(one.key);
          tell(answer.said, answer.entry ?? null);
          // By then the watch has looked, too.
          setTimeout(refresh, LOOK_MS);
        }
      }
    } catch {
      lost();
    } finally {
      inFlight = "";
      show();
    }
  }

  function lost() {
    const time = document.querySelector("header .time");
    link.textContent =
      `No connection: what stands here is of ${time ? time.textContent : "earlier"}. ` +
      "Taps are kept on this phone and sent later.";
  }

  function bring(fresh, asked) {
    const focused = document.activeElement ? document.activeElement.id : "";
    const before = new Map(
      Array.from(page.children, (part) => [part.getAttribute("aria-labelledby"), part]),
    );
    let place = null;
    for (const part of Array.from(fresh.getElementById("page").children)) {
      const name = part.getAttribute("aria-labelledby");
      const old = before.get(name);
      before.delete(name);
      // Where somebody writes a number they are not disturbed.
      const typed = old && old.querySelector('input[type="number"]');
      if (old && (old.isEqualNode(part) || (typed && typed.value))) {
        place = old;
        continue;
      }
      if (old) old.replaceWith(part);
      else if (place) place.after(part);
      else page.prepend(part);
      place = part;
    }
    for (const gone of before.values()) gone.remove();
    document.title = fresh.title;
    const head = document.querySelector("header");
    const newHead = fresh.querySelector("header");
    if (head && newHead && !head.isEqualNode(newHead)) head.replaceWith(newHead);
    house.dataset.token = fresh.body.dataset.token;
    clearSaid(fresh, asked);
    if (focused && document.activeElement === document.body) {
      const again = document.getElementById(focused);
      if (again) again.focus({ preventScroll: true });
    }
  }

  async function refresh() {
    const asked = Date.now();
    try {
      const { status, text } = await ask(base, {
        headers: { Accept: "text/html" },
        cache: "no-cache",
      });
      const fresh = new DOMParser().parseFromString(text, "text/html");
      if (status === 200 && fresh.getElementById("page")) {
        bring(fresh, asked);
        link.textContent = "";
        return true;
      }
      const title = fresh.querySelector("h1");
      if (status !== 403) throw new Error("no answer of the home");
      link.textContent = title ? `${title.textContent}.` : "";
      // Who may see nothing any more is shown nothing; taps that wait stay here.
      page.replaceChildren();
      said.replaceChildren();
    } catch {
      lost();
    }
    return false;
  }

  async function catchUp() {
    await sendAll();
    await refresh();
  }

  function take(form) {
    const one = { key: key(), at: Date.now() };
    if (form.dataset.undo !== undefined) {
      one.kind = "undo";
      one.entry = form.dataset.undo;
      one.words = "Undo of what was noted";
    } else {
      one.kind = "note";
      one.what = form.elements.what.value;
      one.value = form.elements.value.value;
      one.words = form.dataset.note.replace("{}", one.value);
    }
    const taps = waiting();
    if (taps.length >= MOST_WAITING) {
      tell(`${taps.length} taps wait to be sent, and this one is not noted: ${one.words}.`);
      return;
    }
    keep([...taps, one]);
    tell(`Kept on this phone, and not sent yet: ${one.words}.`);
    catchUp();
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.dataset.note === undefined && form.dataset.undo === undefined) return;
    event.preventDefault();
    const typed = form.querySelector('input[type="number"]');
    take(form);
    if (typed) typed.value = "";
  });
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) catchUp();
  });
  window.addEventListener("online", catchUp);
  window.addEventListener("offline", lost);
  window.addEventListener("storage", (event) => {
    if (event.key === store) show();
  });
  setInterval(() => {
    show();
    if (!document.hidden) catchUp();
  }, EVERY_MS);
  show();
  // One that was kept on this phone is of before.
  if (waiting().length || Date.now() / 1000 - Number(house.dataset.made) > OLD_S) catchUp();
  if ("serviceWorker" in navigator) {
    navigator.serviceWorker.register(`${house.dataset.root}/worker.js`).catch(() => {});
  }
})();
