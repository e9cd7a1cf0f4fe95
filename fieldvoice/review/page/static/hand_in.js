// Hand a recording in, piece by piece; after a break it goes on from the last piece kept.

import { post, warn } from "./server.js";

const AGAIN = 3000; // milliseconds until a piece that was not taken is sent again
const LOOK = 2000; // milliseconds between two looks at what came of a file
const list = document.getElementById("files");
const wait = (time) => new Promise((done) => { setTimeout(done, time); });

function base64(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length; at += 8192) {
    text += String.fromCharCode(...bytes.subarray(at, at + 8192));
  }
  return btoa(text);
}

// The same request until somebody answers: the phone may be out of reach for a while.
async function patiently(path, body, told) {
  for (;;) {
    const reply = await post(path, body);
    if (reply !== null) return reply;
    told("waiting for the computer …");
    await wait(AGAIN);
  }
}

async function handIn(file, told) {
  const about = { name: file.name, size: file.size, modified: file.lastModified };
  const begun = await patiently("/hand-in/begin", about, told);
  if (begun.problem) return told(begun.problem);
  let have = begun.have;
  while (have < file.size) {
    told(`${Math.floor((100 * have) / file.size)} % handed in`);
    let bytes;
    try {
      bytes = new Uint8Array(await file.slice(have, have + begun.piece).arrayBuffer());
    } catch {
      return told("The file cannot be read any more; choose it again.");
    }
    const kept = await patiently("/hand-in/piece", { ...about, at: have, data: base64(bytes) }, told);
    if (kept.problem) return told(kept.problem);
    have = kept.have;
  }
  const done = await patiently("/hand-in/done", about, told);
  if (done.problem) return told(done.problem);
  if (done.have < file.size) return handIn(file, told);
  told("handed in; being heard …");
  for (;;) {
    const state = await patiently("/hand-in/state", about, told);
    if (state.problem) return told(state.problem);
    if (state.said) return told(state.said);
    await wait(LOOK);
  }
}

async function take(event) {
  for (const file of [...event.target.files]) {
    const line = document.createElement("li");
    const name = document.createElement("b");
    const state = document.createElement("span");
    name.textContent = file.name;
    line.append(name, " ", state);
    list.append(line);
    try {
      await handIn(file, (text) => { state.textContent = text; });
    } catch {
      warn("The page has a fault. Load it again and choose the same file: it goes on.");
    }
  }
  event.target.value = "";
}

for (const id of ["record", "choose"]) document.getElementById(id).addEventListener("change", take);
document.documentElement.dataset.ready = "yes";
