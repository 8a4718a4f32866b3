// A keypad over the plain PIN field. The field itself stays: it holds the digits, takes a keyboard, and is what is sent.

const LENGTH = 6;
const form = document.getElementById("pin-form");
const field = form?.querySelector("input[name=pin]");
const pad = document.getElementById("keypad");

function press(digit) {
  if (field.value.length < LENGTH) field.value += digit;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

function back() {
  field.value = field.value.slice(0, -1);
}

// The sixth digit sends: one tap less, on the finger's way up.
function sendWhenWhole() {
  if (/^[0-9]{6}$/.test(field.value)) form.requestSubmit();
}

function onPad(event) {
  const key = event.target.closest("button[type=button]");
  if (!key) return;
  if ("back" in key.dataset) back();
  else press(key.dataset.digit);
}

if (field && pad) {
  pad.hidden = false;
  document.getElementById("plain-go").hidden = true;
  // The tablet's own keyboard would cover the keys.
  field.inputMode = "none";
  pad.addEventListener("click", onPad);
  field.addEventListener("input", sendWhenWhole);
}
