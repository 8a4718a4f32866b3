// Half-done forms: a form[data-draft] is kept on the shop's computer while it is typed, for its person alone, and
// says so beside its button. Nothing of it stays in this browser: tablets are shared.

const AFTER_MS = 700;
const AGAIN_MS = 5000;
const states = new WeakMap();
const known = new Set();

function stateOf(form) {
  if (!states.has(form)) states.set(form, { dirty: false, timer: 0, call: null, sent: false });
  known.add(form);
  return states.get(form);
}

function tell(form, words, tone = "") {
  const line = form.querySelector(".kept");
  if (!line) return;
  line.dataset.tone = tone;
  line.textContent = words;
}

function bodyOf(form) {
  const body = new FormData();
  for (const [name, value] of new FormData(form)) if (typeof value === "string") body.append(name, value);
  return body;
}

async function keep(form, { leaving = false } = {}) {
  const state = stateOf(form);
  clearTimeout(state.timer);
  if (!state.dirty || state.sent || (state.call && !leaving)) return;
  state.dirty = false;
  state.call = new AbortController();
  try {
    const wish = { method: "POST", body: bodyOf(form), headers: { Accept: "application/json" }, redirect: "manual", keepalive: leaving, signal: state.call.signal };
    const answer = await fetch(form.dataset.draft, wish);
    const said = (answer.headers.get("Content-Type") || "").startsWith("application/json") ? await answer.json() : null;
    if (state.sent) return;
    if (answer.ok && said) tell(form, said.kept_at ? `Half done, kept at ${said.kept_at}. Not saved yet.` : "");
    else notKept(form, said?.words || "Not kept: sign in again on this tablet, then type on.");
  } catch {
    if (!state.sent) notKept(form, "Not kept yet: no answer from the shop’s computer. What you typed is still here; leave the page open.");
  } finally {
    state.call = null;
    if (state.dirty && !state.sent) state.timer = setTimeout(() => keep(form), AFTER_MS);
  }
}

function notKept(form, words) {
  const state = stateOf(form);
  tell(form, words, "trouble");
  clearTimeout(state.timer);
  state.timer = setTimeout(() => { state.dirty = true; keep(form); }, AGAIN_MS);
}

function typed(event) {
  const form = event.target.form;
  if (!form?.dataset.draft) return;
  const state = stateOf(form);
  state.dirty = true;
  if (state.sent) return;
  clearTimeout(state.timer);
  state.timer = setTimeout(() => keep(form), AFTER_MS);
}

// What is sent for good is not kept as half done any more, or it would come back after it was saved.
function sending(form) {
  if (!form?.dataset?.draft) return;
  const state = stateOf(form);
  state.sent = true;
  clearTimeout(state.timer);
  state.call?.abort();
}

function notSent(event) {
  const form = event.target.closest?.("form[data-draft]");
  if (!form) return;
  const state = stateOf(form);
  state.sent = false;
  state.dirty = true;
  notKept(form, "Not saved: no answer from the shop’s computer. What you typed is still here. Press the button again when the connection is back.");
}

function refuseWithoutConnection(event) {
  const form = event.target;
  if (!form.dataset?.draft || form.hasAttribute("hx-post") || navigator.onLine) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  tell(form, "Not saved: no connection. What you typed is still here. Press the button again when the connection is back.", "trouble");
}

function leaving() {
  for (const form of known) if (form.isConnected) keep(form, { leaving: true });
}

document.addEventListener("input", typed);
document.addEventListener("change", typed);
document.addEventListener("submit", refuseWithoutConnection, true);
document.addEventListener("submit", (event) => { if (!event.defaultPrevented) sending(event.target); });
document.body.addEventListener("htmx:beforeRequest", (event) => sending(event.target.closest?.("form")));
for (const name of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) document.body.addEventListener(name, notSent);
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "hidden") leaving(); });
window.addEventListener("pagehide", leaving);
window.addEventListener("online", () => { for (const form of known) if (form.isConnected) keep(form); });
