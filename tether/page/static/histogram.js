// Shows the raw histogram of a frame: the last one of a run, or the one that is looked at.
"use strict";

{
  const place = document.getElementById("histogram");
  let shown = "";

  async function show(frame, as, how = "") {
    if (shown === as) return;
    shown = as;
    let svg = null;
    try {
      const answer = await fetch(`/frames/${frame}/histogram.svg${how}`);
      if (answer.status === 200) svg = await answer.text();
    } catch {
      // without the server there is none
    }
    if (shown !== as) return; // another one was asked for meanwhile
    place.hidden = svg === null;
    place.replaceChildren(...(svg === null ? [] : [pictureOf(svg)]));
  }

  document.addEventListener("told", ({detail: {last}}) => {
    if (last) show(last.frame, JSON.stringify([last.name, last.says]), "?or=before"); // what it says comes after it
  });
  document.addEventListener("looked", ({detail: {frame}}) => show(frame, String(frame)));
}
