// Photos on their way into the drawer: one tap for each file, with a batch that makes a photo sent twice one photo.

import { valuesOf } from "./entry.js";

const MEGA = 1e6;

const inputs = (form) => [...form.querySelectorAll('input[type="file"]')];
const files = (form) => inputs(form).flatMap((input) => [...input.files]);

/** What to say where a form for photos has none. */
export function photoMissing(form) {
  if (!form.matches("[data-photos]") || files(form).length) return null;
  return { field: inputs(form)[0], words: "Choose at least one photo, or take one." };
}

/** Random where the page has no secure context, too: a shop's own network often has no certificate. */
function freshBatch() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

function wordsFor(tooLarge, most) {
  if (!tooLarge.length) return "";
  const names = tooLarge.map((file) => `“${file.name}”`).join(", ");
  return `${names} not kept: larger than ${most / MEGA} MB, the most that is taken. Set the camera to save smaller JPEG photos.`;
}

/** What of this form goes into the drawer, and what is too large for the shop's computer anyway. */
export function photosIn(form) {
  const most = Number(form.dataset.mostBytes) || Infinity;
  const said = [...new FormData(form)].filter(([name, value]) => name !== "csrfmiddlewaretoken" && !(value instanceof File));
  const batch = form.elements.batch.value;
  const chosen = files(form);
  return {
    photos: chosen.filter((file) => file.size <= most).map((file, at) => ({
      key: batch,
      slot: "",
      values: [["Photo", file.name], ...valuesOf(form)],
      fields: [...said, ["key", batch], [inputs(form)[0].name, file]],
      deed: JSON.stringify([form.action, batch, at, file.name, file.size]),
    })),
    tooLarge: wordsFor(chosen.filter((file) => file.size > most), most),
  };
}

/** Ready for the next photo: the files are in the drawer, the words stay for another one of the same thing. */
export function clearPhotos(form) {
  inputs(form).forEach((input) => { input.value = ""; });
  form.elements.batch.value = freshBatch();
}
