// A bench's page renews itself, but never under someone's finger: not while a form is open or being filled,
// not while a finger is on the glass, nor for half a second after it.

import { wire } from "./say.js";

const CALM_MS = 500;
const RENEWED = "#work, #open-task, #crate, #parts";
let fingerUntil = 0;
let newsHeld = false;

const openForm = (place) => place.querySelector("details[open] form");
const isTyping = (place) => place.contains(document.activeElement) && document.activeElement.matches("input, textarea, select");
const isUnderFinger = () => Date.now() < fingerUntil;

function isOurs(event) {
  return event.detail.target?.matches(RENEWED);
}

function holdNews(event) {
  if (!isOurs(event)) return;
  const place = event.detail.target;
  const inForm = openForm(place) || isTyping(place);
  if (!inForm && !isUnderFinger()) return rememberOpen(place);
  event.detail.shouldSwap = false;
  newsHeld = true;
  if (inForm) wire("news", "There is news; it shows when the form is closed");
  else setTimeout(showNews, CALM_MS);
}

function showNews() {
  if (!newsHeld) return;
  newsHeld = false;
  wire("news", "");
  window.htmx.trigger(document.body, "tap-answered");
}

// Signed out by the clock while a form is half filled: what was typed stays, and its tap is kept by the outbox.
function stayWithForm(event) {
  const leads = event.detail.xhr.getResponseHeader("HX-Redirect");
  const place = document.querySelector(RENEWED);
  if (!leads || !place || !(openForm(place) || isTyping(place) || isUnderFinger())) return;
  event.preventDefault();
  wire("news", "Nobody is signed in any more; what you typed stays here");
}

// --- what was unfolded stays unfolded ---
let unfolded = [];

function rememberOpen(place) {
  unfolded = [...place.querySelectorAll("details[open][id]")].map((part) => part.id);
}

function unfoldAgain() {
  unfolded.forEach((id) => document.getElementById(id)?.setAttribute("open", ""));
  unfolded = [];
}

// News that was asked for while older news were still on their way is asked for again: the answer on its way does not
// know of it yet, and what waits behind it goes with the place that it replaces.
const sentAt = new WeakMap();
let wantedAt = 0;

function wanted() {
  wantedAt = performance.now();
}

function noteSending(event) {
  if (isOurs(event)) sentAt.set(event.detail.xhr, performance.now());
}

function askOnceMore(event) {
  if (sentAt.get(event.detail.xhr) < wantedAt) window.htmx.trigger(document.body, "tap-answered");
}

// After a tap the page is wanted whole, even where nothing that other benches show has changed.
function askForAll(event) {
  if (event.detail.triggeringEvent?.type === "tap-answered") delete event.detail.headers["X-Pulse"];
}

document.addEventListener("pointerdown", () => { fingerUntil = Infinity; }, true);
["pointerup", "pointercancel"].forEach((name) => document.addEventListener(name, () => { fingerUntil = Date.now() + CALM_MS; }, true));
document.addEventListener("htmx:beforeOnLoad", stayWithForm);
document.addEventListener("htmx:beforeSwap", holdNews);
document.addEventListener("htmx:afterSwap", unfoldAgain);
["tap-answered", "sse:pulse"].forEach((name) => document.addEventListener(name, wanted, true));
document.addEventListener("htmx:beforeSend", noteSending);
document.addEventListener("htmx:afterSettle", askOnceMore);
document.addEventListener("htmx:configRequest", askForAll);
document.addEventListener("toggle", (event) => { if (!event.target.open) showNews(); }, true);
document.addEventListener("focusout", () => setTimeout(() => { if (!document.querySelector(RENEWED)?.contains(document.activeElement)) showNews(); }, 0));
