// The drawer in which a tablet keeps its taps until the shop's computer has said that it received them.
// IndexedDB: it survives a reload, a flat battery and a change of persons.

const NAME = "taps";

function ask(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

let opened;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(NAME, { keyPath: "place", autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opened;
}

/** Run one request in a transaction of its own; resolves when it is written, not merely asked for. */
async function inStore(mode, deed) {
  const base = await open();
  const transaction = base.transaction(NAME, mode, { durability: "strict" });
  const written = new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
  });
  const request = deed(transaction.objectStore(NAME));
  // Said at once: a page that is left in this very moment still has its tap written.
  if (mode === "readwrite") transaction.commit?.();
  const result = await ask(request);
  await written;
  return result;
}

/** Every tap in the drawer in the order of tapping: those waiting, and those refused but not read yet. */
export const all = () => inStore("readonly", (store) => store.getAll());

/** Put a tap in; what it corrects goes in the same moment, so that never both are there, or none. */
export const add = (tap, instead) => inStore("readwrite", (store) => {
  if (instead) store.delete(instead.place);
  return store.add(tap);
});

export const change = (tap) => inStore("readwrite", (store) => store.put(tap));

export const remove = (tap) => inStore("readwrite", (store) => store.delete(tap.place));
