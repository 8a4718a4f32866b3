// What a form holds when it is pressed: its fields, its words for a reader, what is still missing; and the way back,
// by which an entry that was not taken comes into its form again.

const NOT_THE_DEED = new Set(["key", "csrfmiddlewaretoken"]);
const NOT_TYPED = new Set(["hidden", "submit", "button", "reset", "file", "fieldset", "output"]);
const UNSEEN = /[\s\u200b-\u200f\u2060\ufeff]/g;

const pathOf = (form) => new URL(form.action).pathname;
const typedIn = (form) => [...form.elements].filter((field) => field.name && !NOT_TYPED.has(field.type));
const isEmpty = (field) => (field.type === "radio" || field.type === "checkbox" ? !field.checked : !field.value.replace(UNSEEN, ""));

/** A key of its own for what was typed at one press. */
export function freshKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** Whether there is anything to type or to choose; a form that is only a button stands for one deed. */
export const isTyped = (form) => typedIn(form).length > 0;

/** Forms whose values are varied and worked out again: they keep them, and the same values twice are one entry. */
export const isVaried = (form) => "keep" in form.dataset && !("empties" in form.dataset);

export function deedOf(url, fields) {
  return JSON.stringify([url, fields.filter(([name]) => !NOT_THE_DEED.has(name)).map(([name, value]) => [name, String(value)])]);
}

/** The same for an entry and for the form from which it came, also after the form was emptied or drawn again. */
export function slotOf(form) {
  if (!isTyped(form)) return deedOf(pathOf(form), [...new FormData(form)]);
  const names = [...form.elements].map((field) => field.name).filter((name) => name && !NOT_THE_DEED.has(name));
  return JSON.stringify([pathOf(form), ...new Set(names)]);
}

/** Everything that is kept of a form in this moment. */
export function entryOf(form, { key = freshKey(), button, fields, deed, slot = slotOf(form), values = valuesOf(form) } = {}) {
  const read = fields || [...new FormData(form, button)].filter(([name]) => name !== "csrfmiddlewaretoken");
  return {
    key,
    url: pathOf(form),
    fields: read.map(([name, value]) => [name, name === "key" ? key : value]),
    deed: deed || deedOf(pathOf(form), read),
    slot,
    values,
    words: form.dataset.tap,
    piano: form.dataset.piano,
    page: location.pathname + location.search,
    hand: document.body.dataset.hand || "",
    handId: document.body.dataset.handId || "",
    who: document.body.dataset.handName || "",
    tappedAt: new Date().toISOString(),
  };
}

// --- in words ---

function plain(element) {
  const copy = element?.cloneNode(true);
  copy?.querySelectorAll(".optional, .error, input, select, textarea").forEach((part) => part.remove());
  return copy?.textContent.trim().replace(/\s+/g, " ") || "";
}

const ownLabel = (field) => plain(field.labels?.[0]);

function labelOf(field) {
  const group = field.type === "radio" && plain(field.closest("fieldset")?.querySelector("legend"));
  return group || ownLabel(field) || field.getAttribute("aria-label") || field.name;
}

function saidBy(field) {
  if (field.type === "radio") return ownLabel(field);
  if (field.type === "checkbox") return "yes";
  return field.tagName === "SELECT" ? field.selectedOptions[0]?.textContent.trim() : field.value.trim();
}

/** What was typed and chosen, each with the words beside it. */
export function valuesOf(form) {
  const said = typedIn(form).filter((field) => !isEmpty(field));
  return said.map((field) => [labelOf(field), saidBy(field)]);
}

export const inWords = (entry) => (entry.values || []).map(([label, value]) => `${label}: ${value}`).join(" · ");

// --- what is missing ---

const isMissing = (form, field) => field.required && (field.type === "radio"
  ? !typedIn(form).some((other) => other.name === field.name && other.checked) : isEmpty(field));

/** The first field that may not stay empty and is; of fields in `data-one-of` (groups parted by |) one is enough. */
export function missingIn(form) {
  const alone = typedIn(form).find((field) => isMissing(form, field));
  if (alone) return { field: alone, words: `${labelOf(alone)}: this may not stay empty.` };
  for (const group of (form.dataset.oneOf || "").split("|").filter(Boolean)) {
    const fields = typedIn(form).filter((field) => group.split(" ").includes(field.name));
    if (fields.length && fields.every(isEmpty)) {
      const labels = [...new Set(fields.map(labelOf))].join(" / ");
      return { field: fields.at(-1), words: `${labels}: choose or write something.` };
    }
  }
  return null;
}

/** Say at its field what is missing, and go there. Nothing was kept. */
export function askFor(form, { field, words }) {
  forget(form);
  const place = field.closest(".field") || form;
  const line = Object.assign(document.createElement("p"), { className: "error", textContent: `${words} Nothing was kept yet.` });
  line.setAttribute("role", "alert");
  line.dataset.missing = "";
  place.classList.add("has-error");
  place.append(line);
  field.focus();
}

export function forget(form) {
  form.querySelectorAll("[data-missing]").forEach((line) => {
    line.parentElement.classList.remove("has-error");
    line.remove();
  });
}

// --- emptied, and filled again ---

function foldQuestion(form) {
  const asked = form.querySelector("[data-when-asked]");
  asked?.setAttribute("hidden", "");
  asked?.querySelectorAll("input").forEach((tick) => { tick.checked = false; });
}

/** Free for the next entry: what is varied keeps its values, a form that says which of its fields are emptied the rest. */
export function empty(form) {
  forget(form);
  foldQuestion(form);
  if (isVaried(form)) return;
  if (!("empties" in form.dataset)) return form.reset();
  const names = form.dataset.empties.split(" ");
  typedIn(form).filter((field) => names.includes(field.name)).forEach((field) => { field.value = ""; });
}

/** Put an entry back into its form, unfold it, and ask again what was asked about it. */
export function fill(form, entry) {
  const given = new Map();
  for (const [name, value] of entry.fields) given.set(name, [...(given.get(name) || []), value]);
  for (const field of typedIn(form)) {
    const values = given.get(field.name) || [];
    if (field.type === "radio" || field.type === "checkbox") field.checked = values.includes(field.value);
    else field.value = values.shift() ?? "";
  }
  for (let part = form.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
  if (!entry.ask) return;
  const asked = form.querySelector("[data-when-asked]");
  asked?.removeAttribute("hidden");
  asked?.querySelector("input")?.focus();
}
