// The answer of a sum holds for the values from which it was worked out, and for no others: when one of them is
// changed, the old verdict is put out at once, and it comes back only with those values or with a new answer.

const NOT_A_VALUE = new Set(["key", "csrfmiddlewaretoken", "from", "yes"]);
const OUT = "These values have changed: what was worked out before does not hold for them.";
const EVERY_MS = 30000;

const bases = new WeakMap();

const valuesIn = (fields) => JSON.stringify(fields.filter(([name]) => !NOT_A_VALUE.has(name)).map(([name, value]) => [name, value.trim()]));
const answersOf = (form) => document.getElementById(`answers-${form.dataset.sum}`);
const shownIn = (form) => answersOf(form)?.querySelector(":scope > .answer")?.id || "";

/** What the answer on this page is known to come from; null where nobody can say. */
function baseOf(form) {
  if (!bases.has(form)) bases.set(form, { values: "unsure" in form.dataset ? null : valuesIn([...new FormData(form)]), answer: shownIn(form), news: false });
  return bases.get(form);
}

function look(form) {
  const base = baseOf(form);
  const shown = shownIn(form);
  // Another answer than the one we know: ours, just received, or one that somebody else has had worked out.
  if (shown !== base.answer) {
    if (!base.news) base.values = null;
    Object.assign(base, { answer: shown, news: false });
  }
  put(form, Boolean(shown) && base.values !== valuesIn([...new FormData(form)]));
}

function put(form, out) {
  const place = answersOf(form);
  if (!place) return;
  place.classList.toggle("is-out", out);
  document.getElementById(`said-${form.dataset.sum}`)?.toggleAttribute("hidden", out);
  const line = place.querySelector(":scope > .out-words");
  if (!out) line?.remove();
  else if (!line) {
    const made = Object.assign(document.createElement("p"), { className: "notice is-wait out-words", textContent: OUT });
    made.setAttribute("role", "status");
    place.prepend(made);
  }
}

const forms = () => document.querySelectorAll("form[data-sum]");
const lookAtAll = () => forms().forEach(look);

function received(event) {
  if (!event.target.matches("form[data-sum]")) return;
  Object.assign(baseOf(event.target), { values: valuesIn(event.detail), news: true });
}

// --- how old an answer is ---

function ages() {
  document.querySelectorAll("time[data-age]").forEach((time) => {
    const minutes = Math.floor((Date.now() - Date.parse(time.dateTime)) / 60000);
    time.nextElementSibling.textContent = minutes < 1 ? "" : minutes < 60 ? `, ${minutes} min ago` : minutes < 2880 ? `, ${Math.floor(minutes / 60)} h ago` : `, ${Math.floor(minutes / 1440)} days ago`;
  });
}

["input", "change"].forEach((name) => document.addEventListener(name, (event) => { if (event.target.form?.matches("form[data-sum]")) look(event.target.form); }));
document.addEventListener("entry-received", received);
["htmx:oobAfterSwap", "htmx:afterSettle"].forEach((name) => document.addEventListener(name, () => { lookAtAll(); ages(); }));
setInterval(ages, EVERY_MS);
lookAtAll();
ages();
