// What moves on the page: the present renewed, and a stretch of days picked out of a figure. All works without it, slower.
"use strict";

const EVERY_MS = 5000;
const STALE_MS = 20000;
let answered = Date.now();

async function renew(part) {
  if (document.hidden || part.contains(document.activeElement)) return;
  try {
    const answer = await fetch(part.dataset.live, { credentials: "same-origin", redirect: "error" });
    if (!answer.ok) throw new Error(String(answer.status));
    const text = await answer.text();
    const opened = [...part.querySelectorAll("details[open] summary")].map((each) => each.textContent);
    if (!part.contains(document.activeElement)) {
      part.innerHTML = text;
      for (const each of part.querySelectorAll("details summary"))
        if (opened.includes(each.textContent)) each.parentElement.open = true;
    }
    answered = Date.now();
  } catch {
    // said below, once it has lasted
  }
  document.documentElement.classList.toggle("stale", Date.now() - answered > STALE_MS);
}

for (const part of document.querySelectorAll("[data-live]")) {
  setInterval(renew, Number(part.dataset.every) || EVERY_MS, part);
  document.addEventListener("visibilitychange", () => renew(part));
}

// A stretch of a figure, from where a finger goes down to where it goes up, becomes the days that are shown.
const DAY_MS = 86400000;

function pickable(figure, room) {
  const start = Number(room.dataset.start), end = Number(room.dataset.end);
  const box = figure.viewBox.baseVal;
  const left = box.width > 500 ? 44 : 34, right = box.width > 500 ? 12 : 8;
  let from = null, mark = null;
  const place = (event) => {
    const seen = figure.getBoundingClientRect();
    const x = ((event.clientX - seen.left) / seen.width) * box.width;
    return Math.min(Math.max(x, left), box.width - right);
  };
  const time = (x) => start + ((end - start) * (x - left)) / (box.width - left - right);
  figure.addEventListener("pointerdown", (event) => {
    from = place(event);
    mark = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    mark.setAttribute("class", "picked");
    mark.setAttribute("y", "0");
    mark.setAttribute("height", String(box.height));
    figure.append(mark);
    figure.setPointerCapture(event.pointerId);
  });
  figure.addEventListener("pointermove", (event) => {
    if (from === null) return;
    const to = place(event);
    mark.setAttribute("x", String(Math.min(from, to)));
    mark.setAttribute("width", String(Math.abs(to - from)));
  });
  const leave = () => { if (mark) mark.remove(); from = mark = null; };
  figure.addEventListener("pointercancel", leave);
  figure.addEventListener("pointerup", (event) => {
    if (from === null) return;
    const ends = [from, place(event)].sort((a, b) => a - b);
    leave();
    if (ends[1] - ends[0] < 12) return;
    const date = (at) => new Date(at).toLocaleDateString("sv-SE", { timeZone: room.dataset.zone });
    const first = date(time(ends[0])), last = date(time(ends[1]) - 1);
    location.assign(`/days?from=${first}&to=${last}`);
  });
}

for (const room of document.querySelectorAll("[data-zoom]"))
  for (const figure of room.querySelectorAll("figure svg")) if (end_is_time(figure)) pickable(figure, room);

function end_is_time(figure) {
  return figure.closest("[data-zoom]") !== null && !figure.querySelector(".fit, .bar");
}
