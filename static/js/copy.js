// A button with data-copy="id" puts the value of that field on the clipboard, where the browser lets it.
import { say } from "./say.js";

for (const button of document.querySelectorAll("[data-copy]")) {
  if (!navigator.clipboard) continue;
  button.hidden = false;
  button.addEventListener("click", async () => {
    const field = document.getElementById(button.dataset.copy);
    field.select();
    await navigator.clipboard.writeText(field.value);
    say("Copied.");
  });
}
