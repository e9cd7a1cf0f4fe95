// Hear just the seconds of a row, and see where they are.

import { main, onCurrent, rows } from "./board.js";
import { warn } from "./server.js";

const LEAD_IN = 1; // seconds before the words
const AFTER = 0.4; // seconds after them
const sound = document.getElementById("sound");
const speed = document.getElementById("speed");
const seek = document.getElementById("seek");
const length = Number(main.dataset.duration);
const along = (seconds) => (seconds / length) * 1200;
let until = Infinity;

export async function play(start, end) {
  until = end === undefined ? Infinity : end + AFTER;
  sound.currentTime = Math.max(0, start - (end === undefined ? 0 : LEAD_IN));
  await begin();
}

async function begin() {
  sound.playbackRate = Number(speed.value);
  sound.preservesPitch = true;
  try {
    await sound.play();
  } catch (error) {
    if (error.name !== "AbortError") await whyNot();
  }
}

async function whyNot() {
  try {
    const reply = await fetch(sound.getAttribute("src"), { headers: { Range: "bytes=0-1" } });
    if (!reply.ok) return warn((await reply.json()).problem);
  } catch {
    return warn("The page cannot reach fieldvoice. Is it still running?");
  }
  return warn("This browser could not play the sound.");
}

export function playRow(row) {
  if (!row?.dataset.start) return warn("It is not known where in the recording this was said.");
  return play(Number(row.dataset.start), Number(row.dataset.end));
}

export const stop = () => sound.pause();
export const isPlaying = () => !sound.paused;

export function toggle() {
  if (isPlaying()) return stop();
  until = Infinity;
  return begin();
}

export function slower() {
  speed.value = speed.value === "1" ? "0.75" : "1";
  sound.playbackRate = Number(speed.value);
}

function watch() {
  if (sound.currentTime >= until) {
    sound.pause();
    until = Infinity;
  }
  show();
  if (!sound.paused) requestAnimationFrame(watch);
}

function show() {
  const at = sound.currentTime;
  const seconds = Math.floor(at);
  document.getElementById("at").textContent =
    `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  document.getElementById("head").setAttribute("x", along(at));
  seek.value = at;
}

sound.addEventListener("play", () => {
  document.querySelector("#playing span").textContent = "■";
  requestAnimationFrame(watch);
});
sound.addEventListener("pause", () => {
  document.querySelector("#playing span").textContent = "▶";
  show();
});
// Animation frames stop in a tab that is not seen; the sound must stop all the same.
sound.addEventListener("timeupdate", () => { if (sound.currentTime >= until) sound.pause(); });
speed.addEventListener("change", () => { sound.playbackRate = Number(speed.value); });
seek.addEventListener("input", () => {
  until = Infinity;
  sound.currentTime = Number(seek.value);
  show();
});

onCurrent((row) => {
  const span = document.getElementById("span");
  const [start, end] = [Number(row.dataset.start || 0), Number(row.dataset.end || 0)];
  span.setAttribute("x", along(start));
  span.setAttribute("width", end > start ? Math.max(4, along(end - start)) : 0);
});

function ticks() {
  const group = document.getElementById("ticks");
  group.replaceChildren(...rows().filter((row) => row.dataset.start && row.dataset.state === "waiting").map((row) => {
    const tick = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    const doubtful = row.classList.contains("doubtful");
    tick.setAttribute("class", doubtful ? "tick" : "tick plain");
    tick.setAttribute("x", along(Number(row.dataset.start)));
    tick.setAttribute("width", doubtful ? 4 : 1.5);
    tick.setAttribute("height", doubtful ? 14 : 8);
    return tick;
  }));
}

// A picture can wait; the next key cannot.
let due = 0;
document.addEventListener("board", () => { clearTimeout(due); due = setTimeout(ticks, 120); });

export async function draw() {
  ticks();
  try {
    const reply = await fetch(`/recordings/${main.dataset.recording}/waveform`);
    const { columns, problem, gone } = await reply.json();
    if (gone) warn(problem);
    const wide = 1200 / columns.length;
    document.getElementById("loud").setAttribute("d", columns.map((loud, at) => {
      const high = Math.max(0.6, (loud / 255) * 42);
      return `M${(at * wide).toFixed(1)} ${(50 - high).toFixed(1)}h${wide.toFixed(2)}v${(2 * high).toFixed(1)}h-${wide.toFixed(2)}z`;
    }).join(""));
  } catch {
    // Without its picture the sound can still be heard.
  }
}
