"use strict";

/** Water and rock as they were proposed: shown once there are any, and judged at any time. Nothing waits for it. */
document.addEventListener("told", ({detail: view}) => {
  const regions = view.regions;
  const section = document.getElementById("regions");
  section.hidden = !regions;
  if (!regions) return;
  text("regions-what", regions.what);
  const image = document.getElementById("regions-picture");
  if (image.dataset.of !== String(regions.picture)) {
    image.dataset.of = String(regions.picture);
    image.hidden = true;
    image.onload = () => { image.hidden = false; };
    if (regions.picture) image.src = `/regions.jpg?of=${encodeURIComponent(regions.picture)}`;
  }
  document.getElementById("regions-verbs").hidden = !maySteer;
  regions.verbs.forEach((button) => drawVerb(button, "regions-verbs", tapped));
});
