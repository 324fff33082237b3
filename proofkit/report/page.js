"use strict";
(() => {
  const config = { displayModeBar: false, displaylogo: false, responsive: true, scrollZoom: false, doubleClick: false };
  const draw = (place) => {
    if (place.dataset.drawn || typeof Plotly === "undefined") return;
    place.dataset.drawn = "yes";
    const figure = JSON.parse(document.getElementById(place.dataset.figure).textContent);
    Plotly.newPlot(place, figure.data, figure.layout, config);
  };
  const isShown = (place) => !place.closest("details:not([open])");
  const drawShown = (part) => part.querySelectorAll(".chart").forEach((place) => { if (isShown(place)) draw(place); });

  document.querySelectorAll("details").forEach((part) => part.addEventListener("toggle", () => drawShown(part)));
  drawShown(document);

  const paper = { width: 690, height: 880 };  // px of a page, with room for a heading
  const drawn = () => document.querySelectorAll(".chart[data-drawn]");
  window.addEventListener("beforeprint", () => drawn().forEach((place) => {
    place.dataset.height = place.layout.height;
    place.classList.add("fitted");
    Plotly.relayout(place, { width: paper.width, height: Math.min(place.layout.height, paper.height) });
  }));
  window.addEventListener("afterprint", () => drawn().forEach((place) => {
    place.classList.remove("fitted");
    Plotly.relayout(place, { autosize: true, width: null, height: Number(place.dataset.height) });
  }));

  const chooser = document.getElementById("choose-measure");
  if (chooser) {
    chooser.closest(".choose").hidden = false;
    chooser.addEventListener("change", () => {
      const part = document.getElementById(chooser.value);
      part.open = true;
      part.scrollIntoView({ block: "start" });
    });
  }
})();
