// One tap on its way to the shop's computer, and what became of it.

const PATIENCE_MS = 8000;
// A large photo over bad Wi-Fi: a lost connection is told by itself, so patience is for slowness only.
const PATIENCE_WITH_FILES_MS = 30000;
const SLOWEST_BYTES_PER_MS = 25;
const GONE = "The task is no longer there, so this tap was not taken.";
const TOO_LARGE = "That was too large to send, so it was not taken.";

/** What may become of a tap: it was received, it was refused for good, or it has to stay for now. */
export const received = (said) => ({ fate: "received", ...said });
const refused = (words, ask) => ({ fate: "refused", words, ask });
const stays = (why) => ({ fate: "stays", why });

// The cookie is always the present one, whatever page this is and whoever signed in meanwhile.
function proofOfOrigin() {
  const found = document.cookie.match(/(?:^|; )(?:__Host-csrf|csrftoken)=([^;]+)/);
  return found ? found[1] : "";
}

function bodyOf(tap) {
  const body = new FormData();
  for (const [name, value] of tap.fields) body.append(name, value);
  body.append("as", tap.hand);
  body.append("tapped_at", tap.tappedAt);
  body.append("sent_at", new Date().toISOString());
  return body;
}

async function wordsIn(answer) {
  const isOurs = (answer.headers.get("Content-Type") || "").startsWith("application/json");
  return isOurs ? answer.json() : null;
}

async function fateOf(answer) {
  const said = await wordsIn(answer);
  if (answer.ok) return said ? received(said) : stays("strange");
  if (answer.status === 423) return stays("another");
  if (answer.status === 401 || answer.type === "opaqueredirect") return stays("nobody");
  if (said && answer.status < 500) return refused(said.words, said.ask);
  if (answer.status === 404) return refused(GONE);
  if (answer.status === 413) return refused(TOO_LARGE);
  if (answer.status === 403) return stays("old page");
  return stays("trouble");
}

function patienceFor(tap) {
  const bytes = tap.fields.reduce((sum, [, value]) => sum + (value instanceof Blob ? value.size : 0), 0);
  return bytes ? PATIENCE_WITH_FILES_MS + bytes / SLOWEST_BYTES_PER_MS : PATIENCE_MS;
}

/** Send a tap once and say what became of it; never throws. */
export async function post(tap) {
  const clock = new AbortController();
  const alarm = setTimeout(() => clock.abort(), patienceFor(tap));
  try {
    const headers = { Accept: "application/json", "X-CSRFToken": proofOfOrigin() };
    const wish = { method: "POST", body: bodyOf(tap), headers, redirect: "manual", signal: clock.signal };
    return await fateOf(await fetch(tap.url, wish));
  } catch {
    return stays("no answer");
  } finally {
    clearTimeout(alarm);
  }
}
