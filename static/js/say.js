// The two places where a page speaks to the person in front of it.
// say(): one line, read aloud once.  wire(): what is still true about the connection, shown until it is not.

const parts = new Map();

/** Put one plain sentence in the status line. tone: "trouble" or nothing. */
export function say(words, tone = "") {
  const line = document.getElementById("status");
  if (!line) return;
  line.dataset.tone = tone;
  line.textContent = "";
  // A changed node is announced; the same text written twice in one turn is not.
  setTimeout(() => { line.textContent = words; }, 30);
}

/** Keep or clear one part of the wire strip: wire("outbox", "2 taps kept on this tablet"), wire("outbox", "").
 *  `leads` is the place on this page that says more. */
export function wire(part, words, tone = "wait", leads = "") {
  const before = parts.get(part);
  if (before?.words === words && before.leads === leads && !document.getElementById("wire")?.hidden) return;
  if (words) parts.set(part, { words, tone, leads });
  else if (!parts.delete(part)) return;
  const strip = document.getElementById("wire");
  if (!strip) return;
  strip.hidden = parts.size === 0;
  strip.dataset.tone = [...parts.values()].some((p) => p.tone !== "good") ? "wait" : "good";
  strip.replaceChildren(...[...parts.values()].map(({ words: text, tone: how, leads: to }) => {
    const line = document.createElement(to ? "a" : "span");
    if (to) line.href = to;
    line.dataset.tone = how;
    line.textContent = text;
    return line;
  }));
}
