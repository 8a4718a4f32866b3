// A tap on the picture becomes a place: shares of its width and height, whatever size the screen gives it.
// Without this the browser sends pixels of a picture of fixed width; with a keyboard the two figures are written.

const form = document.querySelector("form[data-marks]");
const picture = document.getElementById("mark-picture");

function share(at, from, length) {
  return (100 * Math.min(1, Math.max(0, (at - from) / length))).toFixed(2);
}

function onPicture(event) {
  event.preventDefault();
  // Pressed by a key: there is no place in that, so the figures count, or are asked for.
  if (event.detail === 0) return hasFigures() ? place() : askForFigures();
  const frame = picture.getBoundingClientRect();
  form.elements.x.value = share(event.clientX, frame.left, frame.width);
  form.elements.y.value = share(event.clientY, frame.top, frame.height);
  place();
}

const hasFigures = () => form.elements.x.value.trim() !== "" && form.elements.y.value.trim() !== "";
const place = () => form.requestSubmit(document.getElementById("mark-go"));

function askForFigures() {
  document.getElementById("mark-more").open = true;
  form.elements.x.focus();
}

if (form && picture) {
  picture.closest(".mark-tap").classList.add("fits");
  picture.addEventListener("click", onPicture);
}
