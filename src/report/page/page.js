"use strict";
{
  // On paper everything is unfolded.
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details:not([open])")];
    for (const it of opened) it.open = true;
  });
  addEventListener("afterprint", () => {
    for (const it of opened) it.open = false;
  });
}
(() => {
  const video = document.getElementById("video");
  if (!video) return;
  const now = document.getElementById("now");
  let stopAt = Infinity;
  let shown = null;
  const mark = (article) => {
    if (shown) shown.classList.remove("playing");
    shown = article;
    if (shown) shown.classList.add("playing");
  };
  for (const button of document.querySelectorAll("button[data-rep]")) {
    button.addEventListener("click", () => {
      stopAt = Number(button.dataset.to);
      video.currentTime = Number(button.dataset.from);
      now.textContent = `${now.dataset.playing ?? ""} ${button.dataset.rep}`.trim();
      mark(button.closest("article"));
      video.play().catch(() => {});
    });
  }
  video.addEventListener("timeupdate", () => {
    if (video.currentTime >= stopAt) {
      stopAt = Infinity;
      video.pause();
    }
  });
  // Whoever moves the film by hand watches on from there.
  video.addEventListener("seeking", () => {
    if (video.currentTime > stopAt) stopAt = Infinity;
  });
  video.addEventListener("error", () => {
    document.getElementById("missing").hidden = false;
    now.hidden = true;
  });
})();
