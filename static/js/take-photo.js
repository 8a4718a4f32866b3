// "Take a photo" opens the camera at once, where there is one; the picture goes to the address of the link. Without
// this the link leads to a page with a form. A picture that could not be sent stays at hand until the next press.

const NOT_SENT = "Not sent: no answer from the shop’s computer. The photo is still here; press again to send it.";
const PATIENCE_MS = 60000;
const waiting = new WeakMap();

function freshBatch() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function tell(link, words, tone = "") {
  const line = link.closest(".finding")?.querySelector(".photo-said");
  if (line) { line.textContent = words; line.dataset.tone = tone; }
}

async function send(link) {
  const { file, batch } = waiting.get(link);
  const body = new FormData();
  body.append("csrfmiddlewaretoken", document.querySelector("[name=csrfmiddlewaretoken]").value);
  body.append("batch", batch);
  body.append("caption", "");
  body.append("photos", file);
  tell(link, "Sending the photo …");
  try {
    const answer = await fetch(link.href, { method: "POST", body, signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.status === 422) return refused(link, await answer.text());
    if (!answer.ok) throw new Error(String(answer.status));
    waiting.delete(link);
    location.reload();
  } catch {
    tell(link, NOT_SENT, "trouble");
  }
  return undefined;
}

function refused(link, page) {
  waiting.delete(link);
  const said = new DOMParser().parseFromString(page, "text/html").querySelector("#refused li, #errors li");
  tell(link, `Not taken: ${said?.textContent.trim() || "this is no photo that can be opened."}`, "trouble");
}

function take(event) {
  const link = event.target.closest("a[data-take-photo]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  if (waiting.has(link)) { send(link); return; }
  const input = document.createElement("input");
  Object.assign(input, { type: "file", accept: "image/*" });
  input.setAttribute("capture", "environment");
  input.addEventListener("change", () => {
    if (!input.files.length) return;
    waiting.set(link, { file: input.files[0], batch: freshBatch() });
    send(link);
  });
  input.click();
}

document.addEventListener("click", take);
