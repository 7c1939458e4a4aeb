// What moves on the page: the present renewed, and time looked at closer. All of it works without, one page at a time.
"use strict";

const EVERY_MS = 5000;
const STALE_MS = 20000;
const FOCUSABLE = "a[href], button, input, select, textarea, summary";
let answered = Date.now();

// ------------------------------------------------------------ the present

// Nothing is swapped under somebody's fingers: while a field has the focus the part stays, and is shown as old in time.
function typing(part) {
  const on = document.activeElement;
  return part.contains(on) && on.matches("input, select, textarea");
}

// What somebody unfolded or folded stays so; `data-of` says what it belongs to.
function swap(part, text) {
  const folds = () => [...part.querySelectorAll("details[data-of]")];
  const open = new Map(folds().map((each) => [each.dataset.of, each.open]));
  const place = [...part.querySelectorAll(FOCUSABLE)].indexOf(document.activeElement);
  part.innerHTML = text;
  for (const each of folds()) each.open = open.get(each.dataset.of) ?? each.open;
  if (place >= 0) part.querySelectorAll(FOCUSABLE)[place]?.focus({ preventScroll: true });
}

async function renew(part) {
  if (!typing(part)) {
    try {
      const answer = await fetch(part.dataset.live, { credentials: "same-origin", redirect: "error" });
      if (!answer.ok) throw new Error(String(answer.status));
      const text = await answer.text();
      if (!typing(part) && part.innerHTML.trim() !== text.trim()) swap(part, text);
      answered = Date.now();
    } catch {
      // said below, once it has lasted
    }
  }
  document.documentElement.classList.toggle("stale", Date.now() - answered > STALE_MS);
}

// A page that nobody sees asks for nothing and has no clock running.
for (const part of document.querySelectorAll("[data-live]")) {
  let timer = 0;
  const look = () => {
    clearInterval(timer);
    if (document.hidden) return;
    if (Date.now() - answered > STALE_MS) document.documentElement.classList.add("stale");
    timer = setInterval(renew, Number(part.dataset.every) || EVERY_MS, part);
  };
  look();
  document.addEventListener("visibilitychange", () => { look(); if (!document.hidden) renew(part); });
}

// ------------------------------------------------------------ time looked at closer

// A stretch of a figure, from where a finger goes down to where it goes up, is what is shown next.
const LEAST_PX = 10;

function pickable(figure) {
  const { first, last, left, right } = Object.fromEntries(
    Object.entries(figure.dataset).map(([name, value]) => [name, Number(value)]));
  const box = figure.viewBox.baseVal;
  let from = null, mark = null;
  const place = (event) => {
    const seen = figure.getBoundingClientRect();
    return Math.min(Math.max(((event.clientX - seen.left) / seen.width) * box.width, left), right);
  };
  const time = (x) => Math.round(first + ((last - first) * (x - left)) / (right - left));
  const leave = () => { if (mark) mark.remove(); from = mark = null; };
  figure.tabIndex = 0;
  figure.setAttribute("aria-keyshortcuts", "ArrowLeft ArrowRight + -");
  figure.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
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
  figure.addEventListener("pointercancel", leave);
  figure.addEventListener("pointerup", (event) => {
    if (from === null) return;
    const ends = [from, place(event)].sort((a, b) => a - b);
    leave();
    if (ends[1] - ends[0] >= LEAST_PX) show(time(ends[0]), time(ends[1]));
  });
}

function show(start, end) {
  const iso = (at) => new Date(at).toISOString();
  go(`${document.getElementById("main").dataset.closeUp}?${new URLSearchParams({ from: iso(start), to: iso(end) })}`);
}

// The new stretch takes the place of the old one; where that fails, the page is opened as a link would open it.
let latest = 0;

async function go(href) {
  const mine = ++latest; // whoever asks again before the answer is there wants the new one alone
  const main = document.querySelector("main"), on = document.activeElement;
  const key = on?.dataset?.key, figure = [...main.querySelectorAll("svg[data-first]")].indexOf(on);
  try {
    const answer = await fetch(href, { credentials: "same-origin", redirect: "error" });
    if (!answer.ok) throw new Error(String(answer.status));
    const next = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (mine !== latest) return;
    main.replaceChildren(...next.querySelector("main").childNodes);
    document.title = next.title;
    if (location.pathname + location.search !== href) history.pushState(null, "", href);
  } catch {
    if (mine === latest) location.assign(href);
    return;
  }
  zoomable();
  document.getElementById("heard").textContent = main.querySelector("h1").textContent;
  const again = figure >= 0 ? main.querySelectorAll("svg[data-first]")[figure] : key && main.querySelector(`[data-key="${key}"]`);
  if (again) again.focus({ preventScroll: true });
}

function zoomable() {
  for (const figure of document.querySelectorAll("[data-zoom] svg[data-first]")) pickable(figure);
}

if (document.querySelector("[data-zoom]")) {
  zoomable();
  addEventListener("popstate", () => go(location.pathname + location.search));
  document.addEventListener("click", (event) => {
    const link = event.target.closest("nav.range a");
    if (!link || event.button !== 0 || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    go(link.getAttribute("href"));
  });
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !event.target.closest("nav.range, svg[data-first]")) return;
    const name = { "=": "+", _: "-" }[event.key] || event.key;
    const link = document.querySelector(`nav.range [data-key="${CSS.escape(name)}"]`);
    if (!link) return;
    event.preventDefault();
    go(link.getAttribute("href"));
  });
}
