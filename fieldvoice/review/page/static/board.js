// The rows: which one is current, what was decided, and what the server makes of it.

import { inTurn, post, say, warn } from "./server.js";
import { ask } from "./ask.js";
import { drawOffers } from "./offers.js";
import { isSeen, watch } from "./seen.js";

export const main = document.getElementById("main");
export const base = `/recordings/${main.dataset.recording}`;
const board = document.getElementById("board");
const listeners = [];

export const onCurrent = (listener) => listeners.push(listener);
export const rows = () => [...board.querySelectorAll(".row")];
export const current = () => board.querySelector(".row.current");
export const rowOf = (id) => document.getElementById(`r-${id}`);
export const marked = () => rows().filter((row) => row.querySelector("input[data-do=mark]")?.checked);
// A decision is on its way for a row that is being saved: it no longer waits for the keeper.
const waits = (row) => row.dataset.state === "waiting" && !row.classList.contains("saving");
const doubts = (row) => waits(row) && row.classList.contains("doubtful");

// The buttons that few rows ever need are made when a row is first looked at.
function furnish(row) {
  const tools = row.querySelector(".tools");
  if (row.dataset.state === "rejected" || tools.querySelector(".more")) return;
  const more = document.getElementById("more").content.cloneNode(true);
  if (row.dataset.state !== "waiting") more.querySelector("[data-do=split]").remove();
  tools.append(more);
  drawOffers(row);
}

export function setCurrent(row, { focus = true } = {}) {
  const before = current();
  if (before && before !== row) {
    before.classList.remove("current");
    before.removeAttribute("aria-current");
    before.tabIndex = -1;
  }
  if (!row) return;
  furnish(row);
  row.classList.add("current");
  row.setAttribute("aria-current", "true");
  row.tabIndex = 0;
  if (focus) {
    row.focus({ preventScroll: true });
    // Another hive: from its head on, so that as many of its rows as can be are shown at once.
    const section = row.closest(".hive");
    if (before && section !== before.closest(".hive")) section.scrollIntoView({ block: "start" });
    row.scrollIntoView({ block: "nearest" });
  }
  listeners.forEach((listener) => listener(row));
}

// To the row before or after; `waiting` leaves out those that are decided.
export function step(by, { waiting = false } = {}) {
  const all = rows().filter((row) => !waiting || waits(row) || row === current());
  const at = all.indexOf(current());
  const next = all[at < 0 ? 0 : Math.min(all.length - 1, Math.max(0, at + by))];
  if (next) setCurrent(next);
}

// The first after `from` that is wanted, else the first of all.
function find(wanted, from) {
  const all = rows();
  const at = from ? all.indexOf(from) : -1;
  return all.slice(at + 1).find(wanted) || all.slice(0, Math.max(0, at)).find(wanted);
}

export function nextDoubtful() {
  const next = find(doubts, current());
  if (next) setCurrent(next);
  else if (!(current() && doubts(current()))) say("No doubtful row is left.");
}

function goOn(from, doubtful) {
  const next = (doubtful && find(doubts, from)) || find(waits, from);
  if (!next) return;
  setCurrent(next);
  document.dispatchEvent(new CustomEvent("onward", { detail: next }));
}

export function first() {
  setCurrent(find(doubts) || find(waits) || rows()[0], { focus: true });
}

export async function decide(act, chosen, more = {}, { onward = false } = {}) {
  const ids = chosen.map((row) => row.dataset.id);
  const lead = chosen[0];
  const doubtful = lead?.classList.contains("doubtful");
  chosen.forEach((row) => row.classList.add("saving"));
  if (onward && lead) goOn(lead, doubtful || chosen.length > 1);
  const told = await inTurn(() => post(`${base}/decide`, {
    act,
    rows: ids.map((id) => rowOf(id)).filter(Boolean)
      .map((row) => [row.dataset.id, Number(row.dataset.version)]),
    ...more,
  }));
  ids.map(rowOf).filter(Boolean).forEach((row) => row.classList.remove("saving"));
  if (told === null) {
    warn("Not saved: the page cannot reach fieldvoice. Start `fieldvoice review` again, or try once more.");
    if (onward && lead?.isConnected) setCurrent(lead);
    return null;
  }
  if (told.new_hive && !more.add_hive) {
    if (onward && lead?.isConnected) setCurrent(lead, { focus: false });
    const answer = await ask({
      head: `Hive ${told.new_hive} is new`,
      text: `It is not in the register of ${main.dataset.yard}. Add it, or give the row to another hive.`,
      yes: `Add hive ${told.new_hive}`,
    });
    if (answer === null) return null;
    return decide(act, ids.map(rowOf).filter(Boolean), { ...more, add_hive: true }, { onward });
  }
  if (told.problem) {
    if (told.board !== undefined) apply(told);
    if (!told.problems) warn(told.problem);
    const again = ids.map(rowOf).find(Boolean);
    if (onward && again) setCurrent(again);
    return told.problems ? told : null;
  }
  apply(told);
  say(told.said);
  return told;
}

export function apply(told) {
  const kept = current()?.dataset.id;
  const height = told.board === undefined ? undefined : current()?.getBoundingClientRect().top;
  const ticked = new Set(marked().map((row) => row.dataset.id));
  const focused = board.contains(document.activeElement) || document.activeElement === document.body;
  if (told.board !== undefined) {
    const open = [...board.querySelectorAll("form.edit")].map((form) => [form.dataset.row, form]);
    board.innerHTML = told.board;
    for (const [id, form] of open) (rowOf(id) || board).append(form);
    for (const id of ticked) {
      if (!rowOf(id)) continue;
      furnish(rowOf(id));
      const box = rowOf(id).querySelector("input[data-do=mark]");
      if (box) box.checked = true;
    }
  }
  for (const [id, html] of Object.entries(told.rows || {})) {
    const old = rowOf(id);
    if (!old) continue;
    old.outerHTML = html;
    elsewhere(rowOf(id));
  }
  main.dataset.state = told.state;
  main.dataset.undo = told.undo;
  count();
  const row = (kept && rowOf(kept)) || (told.changed || []).map(rowOf).find(Boolean);
  // What was drawn anew stays where the eye is.
  if (row && height !== undefined) scrollBy(0, row.getBoundingClientRect().top - height);
  if (row) setCurrent(row, { focus: focused && !row.contains(document.activeElement) });
  else first();
  document.dispatchEvent(new Event("board"));
}

// A row that was given to another hive stays where it was said until the page is drawn anew.
function elsewhere(row) {
  const { hive } = row.dataset;
  if (hive === row.closest(".hive").dataset.hive) return;
  const mark = document.createElement("span");
  mark.className = "moved";
  mark.textContent = hive === "" ? "the yard" : hive === "all" ? "all hives" : `hive ${hive}`;
  row.querySelector(".line").prepend(mark);
}

const many = (number, one, more) => `${number} ${number === 1 ? one : more}`;

// How far it has come, counted from the rows themselves.
export function count() {
  const counts = { waiting: 0, doubtful: 0, confirmed: 0, rejected: 0 };
  const all = rows();
  const left = new Map();
  for (const row of all) {
    counts[row.dataset.state] += 1;
    if (row.dataset.state !== "waiting") continue;
    const section = row.closest(".hive");
    const mine = left.get(section) ?? { waiting: 0, plain: 0 };
    left.set(section, mine);
    mine.waiting += 1;
    if (row.classList.contains("doubtful")) counts.doubtful += 1; else mine.plain += 1;
  }
  counts.plain = counts.waiting - counts.doubtful;
  document.getElementById("left").textContent = counts.waiting
    ? `${counts.waiting} to decide, ${counts.doubtful} doubtful`
    : `All decided: ${counts.confirmed} in the log, ${counts.rejected} rejected`;
  const everything = document.getElementById("all");
  everything.disabled = !counts.plain;
  everything.querySelector("[data-text]").textContent = counts.plain ? `Confirm ${counts.plain} unflagged` : "None unflagged";
  const undo = document.getElementById("undo");
  undo.disabled = !main.dataset.undo;
  undo.title = main.dataset.undo ? `Undo: ${main.dataset.undo}` : "";
  for (const section of board.querySelectorAll(".hive")) {
    const { waiting, plain } = left.get(section) ?? { waiting: 0, plain: 0 };
    section.querySelector("[data-left]").textContent = waiting
      ? many(waiting, "row to decide", "rows to decide") : "✓ decided";
    const button = section.querySelector("[data-do=plain]");
    button.hidden = !plain;
    button.textContent = `Confirm ${plain} unflagged`;
    button.setAttribute("aria-label", `Confirm ${plain} unflagged of ${section.dataset.name}`);
    const whole = section.querySelector("[data-do=finish]");
    whole.hidden = waiting < 2 || waiting === plain;
    whole.textContent = `Confirm all ${waiting}`;
    whole.setAttribute("aria-label", `Confirm all ${waiting} of ${section.dataset.name}`);
  }
  finished(counts.waiting === 0 && all.length > 0);
  watch(all.filter(waits));
}

function finished(done) {
  let note = document.getElementById("finished");
  if (!done) return void note?.remove();
  if (note) return;
  note = document.createElement("p");
  note.id = "finished";
  note.className = "finished";
  note.append("All rows of this recording are decided. ");
  const link = document.createElement("a");
  link.href = main.dataset.following ? `/recordings/${main.dataset.following}` : "/";
  link.textContent = main.dataset.following ? "Next recording" : "All recordings";
  note.append(link);
  board.before(note);
}

export const plainRows = (section) => rows().filter((row) =>
  waits(row) && !doubts(row) && (section === undefined || row.closest(".hive") === section));

// Confirm what waits of a hive, doubtful or not: only what was shown; else show the rest first.
export function finish(section) {
  const mine = [...section?.querySelectorAll(".row") ?? []].filter(waits);
  if (!mine.length) return say("Nothing waits here.");
  const hidden = mine.find((row) => !isSeen(row));
  if (!hidden) return decide("confirm", mine, {}, { onward: true });
  setCurrent(hidden);
  hidden.scrollIntoView({ block: mine.length > 1 ? "start" : "nearest" });
  say("These were not shown yet. Look at them, then once more.");
}

// The rows said right after this one and taken for the same hive: one missed name moves them all.
export function run(row) {
  const said = rows().filter((one) => one.dataset.start && one.dataset.hive)
    .sort((one, other) => one.dataset.start - other.dataset.start);
  const from = said.indexOf(row);
  if (from < 0) return [];
  const end = said.findIndex((one, at) => at > from && one.dataset.hive !== row.dataset.hive);
  return said.slice(from, end < 0 ? undefined : end).filter(waits);
}

// Another tab or device may have decided in the meantime.
export async function refresh() {
  const told = await inTurn(() => post(`${base}/state`, { state: main.dataset.state }));
  if (told?.board !== undefined) {
    apply(told);
    say("Rows were decided elsewhere; this is how they are now.");
  }
}
