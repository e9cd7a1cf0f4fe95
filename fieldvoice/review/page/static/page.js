// Buttons and keys of the page; each leads to one function.

import { base, count, current, decide, finish, first, main, marked, nextDoubtful, onCurrent, plainRows, refresh, rows, run, setCurrent, step } from "./board.js";
import { ask, labels, whole } from "./ask.js";
import { cancel, edit, hold, isComing, isOpen, reopen, write } from "./forms.js";
import { choice } from "./offers.js";
import { fragment, inTurn, say } from "./server.js";
import { draw, isPlaying, playRow, slower, stop, toggle } from "./sound.js";
import { makeWords } from "./words.js";

const help = document.getElementById("help");
const keysOn = document.getElementById("keyson");
const alone = document.getElementById("alone");
const list = document.getElementById("decisions");

const chosen = (row) => (marked().length ? marked() : [row ?? current()].filter(Boolean));

function confirm(row) {
  const mine = chosen(row).filter((one) => one.dataset.state !== "confirmed");
  if (!mine.length) return say("That is in the log already.");
  return decide("confirm", mine, {}, { onward: true });
}

function reject(row) {
  const mine = chosen(row).filter((one) => one.dataset.state !== "rejected");
  if (mine.length) return decide("reject", mine, {}, { onward: true });
}

function plain(section) {
  const mine = plainRows(section);
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

// Whether a choice about these fields leaves nothing else to choose: it confirms the row then.
const settles = (row, fields) => row.dataset.state === "waiting"
  && (row.dataset.asks ?? "").split(" ").every((asked) => !asked || fields.includes(asked));

let lastHive = null;
function give(mine, answer) {
  lastHive = answer;
  if (mine.length > 1) return decide("assign", mine, { hive: answer });
  const onward = settles(mine[0], ["hive"]);
  return decide("assign", mine, { hive: answer, confirm: onward, in_place: true }, { onward });
}

// A misheard label takes a whole stretch with it: the same answer for the next row, in one press.
function again() {
  if (lastHive === null) return say("Give one row to a hive first; o gives the next rows to the same.");
  const mine = chosen();
  if (mine.length) return give(mine, lastHive);
}

// The same hive for this row and those said after it, which still wait to be confirmed.
function giveRun() {
  const mine = current() ? run(current()) : [];
  if (lastHive === null || !mine.length) return say("Give one row to a hive first; y gives the rows said after it to the same.");
  return decide("assign", mine, { hive: lastHive, in_place: true });
}

function offerRun(row) {
  document.getElementById("run")?.remove();
  const mine = lastHive === null || lastHive === row.dataset.hive ? [] : run(row);
  if (!mine.length) return;
  const button = document.createElement("button");
  button.type = "button";
  button.id = "run";
  button.dataset.do = "run";
  button.dataset.rows = mine.map((one) => one.dataset.id).join(" ");
  const key = document.createElement("kbd");
  key.textContent = "y";
  const after = mine.length > 1 ? `this and ${mine.length - 1} said after it: ` : "";
  button.append(key, ` ${after}${lastHive === "-" ? "the yard" : `hive ${lastHive}`}, not confirmed yet`);
  row.querySelector(".offers")?.append(button);
}

function offer(key, row) {
  row ??= current();
  const chosen = choice(row, key);
  if (!chosen) return;
  if (chosen.hive !== undefined) return give([row], chosen.hive);
  const onward = settles(row, Object.keys(chosen.fields));
  return decide("edit", [row], { ...chosen, confirm: onward }, { onward });
}

// Who types "24" for hive 24 has chosen by the 2, and must not decide on the next row by the 4.
const ONE_NUMBER = 400; // milliseconds between two digits of it, at most
let chosenAt = -Infinity;
function digit({ key, timeStamp }) {
  const same = timeStamp - chosenAt < ONE_NUMBER;
  chosenAt = timeStamp;
  if (!same) return offer(key);
  // Said after what the first digit did is told.
  return inTurn(async () => say(`One digit chooses what stands beside it: ${key} was not taken. u takes the choice back.`));
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
  run: giveRun,
  looked: () => decide("looked", []).then((told) => told && document.querySelector("[data-do=looked]")?.remove()),
  merge: () => (marked().length > 1 ? decide("merge", marked()) : say("Select two or more rows first.")),
};

document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-do]");
  const row = event.target.closest(".row");
  if (row && row !== current()) setCurrent(row, { focus: !button && !event.target.closest("input,label,form") });
  if (!button || document.getElementById("picked").contains(button)) return;
  if (button.dataset.do === "plain") return plain(button.closest(".hive"));
  if (button.dataset.do === "finish") return finish(button.closest(".hive"));
  if (button.dataset.do === "offer") return offer(button.dataset.key, row);
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
  j: () => step(1, { waiting: true }), k: () => step(-1, { waiting: true }),
  ArrowDown: () => step(1), ArrowUp: () => step(-1),
  " ": () => (isPlaying() ? stop() : playRow(current())), p: () => byItself(!alone.checked), ".": slower,
  f: () => finish(current()?.closest(".hive")), y: giveRun,
  b: () => current() && plain(current().closest(".hive")), a: () => plain(),
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
  if (/^\d$/.test(event.key)) return digit(event);
  if (!act) return;
  event.preventDefault();
  act();
});

keysOn.checked = localStorage.getItem("keys") !== "off";
keysOn.addEventListener("change", () => localStorage.setItem("keys", keysOn.checked ? "on" : "off"));
function byItself(on) {
  alone.checked = on;
  localStorage.setItem("alone", on ? "on" : "off");
  say(on ? "Each row that comes next is played by itself." : "Rows are played when you ask.");
}
alone.checked = localStorage.getItem("alone") === "on";
alone.addEventListener("change", () => byItself(alone.checked));
document.addEventListener("onward", ({ detail: row }) => {
  if (alone.checked && row.dataset.start) playRow(row);
});
onCurrent(offerRun);
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

function begin() {
  makeWords();
  count();
  first();
  draw();
  reopen();
  document.documentElement.dataset.ready = "yes";
}

// What came with the page is shown before anything is made of it; a hidden page has no frames.
if (document.hidden) begin(); else requestAnimationFrame(() => setTimeout(begin));
