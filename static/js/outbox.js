// The outbox: a tap on a form[data-tap] is kept on this tablet first and sent then, until the shop's computer
// has answered. It is sent as the one who tapped, in the order of tapping for each instrument.

import { say, wire } from "./say.js";
import { post } from "./post.js";
import * as drawer from "./drawer.js";
import { clearPhotos, hasPhotos, photosIn } from "./photo-taps.js";

const EVERY_MS = 5000;
// A glove bounces, and the answer may have put the next stage's button under it: two taps so close are one.
const BOUNCE_MS = 800;
const NOT_THE_DEED = new Set(["key", "csrfmiddlewaretoken"]);
const YES = "yes";

let waiting = [];
let refused = [];
let whyStuck = "";

const isPhoto = (tap) => tap.fields.some(([, value]) => value instanceof Blob);
const many = (taps, word) => (taps.length ? [`${taps.length} ${word}${taps.length === 1 ? "" : "s"}`] : []);
const count = (taps) => [...many(taps.filter((tap) => !isPhoto(tap)), "tap"), ...many(taps.filter(isPhoto), "photo")].join(" and ");
const deedOf = (url, fields) => JSON.stringify([url, fields.filter(([name]) => !NOT_THE_DEED.has(name)).map(([name, value]) => [name, String(value)])]);
const deedOfForm = (form, button) => deedOf(new URL(form.action).pathname, [...new FormData(form, button)]);

function freshKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

// --- a tap comes in ---

const lastTap = new Map();

function isBounce(url) {
  const now = performance.now();
  const bounced = now - (lastTap.get(url) ?? -Infinity) < BOUNCE_MS;
  if (!bounced) lastTap.set(url, now);
  return bounced;
}

async function take(event) {
  const form = event.target;
  if (!form.matches?.("form[data-tap]") || !window.indexedDB) return;
  // A form without a photo goes the plain way: the shop's computer says what is missing.
  if (form.matches("[data-photos]") && !hasPhotos(form)) return;
  event.preventDefault();
  if (isBounce(form.action)) return;
  if (form.matches("[data-photos]")) return keepPhotos(form);
  const button = event.submitter?.name ? event.submitter : undefined;
  const deed = deedOfForm(form, button);
  if (waiting.some((tap) => tap.deed === deed)) return show(form, "kept on this tablet");
  const tap = read(form, button, deed);
  waiting.push(tap);
  show(form, "…");
  try {
    tap.place = await drawer.add(tap);
  } catch {
    // No room or no drawer: the form goes the plain way, as on a page without this script.
    waiting = waiting.filter((other) => other !== tap);
    return form.submit();
  }
  navigator.vibrate?.(30);
  tell();
  return drain();
}

/** Each photo is a tap of its own: one that is refused does not take the others with it. */
async function keepPhotos(form) {
  const { photos, tooLarge } = photosIn(form);
  try {
    for (const { key, fields, deed } of photos) {
      const tap = tapOf(form, key, fields, deed);
      tap.place = await drawer.add(tap);
      if (!waiting.some((other) => other.place === tap.place)) waiting.push(tap);
    }
  } catch {
    return noRoom(form);
  }
  navigator.storage?.persist?.();
  navigator.vibrate?.(30);
  clearPhotos(form);
  show(form, photos.length ? "kept on this tablet" : "");
  if (tooLarge) say(tooLarge, "trouble");
  tell();
  return drain();
}

/** No room or no drawer: sent at once where that can be, else nothing is done and the photos stay chosen. */
function noRoom(form) {
  if (navigator.onLine) return form.submit();
  return say("There is no room on this tablet to keep the photos. They are still chosen; send them when the connection is back.", "trouble");
}

function read(form, button, deed) {
  const fields = [...new FormData(form, button)].filter(([name]) => name !== "csrfmiddlewaretoken");
  return tapOf(form, form.elements.key.value, fields, deed);
}

function tapOf(form, key, fields, deed) {
  return {
    key,
    url: new URL(form.action).pathname,
    fields,
    deed,
    words: form.dataset.tap,
    piano: form.dataset.piano,
    hand: document.body.dataset.hand || "",
    who: document.body.dataset.handName || "",
    tappedAt: new Date().toISOString(),
  };
}

// --- the drawer is emptied ---

// Two ways out of the drawer: a tap must not wait while a large photo of another piano is on its way.
const busy = new Set();
const settled = new Set();

async function drain() {
  await look();
  await Promise.all([sendAll(false), sendAll(true)]);
}

async function sendAll(photos) {
  if (busy.has(photos)) return;
  busy.add(photos);
  try {
    await sendEach(photos);
  } finally {
    busy.delete(photos);
    tell();
  }
}

async function sendEach(photos) {
  const held = new Set();
  for (let next; (next = nextIn(photos, held)); ) {
    const answer = await post(next);
    if (answer.fate === "stays") {
      if (park(next, answer)) continue;
      whyStuck = answer.why;
      held.add(next.piano);
      // Without an answer or a person the others would fare no better.
      if (answer.why !== "trouble") break;
    } else {
      whyStuck = "";
      await settle(next, answer);
      // What had to come after it may be of the other kind.
      sendAll(!photos);
    }
  }
}

/** The first that may go: in the order of tapping for each instrument, be it a tap or a photo. */
function nextIn(photos, held) {
  const isBefore = (other, tap) => other.piano === tap.piano && other.place < tap.place && isPhoto(other) !== photos && !other.parked;
  return waiting.find((tap) => tap.place && isPhoto(tap) === photos && !tap.parked && !held.has(tap.piano)
    && !waiting.some((other) => isBefore(other, tap)));
}

/** Somebody else is signed in where nobody can vouch for the one who tapped: it waits for that person. */
function park(tap, answer) {
  if (answer.why === "another") tap.parked = true;
  return Boolean(tap.parked);
}

async function settle(tap, answer) {
  settled.add(tap.place);
  waiting = waiting.filter((other) => other.place !== tap.place);
  if (answer.fate === "received") {
    await drawer.remove(tap);
    await dropAsked(tap);
    formsOf(tap).forEach((form) => { show(form, "received"); close(form); });
    if (isPhoto(tap) && !waiting.some(isPhoto)) photoForms().forEach((form) => show(form, "received"));
    say([answer.words, ...(answer.notes || [])].join(" "));
  } else {
    const kept = { ...tap, refusal: answer.words };
    await drawer.change(kept);
    refused.push(kept);
    formsOf(tap).forEach((form) => { show(form, ""); if (answer.ask) askAgain(form); });
  }
  formsOf(tap).forEach((form) => { form.elements.key.value = freshKey(); });
  tell();
  window.htmx?.trigger(document.body, "tap-answered");
}

/** "Measured again?" has its answer once the same values were received with a yes: nothing is left to be read. */
async function dropAsked(tap) {
  if (!tap.fields.some(([name]) => name === YES)) return;
  const bare = (each) => deedOf(each.url, each.fields.filter(([name]) => name !== YES));
  const answered = refused.filter((other) => other.hand === tap.hand && bare(other) === bare(tap));
  refused = refused.filter((other) => !answered.includes(other));
  for (const other of answered) await drawer.remove(other);
}

/** Take over what another page of this tablet, or this page before its reload, has put into the drawer. */
async function look() {
  const kept = await drawer.all();
  const parked = new Set(waiting.filter((tap) => tap.parked).map((tap) => tap.place));
  const there = kept.filter((tap) => !tap.refusal && !settled.has(tap.place));
  waiting = [...there.map((tap) => ({ ...tap, parked: parked.has(tap.place) })), ...waiting.filter((tap) => !tap.place)];
  refused = kept.filter((tap) => tap.refusal);
}

// --- what the person in front of it sees ---

const photoForms = () => [...document.querySelectorAll("form[data-photos]")];
const formsOf = (tap) => [...document.querySelectorAll("form[data-tap]")].filter((form) => deedOfForm(form) === tap.deed);

function close(form) {
  const asked = form.querySelector("[data-when-asked]");
  asked?.setAttribute("hidden", "");
  asked?.querySelectorAll("input").forEach((tick) => { tick.checked = false; });
  // What is worked out again with one value changed stays open and keeps the others.
  if ("keep" in form.dataset) return;
  form.closest("details[open]")?.removeAttribute("open");
  form.reset();
}

/** A value beyond what is possible: the form asks whether it was measured again. */
function askAgain(form) {
  const asked = form.querySelector("[data-when-asked]");
  asked?.removeAttribute("hidden");
  asked?.querySelector("input")?.focus();
}

/** Say beside the button where its tap is: kept here, or received over there. */
function show(form, words) {
  const line = form.querySelector(".tap-state") || form.appendChild(Object.assign(document.createElement("output"), { className: "tap-state" }));
  line.textContent = words;
  form.classList.toggle("is-kept", Boolean(words));
}

const STUCK = {
  nobody: (n) => `Sign in to send ${n} waiting on this tablet`,
  "old page": (n) => `Reload this page to send ${n} waiting on this tablet`,
  trouble: (n) => `${n} kept on this tablet: the shop’s computer has trouble, trying again`,
};

function tell() {
  const words = STUCK[whyStuck] || ((n) => `${n} kept on this tablet, not received yet`);
  const ours = waiting.filter((tap) => !tap.parked);
  const theirs = waiting.filter((tap) => tap.parked);
  wire("outbox", ours.length ? words(count(ours)) : "");
  wire("parked", theirs.length ? `${count(theirs)} kept here for ${theirs[0].who}, who has to sign in to send` : "");
  waiting.forEach((tap) => formsOf(tap).forEach((form) => show(form, "kept on this tablet")));
  tellRefused();
}

function tellRefused() {
  const page = document.getElementById("page");
  let list = document.getElementById("not-taken");
  if (!list && refused.length && page) {
    list = Object.assign(document.createElement("ul"), { id: "not-taken" });
    page.prepend(list);
  }
  const told = refused.map((tap) => tap.key).join();
  // A line that is written again would be read aloud again.
  if (!list || list.dataset.told === told) return;
  list.dataset.told = told;
  list.replaceChildren(...refused.map(lineFor));
}

function lineFor(tap) {
  const line = Object.assign(document.createElement("li"), { role: "alert" });
  const words = document.createElement("p");
  const done = Object.assign(document.createElement("button"), { type: "button", className: "btn", textContent: "Read" });
  words.append(Object.assign(document.createElement("b"), { textContent: `${tap.words}, ${tap.who}: not taken. ` }), tap.refusal);
  done.addEventListener("click", async () => {
    refused = refused.filter((other) => other !== tap);
    await drawer.remove(tap);
    tell();
  });
  line.append(words, done);
  return line;
}

document.addEventListener("submit", take, true);
document.addEventListener("htmx:afterSettle", tell);
document.addEventListener("visibilitychange", () => { if (!document.hidden) drain(); });
window.addEventListener("online", drain);
setInterval(drain, EVERY_MS);
drain();
