// Before and after, one over the other, with a slider between them: drag it, or use the arrow keys.
// Without this, and on paper, the two stand side by side.

let numbered = 0;

function sliderFor(pair) {
  const [before, after] = pair.dataset.pair.split(", ");
  const slider = Object.assign(document.createElement("input"), {
    type: "range", min: 0, max: 100, step: 1, value: 50, id: `pair-${++numbered}`,
  });
  const label = Object.assign(document.createElement("label"), { htmlFor: slider.id, textContent: `${before} to ${after}` });
  const show = () => {
    pair.style.setProperty("--cut", `${slider.value}%`);
    slider.setAttribute("aria-valuetext", `${slider.value} % ${after}, ${100 - slider.value} % ${before}`);
  };
  slider.addEventListener("input", show);
  show();
  return [label, slider];
}

function lay(pair) {
  if (pair.dataset.laid) return;
  pair.dataset.laid = "1";
  const frames = [...pair.querySelectorAll(":scope > a")];
  if (frames.length !== 2) return;
  const stage = Object.assign(document.createElement("div"), { className: "pair-stage" });
  frames[0].before(stage);
  stage.append(...frames);
  const [label, slider] = sliderFor(pair);
  const line = Object.assign(document.createElement("p"), { className: "pair-slider no-print" });
  line.append(label, slider);
  stage.after(line);
  pair.classList.add("is-laid");
}

const layAll = () => document.querySelectorAll("figure[data-pair]").forEach(lay);
document.addEventListener("htmx:afterSettle", layAll);
layAll();
