// What every page does: true millimetres, honest words about trouble, focus kept over a swap, no double sending.

import { say, wire } from "./say.js";

const REFUSALS = {
  400: "That could not be understood, and nothing was changed. Check what you typed.",
  403: "That was not allowed from this page. Reload it; you may have to sign in again.",
  404: "That is no longer here. Reload the page to see what is.",
  413: "That was too large to send. Nothing was changed; choose a smaller photo or a shorter text.",
  429: "Too many tries in a short time. Wait a minute, then try again.",
};

function wordsFor(status) {
  if (status >= 500) return "The shop’s computer could not do that. What you typed is still here; try again in a minute.";
  return REFUSALS[status] || `The shop’s computer refused that (${status}). Reload the page and look again.`;
}

function cutToMillimetres() {
  const mm = parseFloat(document.documentElement.dataset.mm);
  if (mm >= 2 && mm <= 20) document.documentElement.style.setProperty("--mm", `${mm}px`);
}

// --- focus: the same control again, or the one the answer marks as next ---
const held = new WeakMap();

function holdFocus(event) {
  held.set(event.detail.xhr, document.activeElement);
}

function giveFocusBack(event) {
  if (focusNext()) return;
  const before = held.get(event.detail.xhr);
  const lost = !document.activeElement || document.activeElement === document.body;
  // A page that refreshes itself must not take a focus that nobody had.
  if (!lost || !before || before === document.body) return;
  (sameAs(before) || landingPlace(event))?.focus({ preventScroll: true });
}

/** The control that an answer, or a page sent back with errors, marks as the next one. */
function focusNext() {
  const next = document.querySelector("[data-focus-next]");
  next?.removeAttribute("data-focus-next");
  next?.focus();
  return next;
}

/** The same control in what came back: itself, or the one with its id, its address or its name. */
function sameAs(before) {
  if (before.isConnected) return before;
  if (before.id) return document.getElementById(before.id);
  const tag = before.tagName.toLowerCase();
  const alike = (name) => before.hasAttribute(name) && `${tag}[${name}="${CSS.escape(before.getAttribute(name))}"]`;
  const wanted = alike("href") || alike("name");
  return wanted && document.querySelector(wanted);
}

function landingPlace(event) {
  const place = event.detail.target?.isConnected ? event.detail.target : document.getElementById("page");
  if (place && !place.hasAttribute("tabindex")) place.tabIndex = -1;
  return place;
}

// --- one act is sent once ---
const underWay = new WeakSet();

// At htmx:confirm, since a second act would be put in a queue before htmx:beforeRequest is ever told.
function refuseSecondTap(event) {
  if (event.detail.verb !== "get" && underWay.has(event.detail.elt)) event.preventDefault();
}

function refuseSecondSubmit(event) {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  if (underWay.has(form)) event.preventDefault();
  underWay.add(form);
}

// --- how old is what we see (pages that say data-live) ---
let lastGood = Date.now();

function tellAge() {
  if (!document.querySelector("[data-live]")) return;
  const minutes = Math.floor((Date.now() - lastGood) / 60000);
  wire("age", minutes >= 1 ? `This page is ${minutes} min old` : "");
}

function tellConnection() {
  wire("net", navigator.onLine ? "" : "No connection");
  if (!navigator.onLine) say("No connection to the shop’s computer.", "trouble");
}

function listen() {
  const on = (name, deed) => document.body.addEventListener(name, deed);
  on("htmx:confirm", refuseSecondTap);
  on("htmx:beforeRequest", (event) => {
    underWay.add(event.detail.elt);
    holdFocus(event);
    event.detail.target?.setAttribute("aria-busy", "true");
  });
  on("htmx:afterRequest", (event) => {
    underWay.delete(event.detail.elt);
    event.detail.target?.removeAttribute("aria-busy");
    if (event.detail.successful) { lastGood = Date.now(); tellAge(); }
    setTimeout(() => giveFocusBack(event), 60);
  });
  on("htmx:responseError", (event) => say(wordsFor(event.detail.xhr.status), "trouble"));
  on("htmx:sendError", () => say("No answer from the shop’s computer. It may not have been received; what you typed is still here.", "trouble"));
  on("htmx:timeout", () => say("The shop’s computer has not answered for 10 seconds. It may not have been received; look before you try again.", "trouble"));
  on("htmx:swapError", () => say("The answer could not be shown. Reload the page.", "trouble"));
  on("say", (event) => say(event.detail.value ?? event.detail));
  document.addEventListener("submit", refuseSecondSubmit);
  window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
  window.addEventListener("offline", tellConnection);
  window.addEventListener("online", tellConnection);
  setInterval(tellAge, 10000);
}

cutToMillimetres();
focusNext();
listen();
tellConnection();
