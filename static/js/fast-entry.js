// Fast entry by keyboard: Enter goes to the next empty field of the form, and sends it from the last one.
// Without this the form is sent by Enter from any field, and the server says what is missing.

function nextEmpty(from) {
  const fields = [...from.form.querySelectorAll("input[type=text]")];
  return fields.slice(fields.indexOf(from) + 1).find((field) => "needed" in field.dataset && !field.value.trim());
}

function onKey(event) {
  const field = event.target;
  if (event.key !== "Enter" || !field.matches("form[data-fast] input[type=text]")) return;
  const next = nextEmpty(field);
  if (!next) return;
  event.preventDefault();
  next.focus();
}

// At once: whoever types quickly would else still be typing into the field that had the focus before.
function toTheFirst() {
  const next = document.querySelector("form[data-fast] [data-focus-next]");
  next?.removeAttribute("data-focus-next");
  next?.focus();
}

document.addEventListener("keydown", onKey);
document.addEventListener("htmx:afterSwap", toTheFirst);
