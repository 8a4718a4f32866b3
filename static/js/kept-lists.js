// The two lists at the foot of a page: what waits on this tablet, and what was not taken. They stand in the page and
// never over it; the strip at the top says that there is something in them and leads there.

import { inWords } from "./entry.js";

const make = (tag, given = {}, ...inside) => {
  const made = Object.assign(document.createElement(tag), given);
  made.append(...inside);
  return made;
};
const button = (words, deed, look = "btn") => {
  const made = make("button", { type: "button", className: look, textContent: words });
  made.addEventListener("click", deed);
  return made;
};
const hour = new Intl.DateTimeFormat(undefined, { hour: "2-digit", minute: "2-digit" });

const isOurs = (entry) => Boolean(entry.who) && (entry.handId
  ? entry.handId === document.body.dataset.handId : entry.who === document.body.dataset.handName);

function wordsOf(entry) {
  const who = entry.who ? `, ${entry.who}` : "";
  // What a colleague typed is his: only that something of his is here is said to others.
  const typed = isOurs(entry) ? inWords(entry) : "";
  const words = make("p", {}, make("b", { textContent: entry.words }), ` ${hour.format(new Date(entry.tappedAt))}${who}`);
  if (typed) words.append(make("br"), typed);
  return words;
}

/** The list with this id at the foot of the page, or nothing where it would be empty. */
function listAt(id, title, entries) {
  const page = document.getElementById("page");
  let place = document.getElementById(id);
  if (!entries.length || !page) {
    place?.remove();
    return null;
  }
  if (!place) {
    place = make("section", { id, className: "kept-here", tabIndex: -1 }, make("h2", { textContent: title }), make(id === "kept" ? "ol" : "ul"));
    page.append(place);
  }
  const told = entries.map((entry) => entry.key + (entry.parked ? "!" : "")).join();
  // A line that is written again would be read aloud again.
  if (place.dataset.told === told) return null;
  place.dataset.told = told;
  return place.lastElementChild;
}

/** Each entry that the shop's computer has not answered yet, in the order of tapping. */
export function tellWaiting(entries) {
  listAt("kept", "Waiting on this tablet", entries)?.replaceChildren(...entries.map((entry) => {
    const line = make("li", {}, wordsOf(entry));
    if (entry.parked) line.append(make("p", { textContent: `${entry.who} has to sign in to send it.` }));
    return line;
  }));
}

/** Each entry that was not taken, with why and what can be done about it; the newest stands open. */
export function tellRefused(entries, deeds) {
  const list = listAt("not-taken", "Not taken", entries);
  list?.replaceChildren(...entries.map((entry, at) => refusedLine(entry, deeds, at === entries.length - 1)));
}

function refusedLine(entry, deeds, open) {
  const isOpen = isOurs(entry) || !entry.values?.length;
  const deedsHere = make("div", { className: "deeds" }, ...(isOpen ? [...mending(entry, deeds), away(entry, deeds)] : []));
  const why = make("p", { className: "why-not" }, isOpen ? entry.refusal : `${entry.who} can read why, signed in here.`);
  why.setAttribute("role", "alert");
  const part = make("details", { name: "not-taken", open }, make("summary", {}, wordsOf(entry)), why, deedsHere);
  return make("li", {}, part);
}

function mending(entry, deeds) {
  if (!isOurs(entry)) return [];
  if (deeds.isPhoto(entry)) return [button("Send it again", () => deeds.again(entry))];
  if (!entry.values?.length) return [];
  if (deeds.formFor(entry)) return [button("Correct it", () => deeds.correct(entry))];
  if (!entry.page || entry.page === location.pathname + location.search) return [];
  return [make("a", { className: "btn", href: `${entry.page}#mend-${entry.place}`, textContent: "Open its form" })];
}

/** A tap without words is put away once it is read; what was typed goes only after a yes. */
function away(entry, deeds) {
  if (!entry.values?.length) return button("Read", () => deeds.drop(entry));
  const place = make("div", { className: "deeds" });
  const first = button("Throw it away…", () => {
    place.replaceChildren(
      make("p", { textContent: "What was typed is gone then." }),
      button("Yes, throw it away", () => deeds.drop(entry), "btn btn-stop"),
      button("Keep it", () => place.replaceChildren(first)),
    );
  });
  place.append(first);
  return place;
}
