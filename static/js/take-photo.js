// "Take a photo" sends what the camera gives at once: the form goes into the outbox like every photo. Without this
// the file is chosen and sent in two steps.

document.documentElement.classList.add("has-camera");

document.addEventListener("change", (event) => {
  const form = event.target.closest?.("form.take-photo");
  if (form && event.target.files?.length) form.requestSubmit();
});
