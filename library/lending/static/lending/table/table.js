/* The swap table on a phone. Without this file the page is a form that does the same. */
import { readCode } from "./codes.js";
import { drawList, fill } from "./list.js";
import { makeSender } from "./sending.js";
import { freshKey, openStore } from "./store.js";

const root = document.getElementById("table");
const words = root.dataset;
const say = (name) => words[name.replace(/-(.)/g, (dash, letter) => letter.toUpperCase())] || name;
const sentences = new Proxy({}, { get: (_, name) => say(String(name)) });
const me = Number(root.dataset.me);
const form = document.getElementById("table-form");
const code = form.elements.code;
const who = form.elements.who;
const news = document.getElementById("table-news");
const standing = document.getElementById("table-standing");
const HALF_DAY = 12 * 3600 * 1000;
const SHOWN_NAMES = 8;

let people = [];
let entries = [];
let counted = { lent: Number(root.dataset.lent), back: Number(root.dataset.back) };
let store;
let sender;

const tell = (text, level = "info") => {
  news.className = `message ${level}`;
  news.querySelector("p").textContent = text;
  news.hidden = false;
};

/* Names ------------------------------------------------------------------------------ */
const fold = (text) => text.trim().toLowerCase().normalize("NFKD").replace(/\p{M}/gu, "");

const names = () => {
  const typed = fold(who.value);
  const recent = [...new Set(entries.filter((e) => e.by === me && e.who).map((e) => e.who).reverse())];
  const from = typed ? people.filter((name) => fold(name).includes(typed)) : recent;
  return from.slice(0, SHOWN_NAMES);
};

const drawNames = () => {
  const place = document.getElementById("table-names");
  const buttons = names().map((name) => {
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button second";
    button.textContent = name;
    button.setAttribute("aria-pressed", String(name === who.value));
    button.addEventListener("click", () => {
      who.value = name;
      drawNames();
      code.focus();
    });
    item.append(button);
    return item;
  });
  place.replaceChildren(...buttons);
  place.hidden = !buttons.length;
};

const keepPeople = async (told) => {
  people = told;
  drawNames();
  if (window.caches) {
    const kept = (await caches.keys()).find((name) => name.startsWith("sowback-table-"));
    if (kept) {
      const cache = await caches.open(kept);
      await cache.put("people", new Response(JSON.stringify({ me, people: told })));
    }
  }
};

const peopleKept = async () => {
  const kept = window.caches && (await caches.match("people"));
  const told = kept ? await kept.json() : { people: [] };
  people = told.me === me ? told.people : [];
};

/* What was done ---------------------------------------------------------------------- */
const draw = async () => {
  const all = await store.all();
  entries = all.filter((entry) => entry.by === me);
  drawList(document.getElementById("table-done"), entries, sentences, act);
  document.getElementById("table-nothing").hidden = entries.some((e) => e.state !== "seen");
  const waits = entries.filter((entry) => entry.state === "waiting");
  const lent = counted.lent + waits.filter((e) => e.what === "lend").length;
  const back = counted.back + waits.filter((e) => e.what === "back").length;
  document.getElementById("table-lent").textContent = lent;
  document.getElementById("table-back").textContent = back;
  document.getElementById("table-waiting").textContent = waits.length;
  const others = all.filter((e) => e.by !== me && ["waiting", "refused", "later"].includes(e.state));
  const note = document.getElementById("table-others");
  note.hidden = !others.length;
  note.querySelector("p").textContent = fill(say("others"), { count: others.length });
  drawNames();
};

const isOnTheList = (what, packet) => {
  const last = entries.filter((e) => e.code === packet && !["refused", "needless", "seen"].includes(e.state)).pop();
  return Boolean(last) && !last.undoes && last.what === what && Date.now() - last.at < HALF_DAY;
};

const keep = async (entry) => {
  await store.add({ ...entry, by: me, at: Date.now(), key: freshKey(), state: entry.state || "waiting" });
  await draw();
  sender.flush();
};

/* A packet was scanned or typed. */
export const take = async (text) => {
  const read = readCode(text);
  if (read.wrong) {
    tell(fill(say(`wrong-${read.wrong}`), { typed: text.trim().slice(0, 40) }), "error");
    code.setAttribute("aria-invalid", "true");
    code.select();
    return;
  }
  code.removeAttribute("aria-invalid");
  const what = form.elements.do.value;
  const person = people.find((name) => fold(name) === fold(who.value)) || who.value.trim();
  if (what === "lend" && !person) {
    tell(say("who-first"), "error");
    code.value = read.code;
    who.focus();
    return;
  }
  if (what === "lend" && people.length && !people.includes(person)) {
    tell(fill(say("nobody"), { who: person }), "error");
    code.value = read.code;
    who.focus();
    return;
  }
  if (isOnTheList(what, read.code)) {
    tell(fill(say("on-the-list"), { code: read.code }), "warning");
    code.value = "";
    return;
  }
  const entry = { what, code: read.code };
  if (what === "lend") {
    entry.who = person;
  } else if (what === "seed") {
    entry.state = "later";
  }
  await keep(entry);
  code.value = "";
  tell(fill(say(`kept-${what}`), { code: read.code, who: person }), "success");
  if (what === "seed" && standing.dataset.state === "idle") {
    leaveForSeed(read.code);
  }
};

const leaveForSeed = (packet) => {
  window.location.assign(`${root.dataset.seedAddress}?code=${encodeURIComponent(packet)}`);
};

const undo = async (entry) => {
  const dropped = await store.change(entry.order, (kept) => {
    if (kept.state !== "waiting" || kept.tries) {
      return false;
    }
    kept.state = "needless"; // never sent, so there is nothing to mend
  });
  if (dropped) {
    await draw();
    tell(fill(say("undone"), { code: entry.code }), "success");
    return;
  }
  const contrary = entry.what === "lend" ? "back" : "lend";
  await keep({ what: contrary, code: entry.code, who: entry.who || entry.borrower, undoes: entry.order });
  tell(fill(say("undoing"), { code: entry.code }), "success");
};

const act = async (what, entry) => {
  if (what === "undo") {
    await undo(entry);
  } else if (what === "seed") {
    leaveForSeed(entry.code);
  } else {
    const next = { again: "waiting", seen: "seen", aside: "refused" }[what];
    await store.change(entry.order, (kept) => {
      kept.state = next;
      kept.failed = 0;
      if (what === "again") {
        kept.key = freshKey();
        kept.body = null;
      } else if (what === "aside") {
        kept.why = say("set-aside");
      }
    });
    await draw();
    sender.flush();
  }
};

/* How things stand ------------------------------------------------------------------- */
const showStanding = ({ state, words: told, snapshot }) => {
  standing.dataset.state = state;
  standing.textContent = told || say(`state-${state}`);
  document.getElementById("table-sign-in").hidden = !["signed-out", "somebody-else"].includes(state);
  document.getElementById("table-reload").hidden = state !== "reload";
  if (snapshot) {
    counted = { lent: snapshot.lent, back: snapshot.taken_back };
  }
  draw();
};

/* The camera, and all that belongs to it, is loaded when it is first opened. */
const openCamera = async (event) => {
  const button = event.currentTarget;
  button.disabled = true;
  try {
    const { toggleCamera } = await import("./camera.js");
    await toggleCamera({
      video: document.getElementById("table-camera"),
      button,
      words: sentences,
      decoder: root.dataset.decoder,
      found: take,
    });
  } catch (refused) {
    tell(say(refused && refused.name === "NotAllowedError" ? "camera-refused" : "camera-missing"), "error");
  } finally {
    button.disabled = false;
  }
};

/* A keyboard-wedge scanner types wherever the focus is: outside of a field that is here. */
const wedge = (event) => {
  const inField = event.target.closest && event.target.closest("input, textarea, select, video");
  const isText = event.key.length === 1 && !event.ctrlKey && !event.metaKey && !event.altKey;
  if (!isText || event.key === " " || (inField && event.target.type !== "radio")) {
    return;
  }
  if (document.activeElement !== code) {
    code.value = "";
    code.focus(); // the key that is going down now is typed into it
  }
};

const begin = async () => {
  store = await openStore();
  const old = (await store.all()).filter(
    (e) => ["sent", "needless", "seen"].includes(e.state) && (e.by !== me || Date.now() - e.at > HALF_DAY)
  );
  await Promise.all(old.map((entry) => store.remove(entry.order)));
  await peopleKept();
  sender = makeSender({
    store,
    me,
    addresses: { table: root.dataset.api, lend: root.dataset.apiLend, back: root.dataset.apiBack },
    tell: showStanding,
    keepPeople,
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (document.activeElement === who && !code.value) {
      code.focus();
      return;
    }
    take(code.value);
  });
  who.addEventListener("input", drawNames);
  document.addEventListener("keydown", wedge);
  const camera = document.getElementById("table-camera-button");
  camera.hidden = false;
  camera.addEventListener("click", openCamera);
  document.getElementById("table-reload").addEventListener("click", () => window.location.reload());
  document.querySelectorAll("[data-plain]").forEach((part) => (part.hidden = true));
  document.querySelectorAll("[data-scripted]").forEach((part) => (part.hidden = false));
  await draw();
  root.dataset.ready = "yes";
  if (navigator.serviceWorker) {
    navigator.serviceWorker
      .register(root.dataset.worker, { scope: root.dataset.scope })
      .catch(() => {}); // without it the open page still keeps and sends
  }
  await sender.flush();
};

/* Without a place to keep things the page stays the form that it is. */
begin().catch(() => {
  if (root.dataset.ready !== "yes") {
    tell(say("no-store"), "warning");
  }
});
