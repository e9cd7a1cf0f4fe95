// The transcript: the words of the current row are marked; words that are selected can be used.

import { base, main, onCurrent } from "./board.js";
import { post, say, warn } from "./server.js";
import { ask } from "./ask.js";
import { write } from "./forms.js";
import { play } from "./sound.js";

const bar = document.getElementById("picked");
// A line comes as its text and the places of its words: each becomes a piece of its own.
function wordsOf(line) {
  const places = line.dataset.places.split(" ");
  const doubted = new Set((line.dataset.doubted ?? "").split(" ").filter(Boolean).map(Number));
  const said = places.length > 2 ? line.textContent.split(" ") : [line.textContent];
  const made = said.map((word, at) => {
    const piece = document.createElement("span");
    piece.className = doubted.has(at) ? "w unsure" : "w";
    piece.dataset.s = places[2 * at];
    piece.dataset.e = places[2 * at + 1];
    piece.textContent = word;
    return piece;
  });
  line.replaceChildren(...made.flatMap((piece) => [piece, " "]));
  return made;
}

let words = [];
let begins = [];

export function makeWords() {
  words = [...document.querySelectorAll("#words [data-places]")].flatMap(wordsOf);
  begins = words.map((word) => Number(word.dataset.s));
}

let chosen = [];

function indexAt(seconds) {
  let low = 0;
  let high = begins.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (begins[middle] < seconds) low = middle + 1; else high = middle;
  }
  return low;
}

let lit = [];
let due = 0;
onCurrent((row) => {
  lit.forEach((word) => word.classList.remove("now"));
  lit = row.dataset.start
    ? words.slice(indexAt(Number(row.dataset.start) - 0.01), indexAt(Number(row.dataset.end) - 0.01)) : [];
  lit.forEach((word) => word.classList.add("now"));
  cancelAnimationFrame(due);
  due = requestAnimationFrame(follow);
});

function follow() {
  const pane = document.querySelector(".words");
  if (lit.length && getComputedStyle(pane).position === "sticky") {
    const place = lit[0].getBoundingClientRect();
    const view = pane.getBoundingClientRect();
    if (place.top < view.top || place.bottom > view.bottom) pane.scrollTop += place.top - view.top - view.height / 3;
  }
}

function picked() {
  const selection = document.getSelection();
  if (selection.isCollapsed || !selection.rangeCount) return [];
  const range = selection.getRangeAt(0);
  if (!document.getElementById("words").contains(range.commonAncestorContainer)) return [];
  return words.filter((word) => range.intersectsNode(word));
}

const text = () => chosen.map((word) => word.textContent).join(" ");
const place = () => ({ start: Number(chosen[0].dataset.s), end: Number(chosen.at(-1).dataset.e) });

function offer() {
  chosen = picked();
  bar.hidden = !chosen.length;
  if (chosen.length) bar.querySelector("[data-words]").textContent = `“${text()}”`;
}

for (const kind of ["pointerup", "keyup", "touchend"]) {
  document.addEventListener(kind, (event) => { if (!bar.contains(event.target)) setTimeout(offer); });
}
document.addEventListener("selectionchange", () => {
  if (matchMedia("(pointer: coarse)").matches) offer();
});

function done() {
  document.getSelection().removeAllRanges();
  bar.hidden = true;
}

async function learn(body) {
  const told = await post(`${base}/learn`, body);
  if (told === null) warn("Not saved: the page cannot reach fieldvoice.");
  else if (told.problem) warn(told.problem);
  else say(told.said);
}

bar.addEventListener("click", async (event) => {
  const button = event.target.closest("button");
  if (!button || !chosen.length) return;
  event.stopPropagation();
  const said = text();
  const bare = said.replace(/[.,;:!?“”"]/g, "").trim();
  const where = place();
  if (button.dataset.play !== undefined) return play(where.start, where.end);
  done();
  if (button.dataset.do === "write") return write({ words: said, ...where });
  if (button.dataset.do === "wrong") {
    const meant = await ask({ head: `“${bare}” was heard wrongly`, label: "What was said", value: bare, list: "things", yes: "Put right from now on" });
    if (meant) await learn({ words: bare, meant });
    return;
  }
  const labels = [...document.querySelectorAll("#hives option")].map((option) => option.value).filter((label) => label !== "all");
  const hive = await ask({
    head: `“${bare}” names a hive`, label: "Which one", list: "hives", yes: "Remember",
    choose: labels.map((label) => ({ answer: label, words: label })),
  });
  if (hive) await learn({ words: bare, hive });
});

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-play]");
  if (!button || bar.contains(button)) return;
  const [start, end] = button.dataset.play.split(" ").map(Number);
  play(start, end);
});
