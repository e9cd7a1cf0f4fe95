// Fields of a row, changed in place: checked while typed, kept in this browser until saved.

import { whole } from "./ask.js";
import { base, current, decide, main, rowOf, setCurrent } from "./board.js";
import { fragment, post } from "./server.js";

const WAIT = 150; // milliseconds of rest in typing before it is checked
const kept = (id) => `form ${main.dataset.recording} ${id || "new"}`;
const open = () => document.querySelector("form.edit");
export const isOpen = () => Boolean(open());

// Keys pressed while a form is on its way belong in it, and must not decide on rows.
let held = null;
export const isComing = () => held !== null;
export const hold = (key) => held.push(key);

function give(form, input) {
  const keys = held ?? [];
  held = null;
  const enter = keys.indexOf("Enter");
  const text = keys.slice(0, enter < 0 ? keys.length : enter).filter((key) => key.length === 1).join("");
  if (text && input.tagName === "SELECT") {
    const option = [...input.options].find((one) => one.value.startsWith(text[0]));
    if (option) input.value = option.value;
  } else if (text) input.value = text;
  if (text) input.dispatchEvent(new Event("input", { bubbles: true }));
  if (keys.includes("Escape")) cancel();
  else if (enter >= 0) form.requestSubmit(form.querySelector("button[type=submit]"));
}

export function fieldsOf(form) {
  const fields = { values: [] };
  for (const [name, text] of new FormData(form)) {
    if (name === "values") fields.values.push(text); else fields[name] = text;
  }
  if (form.querySelector("[name=kind]").dataset.chosen) fields.kind_chosen = true;
  return fields;
}

function fill(form, fields) {
  for (const [name, text] of Object.entries(fields)) {
    // Not form.elements: "item" is the name of a function there.
    const input = name !== "values" && form.querySelector(`[name="${name}"]`);
    if (input) input.value = text;
  }
  fields.values.forEach((text, at) => { numbers(form)[at].value = text; grow(form); });
}

const numbers = (form) => form.querySelectorAll("[name=values]");

// There is always one empty input for a number more.
function grow(form) {
  const last = [...numbers(form)].at(-1);
  if (!last.value.trim()) return;
  const next = last.cloneNode();
  next.removeAttribute("id");
  next.removeAttribute("aria-invalid");
  next.value = "";
  next.setAttribute("aria-label", `Number ${numbers(form).length + 1}`);
  last.after(next);
}

export async function edit(row, field = "item") {
  if (!row || row.dataset.state === "rejected") return;
  close();
  setCurrent(row, { focus: false });
  held = [];
  const html = await fragment(`${base}/rows/${row.dataset.id}/form`);
  const place = rowOf(row.dataset.id);
  if (html === null || !place) { held = null; return; }
  place.insertAdjacentHTML("beforeend", html);
  begin(place.querySelector("form.edit"), field);
}

export async function write({ words = "", start = "", end = "" } = {}) {
  close();
  const hive = current()?.dataset.hive ?? "";
  const asked = new URLSearchParams({ words, start, end, hive });
  held = [];
  const html = await fragment(`${base}/form?${asked}`);
  if (html === null) { held = null; return; }
  const place = document.createElement("div");
  place.className = "newrow";
  place.innerHTML = "<h2>A row that was missed</h2>" + html;
  document.getElementById("board").before(place);
  place.scrollIntoView({ block: "center" });
  begin(place.querySelector("form.edit"), "item");
}

function begin(form, field) {
  const saved = localStorage.getItem(kept(form.dataset.row));
  if (saved) fill(form, JSON.parse(saved));
  const input = form.querySelector(`#f-${field}`);
  input.focus();
  input.select?.();
  (form.closest(".row") ?? form).scrollIntoView({ block: "start" }); // its words and doubts with it
  input.scrollIntoView({ block: "nearest" });
  if (saved) check(form);
  let timer = 0;
  form.addEventListener("input", (event) => {
    if (event.target.name === "values") grow(form);
    localStorage.setItem(kept(form.dataset.row), JSON.stringify(fieldsOf(form)));
    clearTimeout(timer);
    timer = setTimeout(() => check(form), WAIT);
  });
  form.addEventListener("change", (event) => {
    if (event.target.name === "hive") event.target.value = whole(event.target.value.trim());
  });
  // The kind follows the thing until it is chosen, be it the same as before.
  for (const kind of ["change", "keydown"]) {
    form.querySelector("[name=kind]").addEventListener(kind, ({ target, key }) => {
      if (!["Tab", "Shift", "Enter", "Escape"].includes(key)) target.dataset.chosen = "yes";
    });
  }
  form.addEventListener("keydown", (event) => {
    if (event.key === "Escape") { event.preventDefault(); event.stopPropagation(); cancel(); }
    if (event.key === "Enter" && event.target.tagName !== "BUTTON") {
      event.preventDefault();
      form.requestSubmit(form.querySelector("button[type=submit]"));
    }
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    clearTimeout(timer);
    save(form, event.submitter?.value !== "save");
  });
  give(form, input);
}

async function check(form) {
  const told = await post(`${base}/check`, { row: form.dataset.row, fields: fieldsOf(form) });
  if (!told?.problems || !form.isConnected) return;
  mark(form, told.problems, told.reads);
  const kind = form.querySelector("[name=kind]");
  if (!kind.dataset.chosen && told.kind) kind.value = told.kind; // it follows the thing
}

function mark(form, problems, reads) {
  for (const slip of form.querySelectorAll(".slip")) slip.textContent = "";
  for (const input of form.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
  for (const [name, text] of Object.entries(problems)) {
    const slip = form.querySelector(`#p-${name}`);
    if (slip) slip.textContent = text;
    for (const input of form.querySelectorAll(`[name="${name}"]`)) input.setAttribute("aria-invalid", "true");
  }
  if (reads !== undefined) form.querySelector("output").textContent = reads;
}

async function save(form, confirm) {
  const hive = form.querySelector("[name=hive]");
  hive.value = whole(hive.value.trim());
  const row = form.dataset.row && rowOf(form.dataset.row);
  const more = { fields: fieldsOf(form), confirm };
  if (!form.dataset.row) {
    for (const name of ["start", "end"]) if (form.dataset[name]) more[name] = Number(form.dataset[name]);
    more.words = form.elements.quote.value;
    more.hive = form.elements.hive.value === "all" ? "" : form.elements.hive.value;
  }
  const told = await decide(row ? "edit" : "write", row ? [row] : [], more);
  if (told?.problems) {
    mark(form, told.problems);
    form.querySelector("[aria-invalid]")?.focus();
    return;
  }
  if (!told) return; // what was typed stays open
  localStorage.removeItem(kept(form.dataset.row));
  const changed = rowOf(told.changed[0]);
  (form.closest(".newrow") || form).remove();
  if (changed) {
    setCurrent(changed);
    document.dispatchEvent(new CustomEvent("edited", { detail: changed }));
  }
}

function close() {
  const form = open();
  if (form) (form.closest(".newrow") || form).remove();
}

export function cancel() {
  const form = open();
  if (!form) return;
  localStorage.removeItem(kept(form.dataset.row));
  close();
  if (current()) setCurrent(current());
}

// A form that was open when the page went away is open again, with what was typed.
export async function reopen() {
  const mine = kept("").replace(/new$/, "");
  for (const key of Object.keys(localStorage)) {
    if (!key.startsWith(mine)) continue;
    const id = key.slice(mine.length);
    if (id === "new") return write();
    if (rowOf(id)) return edit(rowOf(id));
    localStorage.removeItem(key);
  }
}
