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

/** Keep or clear one part of the wire strip: wire("outbox", "2 taps kept on this tablet"), wire("outbox", ""). */
export function wire(part, words, tone = "wait") {
  if (words) parts.set(part, { words, tone });
  else parts.delete(part);
  const strip = document.getElementById("wire");
  if (!strip) return;
  strip.hidden = parts.size === 0;
  strip.dataset.tone = [...parts.values()].some((p) => p.tone !== "good") ? "wait" : "good";
  strip.replaceChildren(...[...parts.values()].map(({ words: text }) => {
    const span = document.createElement("span");
    span.textContent = text;
    return span;
  }));
}
