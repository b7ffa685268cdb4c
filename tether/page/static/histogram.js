// Shows the raw histogram of a frame: the last one of a run, or the one that is looked at.
"use strict";

{
  const place = document.getElementById("histogram");
  let shown = "";

  async function show(frame, as, how = "") {
    if (shown === as) return;
    shown = as;
    const drawn = (answer) => (answer.status === 200 ? answer.text() : null);
    const svg = await fetch(`/frames/${frame}/histogram.svg${how}`).then(drawn).catch(() => null);
    if (shown !== as) return; // another one was asked for meanwhile
    place.hidden = svg === null;
    place.replaceChildren(...(svg === null ? [] : [pictureOf(svg)]));
  }

  document.addEventListener("told", ({detail: {last}}) => {
    if (last) show(last.frame, JSON.stringify([last.name, last.says]), "?or=before"); // what it says comes after it
  });
  document.addEventListener("looked", ({detail: {frame}}) => show(frame, String(frame)));
}
