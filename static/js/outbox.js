// The outbox: what is sent from a form[data-tap] is kept on this tablet first and sent then, until the shop's computer
// has answered. An entry is what the form held at the press, under a key of its own; the form is free for the next one
// at once. It is sent as the one who tapped, in the order of tapping for each instrument.

import { say, wire } from "./say.js";
import { post } from "./post.js";
import * as drawer from "./drawer.js";
import { askFor, deedOf, empty, entryOf, fill, forget, freshKey, isTyped, isVaried, missingIn, slotOf } from "./entry.js";
import { tellRefused, tellWaiting } from "./kept-lists.js";
import { clearPhotos, photoMissing, photosIn } from "./photo-taps.js";

const EVERY_MS = 5000;
// A glove bounces, and the answer may have put the next stage's button under it: two taps so close are one.
const BOUNCE_MS = 800;
// So long after the press a refused entry comes back into its form by itself: later the hands are elsewhere.
const STILL_THERE_MS = 15000;
const YES = "yes";

let waiting = [];
let refused = [];
let whyStuck = "";

const isPhoto = (tap) => tap.fields.some(([, value]) => value instanceof Blob);
const many = (taps, word) => (taps.length ? [`${taps.length} ${word}${taps.length === 1 ? "" : "s"}`] : []);
const without = (kept) => refused.filter((other) => other.place !== kept.place);
const count = (taps) => [...many(taps.filter((tap) => !isPhoto(tap)), "tap"), ...many(taps.filter(isPhoto), "photo")].join(" and ");

// --- a tap comes in ---

const lastTap = new Map();
// Forms in which something was typed since they were last free; what they held when they were free; and the place of
// the refused entry that a form is mending.
const touched = new WeakSet();
const freed = new WeakMap();
const mends = new WeakMap();

/** The same press again at once; of a form that is only a button also what the answer has put under the glove. */
function isBounce(form) {
  const now = performance.now();
  const deed = deedOf(form.action, [...new FormData(form)]);
  const last = lastTap.get(form.action);
  const isAgain = !isTyped(form) || (!touched.has(form) && (deed === last?.deed || deed === freed.get(form)));
  const bounced = Boolean(last) && now - last.at < BOUNCE_MS && isAgain;
  if (!bounced) lastTap.set(form.action, { at: now, deed });
  return bounced;
}

async function take(event) {
  const form = event.target;
  if (!form.matches?.("form[data-tap]") || !window.indexedDB) return;
  event.preventDefault();
  if (isBounce(form)) return;
  const missing = missingIn(form) || photoMissing(form);
  if (missing) return askFor(form, missing);
  if (form.matches("[data-photos]")) return keepPhotos(form);
  const tap = entryOf(form, { button: event.submitter?.name ? event.submitter : undefined });
  const isOne = !isTyped(form) || isVaried(form);
  if (isOne && waiting.some((other) => other.deed === tap.deed)) return show(form, "kept on this tablet");
  return keep(form, tap);
}

async function keep(form, tap) {
  const mended = refused.find((other) => other.place === mends.get(form));
  waiting.push(tap);
  free(form);
  show(form, "…");
  try {
    tap.place = await drawer.add(tap, mended);
  } catch {
    waiting = waiting.filter((other) => other !== tap);
    fill(form, tap);
    form.elements.key.value = tap.key;
    return noRoom(form, "what you typed");
  }
  if (mended) refused = without(mended);
  form.elements.key.value = freshKey();
  navigator.vibrate?.(30);
  tell();
  return drain();
}

function free(form) {
  mends.delete(form);
  touched.delete(form);
  empty(form);
  freed.set(form, deedOf(form.action, [...new FormData(form)]));
}

/** Each photo is a tap of its own: one that is refused does not take the others with it. */
async function keepPhotos(form) {
  const { photos, tooLarge } = photosIn(form);
  try {
    for (const photo of photos) {
      const tap = entryOf(form, photo);
      tap.place = await drawer.add(tap);
      if (!waiting.some((other) => other.place === tap.place)) waiting.push(tap);
    }
  } catch {
    return noRoom(form, "the photos");
  }
  navigator.storage?.persist?.();
  navigator.vibrate?.(30);
  clearPhotos(form);
  touched.delete(form);
  freed.set(form, deedOf(form.action, [...new FormData(form)]));
  show(form, photos.length ? "kept on this tablet" : "");
  if (tooLarge) say(tooLarge, "trouble");
  tell();
  return drain();
}

/** No room or no drawer: sent at once where that can be, else nothing is done and all stays in the form. */
function noRoom(form, what) {
  show(form, "");
  if (navigator.onLine) return form.submit();
  return say(`There is no room on this tablet to keep ${what}. It still stands in its form; send it when the connection is back.`, "trouble");
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
  if (answer.fate === "received") await received(tap, answer);
  else await notTaken(tap, answer);
  tell();
  window.htmx?.trigger(document.body, "tap-answered");
}

async function received(tap, answer) {
  await drawer.remove(tap);
  await dropAsked(tap);
  formsOf(tap).forEach((form) => form.dispatchEvent(new CustomEvent("entry-received", { bubbles: true, detail: tap.fields })));
  if (!waitsFor(tap)) formsOf(tap).forEach((form) => { show(form, "received"); fold(form); });
  if (isPhoto(tap) && !waiting.some(isPhoto)) photoForms().forEach((form) => show(form, "received"));
  say([answer.words, ...(answer.notes || [])].join(" "));
}

/** It stays in the drawer with why; just pressed, it comes back into its form, if nothing else was begun there. */
async function notTaken(tap, answer) {
  const kept = { ...tap, refusal: answer.words, ask: Boolean(answer.ask) };
  await drawer.change(kept);
  refused = [...without(kept), kept];
  formsOf(tap).forEach((form) => show(form, ""));
  const form = formFor(kept);
  const isStillThere = Date.now() - Date.parse(tap.tappedAt) < STILL_THERE_MS && tap.page === here();
  if (form && isStillThere && !touched.has(form) && !waitsFor(tap)) mend(form, kept);
}

function mend(form, kept) {
  fill(form, kept);
  mends.set(form, kept.place);
}

/** "Measured again?" has its answer once the same values were received with a yes: nothing is left to be read. */
async function dropAsked(tap) {
  if (!tap.fields.some(([name]) => name === YES)) return;
  const bare = (each) => deedOf(each.url, each.fields.filter(([name]) => name !== YES));
  const answered = refused.filter((other) => other.ask && other.who === tap.who && bare(other) === bare(tap));
  refused = refused.filter((other) => !answered.includes(other));
  for (const other of answered) await drawer.remove(other);
}

/** Take over what another page of this tablet, or this page before its reload, has put into the drawer. */
async function look() {
  const kept = await drawer.all();
  const parked = new Set(waiting.filter((tap) => tap.parked).map((tap) => tap.place));
  const there = kept.filter((tap) => !tap.refusal && !settled.has(tap.place));
  waiting = [...there.map((tap) => ({ ...tap, parked: parked.has(tap.place) })), ...waiting.filter((tap) => !tap.place && !there.some((other) => other.key === tap.key))];
  refused = kept.filter((tap) => tap.refusal);
}

// --- what the person in front of it sees ---

const here = () => location.pathname + location.search;
const photoForms = () => [...document.querySelectorAll("form[data-photos]")];
const formsOf = (tap) => [...document.querySelectorAll("form[data-tap]:not([data-photos])")].filter((form) => slotOf(form) === (tap.slot ?? tap.deed));
const formFor = (tap) => formsOf(tap).find(isTyped);
const waitsFor = (tap) => waiting.some((other) => other.slot === tap.slot);

/** What was received is folded away, unless the next entry is already being typed there. */
function fold(form) {
  const part = form.closest("details[open]");
  if ("keep" in form.dataset || !part) return;
  if (![...part.querySelectorAll("form")].some((other) => touched.has(other))) part.removeAttribute("open");
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
  wire("outbox", ours.length ? words(count(ours)) : "", "wait", "#kept");
  wire("parked", theirs.length ? `${count(theirs)} kept here for ${theirs[0].who}, who has to sign in to send` : "", "wait", "#kept");
  wire("refused", refused.length ? `${count(refused)} not taken: see why` : "", "stop", "#not-taken");
  waiting.forEach((tap) => formsOf(tap).forEach((form) => show(form, "kept on this tablet")));
  tellWaiting(waiting);
  tellRefused(refused, { isPhoto, formFor, drop, again, correct });
}

async function drop(kept) {
  refused = without(kept);
  await drawer.remove(kept);
  tell();
}

/** Open an entry that was not taken in its form: what is sent from there takes its place. */
function correct(kept) {
  const form = formFor(kept);
  if (!form) return;
  mend(form, kept);
  form.scrollIntoView({ block: "center" });
  [...form.elements].find((field) => field.type !== "hidden" && field.name)?.focus({ preventScroll: true });
}

/** A photo has nothing to correct: it is sent once more under a new key. */
async function again(kept) {
  const key = freshKey();
  const { refusal, ask, place, ...rest } = kept;
  const tap = { ...rest, key, fields: kept.fields.map(([name, value]) => [name, name === "key" ? key : value]) };
  tap.place = await drawer.add(tap, kept);
  refused = without(kept);
  return drain();
}

/** Led here from another page by "Open its form". */
async function mendByAddress() {
  await drain();
  const kept = refused.find((tap) => `#mend-${tap.place}` === location.hash);
  if (kept) correct(kept);
}

/** Whoever leaves this tablet says what of theirs still waits here: that, and nothing else, is sent as theirs later. */
function tellWhatStays(event) {
  const form = event.target;
  if (!form.matches?.("form[data-leaves]") || !waiting.length) return;
  const said = waiting.map(({ url, fields }) => ({ url, fields: fields.filter(([, value]) => typeof value === "string") }));
  const field = form.elements.waiting || form.appendChild(Object.assign(document.createElement("input"), { type: "hidden", name: "waiting" }));
  field.value = JSON.stringify(said);
}

document.addEventListener("submit", take, true);
document.addEventListener("submit", tellWhatStays, true);
document.addEventListener("input", (event) => {
  const form = event.target.form;
  if (!form?.matches("form[data-tap]")) return;
  touched.add(form);
  forget(form);
});
document.addEventListener("htmx:afterSettle", tell);
document.addEventListener("visibilitychange", () => { if (!document.hidden) drain(); });
window.addEventListener("online", drain);
setInterval(drain, EVERY_MS);
mendByAddress();
