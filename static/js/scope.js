// The Scope page: slider and field say the same sum; a step of the picture sets both.

const form = document.getElementById("scope-form");
const field = document.getElementById("id_budget");
const slide = document.getElementById("slide");

function showSlide() {
  if (!slide) return;
  slide.hidden = false;
  slide.addEventListener("input", () => setBudget(slide.value));
  // The field has told of it already; the form need not hear it twice.
  slide.addEventListener("change", (event) => event.stopPropagation());
}

function setBudget(sum) {
  field.value = sum;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

function follow() {
  const sum = parseFloat(field.value.replace(/[^\d.]/g, ""));
  if (slide && Number.isFinite(sum)) slide.value = sum;
}

/** A link to another sum of this page: no new page, the same wishes. */
function sumOf(link) {
  if (link.dataset.budgetTo) return link.dataset.budgetTo;
  const href = link.getAttribute("href");
  const address = new URL(href, location.href);
  return address.pathname === location.pathname ? address.searchParams.get("budget") : null;
}

function takeStep(event) {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  const link = event.target.closest("#scope-answer a");
  const sum = link && sumOf(link);
  if (!sum) return;
  event.preventDefault();
  setBudget(sum);
  follow();
}

if (form && field) {
  showSlide();
  field.addEventListener("input", follow);
  document.addEventListener("click", takeStep);
}
