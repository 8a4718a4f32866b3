// Sending photos: how much of them has gone. The form works without this; the browser then shows its own sign.

document.body.addEventListener("htmx:xhr:progress", (event) => {
  const bar = event.target.closest?.("form[data-photos]")?.querySelector("progress");
  if (!bar || !event.detail.lengthComputable) return;
  bar.hidden = false;
  bar.value = Math.round((100 * event.detail.loaded) / event.detail.total);
});
