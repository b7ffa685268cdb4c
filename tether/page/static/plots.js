// Shows the pictures of the evening that the server draws for this width, and moves the present moment along in them.
"use strict";
{
  const AGAIN_MS = 30000; // without a change they are asked for anew after so long
  const LEAST_MS = 10000; // and never sooner after one another than this
  let asked = -Infinity;
  let waits = null;
  let drawnAs = "";
  let drawnFor = 0;
  let drawnS = null;

  const columnWidth = () => Math.floor(parseFloat(getComputedStyle(at("plots")).gridTemplateColumns));

  /** Ask for the pictures soon: a change seldom comes alone. */
  function soon() {
    if (waits === null) waits = setTimeout(ask, Math.max(1000, asked + LEAST_MS - performance.now()));
  }

  async function ask() {
    waits = null;
    if (document.visibilityState !== "visible") return;
    asked = performance.now();
    at("course").hidden = false; // only what is shown has a width
    drawnFor = columnWidth();
    try {
      const answer = await fetch(`/plots?w=${drawnFor}`);
      if (answer.ok) show(await answer.json());
    } catch {
      // what is shown stays: the link above says that the server does not answer
    }
    at("course").hidden = !at("plots").childElementCount;
  }

  function show({pictures, drawn_s: drawn}) {
    drawnS = drawn;
    const found = pictures.map(([name, svg]) => {
      const figure = make("figure", {}, pictureOf(svg));
      figure.dataset.name = name;
      return figure;
    });
    at("plots").replaceChildren(...found);
    move();
  }

  /** Move the present moment by what has passed of the run's clock since the picture was drawn. */
  function move() {
    if (drawnS === null || !offsets.length) return;
    for (const now of document.querySelectorAll("#plots .now")) {
      const {at: from, pxPerS, from: least, to: most} = now.dataset;
      const x = Number(from) + (runNow() - drawnS) * Number(pxPerS);
      now.setAttribute("transform", `translate(${Math.min(Math.max(x, Number(least)), Number(most)).toFixed(1)} 0)`);
    }
  }

  document.addEventListener("told", ({detail: view}) => {
    const as = JSON.stringify([view.last, view.rung, view.open, view.ask, view.over]);
    if (as === drawnAs) return;
    drawnAs = as;
    soon();
  });
  document.addEventListener("visibilitychange", soon);
  addEventListener("resize", () => { if (columnWidth() !== drawnFor) soon(); });
  setInterval(move, 1000);
  setInterval(() => { if (performance.now() - asked > AGAIN_MS) soon(); }, 5000);
  soon();
}
