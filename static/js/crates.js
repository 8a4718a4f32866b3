// Crates for gloved hands: a keypad over the number's field, and one tap for "all of them" beside each count.
// The fields themselves stay what they are: they take a keyboard or a scanner, and work without this.

// --- the keypad ---

function onPad(event) {
  const key = event.target.closest("button[type=button]");
  const pad = event.target.closest("[data-keypad-for]");
  if (!key || !pad) return;
  const field = document.getElementById(pad.dataset.keypadFor);
  field.value = "back" in key.dataset ? field.value.slice(0, -1) : field.value + key.dataset.digit;
}

document.querySelectorAll("[data-keypad-for]").forEach((pad) => {
  pad.hidden = false;
  document.getElementById("find-go").hidden = true;
});

// --- all of them ---

function button(words, name, deed) {
  const made = Object.assign(document.createElement("button"), { type: "button", className: "btn", textContent: words });
  made.setAttribute("aria-label", name);
  made.addEventListener("click", deed);
  return made;
}

function dress(row) {
  if (row.dataset.dressed) return;
  row.dataset.dressed = "1";
  const field = row.querySelector("input");
  const most = Number(row.dataset.most);
  const part = document.querySelector(`label[for="${field.id}"]`).textContent.trim();
  const set = (value) => {
    field.value = Math.max(0, Math.min(most, value));
    field.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const now = () => (field.value.trim() === "" ? 0 : Number(field.value) || 0);
  row.append(
    button("−", `one less of ${part}`, () => set(now() - 1)),
    button("+", `one more of ${part}`, () => set(now() + 1)),
    button(`all ${most}`, `all ${most} of ${part}`, () => set(most)),
  );
}

const dressAll = () => document.querySelectorAll(".count-of").forEach(dress);

document.addEventListener("click", onPad);
document.addEventListener("htmx:afterSettle", dressAll);
dressAll();
