"use strict";
(() => {
  const sound = document.querySelector("audio");
  const rows = [...document.querySelectorAll("li[data-from]")];
  const starts = rows.map((row) => Number(row.dataset.from));
  const parts = [...document.querySelectorAll("nav a")];
  const who = document.getElementById("who");
  const text = document.getElementById("text");
  const follow = document.getElementById("follow");
  let current = -1;

  // The last entry that begins at or before a moment; 2 ms more, since a browser may land short.
  const entryAt = (seconds) => {
    let low = 0;
    let high = starts.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (starts[middle] <= seconds + 0.002) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  };

  const set = (element, on) => {
    if (!element) return;
    if (on) element.setAttribute("aria-current", "true");
    else element.removeAttribute("aria-current");
  };

  const show = () => {
    const found = entryAt(sound.currentTime);
    if (found === current) return;
    set(rows[current], false);
    current = found;
    const row = rows[current];
    if (!row) return;
    set(row, true);
    who.textContent = row.querySelector(".who").textContent;
    text.textContent = row.querySelector(".text").textContent;
    for (const part of parts) set(part, part.dataset.part === row.dataset.part);
    if (follow.checked && !sound.paused) row.scrollIntoView({ block: "center" });
  };

  const keepShowing = () => {
    show();
    if (!sound.paused) requestAnimationFrame(keepShowing);
  };

  const jump = (index, play) => {
    if (index < 0 || index >= rows.length) return;
    sound.currentTime = starts[index];
    show();
    if (play) sound.play().catch(() => {});
  };

  const jumpToLink = (play) => {
    const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    jump(rows.indexOf(target?.matches("section") ? target.querySelector("li[data-from]") : target), play);
  };

  for (const event of ["timeupdate", "seeking", "seeked"]) sound.addEventListener(event, show);
  sound.addEventListener("play", keepShowing);
  sound.addEventListener("loadedmetadata", () => jumpToLink(false));
  sound.addEventListener("error", () => { document.getElementById("missing").hidden = false; });
  addEventListener("hashchange", () => jumpToLink(true));
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#']");
    if (link && link.hash === location.hash) jumpToLink(true); // the same entry once more
  });
  document.addEventListener("keydown", (event) => {
    if (event.target.closest("audio, input") || event.ctrlKey || event.metaKey || event.altKey) return;
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (step) {
      const next = Math.min(rows.length - 1, Math.max(0, current + step));
      jump(next, false);
      rows[next]?.querySelector("a").focus({ preventScroll: true });
      rows[next]?.scrollIntoView({ block: "center" });
    } else if (event.key === " ") {
      if (sound.paused) sound.play().catch(() => {});
      else sound.pause();
    } else return;
    event.preventDefault();
  });
  show();
})();
