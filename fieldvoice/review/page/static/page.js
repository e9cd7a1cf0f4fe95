// Buttons and keys of the page; each leads to one function.

import { base, count, current, decide, first, main, marked, nextDoubtful, plainRows, refresh, rows, setCurrent, step } from "./board.js";
import { ask } from "./ask.js";
import { cancel, edit, hold, isComing, isOpen, reopen, write } from "./forms.js";
import { fragment, say } from "./server.js";
import { draw, isPlaying, playRow, slower, stop, toggle } from "./sound.js";
import "./words.js";

const help = document.getElementById("help");
const keysOn = document.getElementById("keyson");
const list = document.getElementById("decisions");

const chosen = (row) => (marked().length ? marked() : [row ?? current()].filter(Boolean));
const labels = () => [...document.querySelectorAll("#hives option")].map((option) => option.value);

function confirm(row) {
  const mine = chosen(row).filter((one) => one.dataset.state !== "confirmed");
  if (!mine.length) return say("That is in the log already.");
  return decide("confirm", mine, {}, { onward: true });
}

function reject(row) {
  const mine = chosen(row).filter((one) => one.dataset.state !== "rejected");
  if (mine.length) return decide("reject", mine, {}, { onward: true });
}

function plain(hive) {
  const mine = plainRows(hive);
  if (!mine.length) return say("There is no row without a flag left here.");
  return decide("confirm", mine, { unflagged: true }, { onward: true });
}

async function hive(row) {
  const mine = chosen(row);
  if (!mine.length) return;
  const answer = await ask({
    head: mine.length > 1 ? `Which hive are these ${mine.length} rows about?` : "Which hive is this about?",
    label: "Hive, old or new", list: "hives", yes: "Give to this hive",
    choose: labels().map((label) => ({ answer: label, words: label === "all" ? "all hives" : label }))
      .concat({ answer: "-", words: "the yard" }),
  });
  if (answer) await give(mine, whole(answer));
}

// The beginning of a name that only one hive has; a number is never completed.
function whole(answer) {
  if (/\d/.test(answer)) return answer;
  const low = answer.toLowerCase();
  const known = labels().filter((label) => label.toLowerCase().startsWith(low));
  return known.length === 1 ? known[0] : answer;
}

// A row that was given to the right hive is right: a single one is confirmed with it.
let lastHive = null;
function give(mine, answer) {
  lastHive = answer;
  const single = mine.length === 1 && mine[0].dataset.state === "waiting";
  return decide("assign", mine, { hive: answer, confirm: single }, { onward: single });
}

// A misheard label takes a whole stretch with it: the same answer for the next row, in one press.
function again() {
  if (lastHive === null) return say("Give one row to a hive first; o gives the next rows to the same.");
  const mine = chosen();
  if (mine.length) return give(mine, lastHive);
}

async function split(row) {
  row ??= current();
  if (!row) return;
  const answer = await ask({
    head: "Split into several rows", label: "Hives, such as 4, 5, 6; or 2 copies: x2", yes: "Split",
  });
  if (!answer) return;
  const copies = /^x\s*(\d+)$/.exec(answer);
  const hives = answer.split(",").map((label) => label.trim()).filter(Boolean);
  await decide("split", [row], copies ? { copies: Number(copies[1]) } : { hives });
}

async function decisions() {
  const html = await fragment(`${base}/decisions`);
  if (html === null) return;
  document.getElementById("declist").innerHTML = html;
  list.showModal();
}

function mark(row) {
  row ??= current();
  const box = row?.querySelector("input[data-do=mark]");
  if (box) { box.checked = !box.checked; marks(); }
}

function marks() {
  const number = marked().length;
  document.body.classList.toggle("marking", number > 0);
  const bar = document.getElementById("marked");
  bar.hidden = !number;
  bar.querySelector("[data-count]").textContent = `${number} selected`;
}

function unmark() {
  for (const row of marked()) row.querySelector("input[data-do=mark]").checked = false;
  marks();
}

function following() {
  location.assign(main.dataset.following ? `/recordings/${main.dataset.following}` : "/");
}

const acts = {
  play: (row) => playRow(row), toggle, confirm, reject, hive, split, decisions, unmark, following,
  edit: (row) => edit(row), write: () => write(), cancel, next: nextDoubtful,
  undo: () => decide("undo", []), all: () => plain(), help: () => help.showModal(),
  looked: () => decide("looked", []).then((told) => told && document.querySelector("[data-do=looked]")?.remove()),
  merge: () => (marked().length > 1 ? decide("merge", marked()) : say("Select two or more rows first.")),
};

document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-do]");
  const row = event.target.closest(".row");
  if (row && row !== current()) setCurrent(row, { focus: !button && !event.target.closest("input,label,form") });
  if (!button || document.getElementById("picked").contains(button)) return;
  if (button.dataset.do === "plain") return plain(button.closest(".hive").dataset.hive);
  acts[button.dataset.do]?.(row ?? undefined);
});
document.addEventListener("change", (event) => { if (event.target.matches("input[data-do=mark]")) marks(); });
list.addEventListener("click", async (event) => {
  const step = event.target.closest("[data-undo]")?.dataset.undo;
  if (!step) return;
  list.close();
  await decide("undo", [], { step });
});

const keys = {
  c: () => confirm(), Enter: () => confirm(), r: () => reject(), n: nextDoubtful,
  j: () => step(1), ArrowDown: () => step(1), k: () => step(-1), ArrowUp: () => step(-1),
  " ": () => (isPlaying() ? stop() : playRow(current())), p: () => playRow(current()), ".": slower,
  b: () => current() && plain(current().dataset.hive), a: () => plain(),
  e: () => edit(current()), v: () => edit(current(), "values"), d: () => edit(current(), "when"),
  t: () => edit(current(), "status"), i: () => edit(current(), "kind"), h: () => hive(), o: again, x: () => mark(), s: () => split(),
  m: acts.merge, w: () => write(), u: acts.undo, l: decisions, g: following,
  "?": acts.help,
};

document.addEventListener("keydown", (event) => {
  const { target } = event;
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
  if (isComing()) {
    event.preventDefault();
    return hold(event.key);
  }
  if (document.querySelector("dialog[open]")) return;
  if (target.closest("input:not([type=checkbox]), select, textarea, form.edit")) return;
  if (target.closest("button, a, summary, input") && ["Enter", " "].includes(event.key)) return;
  if (!keysOn.checked && event.key.length === 1 && event.key !== " ") return;
  if (event.key === "Escape") return unmark();
  const act = keys[event.key];
  if (!act) return;
  event.preventDefault();
  act();
});

keysOn.checked = localStorage.getItem("keys") !== "off";
keysOn.addEventListener("change", () => localStorage.setItem("keys", keysOn.checked ? "on" : "off"));
document.addEventListener("board", marks);
// After a change in place, on to the next row that waits.
document.addEventListener("edited", (event) => {
  const all = rows();
  const at = all.indexOf(event.detail);
  if (event.detail.dataset.state !== "waiting") {
    const rest = [...all.slice(at + 1), ...all.slice(0, at)].filter((row) => row.dataset.state === "waiting");
    const next = rest.find((row) => row.classList.contains("doubtful")) || rest[0];
    if (next) setCurrent(next);
  }
});
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible" && !isOpen()) refresh();
});
addEventListener("pageshow", (event) => { if (event.persisted) refresh(); });

// On a phone the rows come first; the transcript is a tap away.
if (matchMedia("(max-width: 56rem)").matches) document.getElementById("wordsfold").open = false;
count();
first();
draw();
reopen();
document.documentElement.dataset.ready = "yes";
