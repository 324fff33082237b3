"use strict";
(() => {
  const swipe = document.querySelector(".swipe");
  if (swipe) {
    swipe.hidden = false;
    const slider = swipe.querySelector("input[type=range]");
    const edge = swipe.querySelector("#swipe-clip rect");
    const line = swipe.querySelector(".swipe-edge");
    const width = Number(edge.dataset.width);
    const show = () => {
      const at = width * Number(slider.value) / 100;
      edge.setAttribute("x", at);
      edge.setAttribute("width", width - at);
      line.setAttribute("x1", at);
      line.setAttribute("x2", at);
    };
    slider.addEventListener("input", show);
    show();
  }
  const strokes = document.getElementById("show-strokes");
  if (strokes) strokes.addEventListener("change", () => document.body.classList.toggle("no-strokes", !strokes.checked));
})();
