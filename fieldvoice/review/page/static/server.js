// Talk to the server: one decision at a time, in the order they were made.

const said = document.getElementById("said");
const problem = document.getElementById("problem");
let timer = 0;

export function say(text) {
  problem.textContent = "";
  said.textContent = text;
  clearTimeout(timer);
  timer = setTimeout(() => { said.textContent = ""; }, 4000);
}

export function warn(text) {
  said.textContent = "";
  problem.textContent = text;
}

let last = Promise.resolve();

// What the server answers, with `status`; null if it cannot be reached.
export async function post(path, body) {
  try {
    const reply = await fetch(path, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
    });
    const text = await reply.text();
    try {
      return { status: reply.status, ...JSON.parse(text) };
    } catch {
      return { status: reply.status, problem: text || `The page answered ${reply.status}.` };
    }
  } catch {
    return null;
  }
}

// `make` is called when its turn has come, so that it sees what earlier decisions changed.
export function inTurn(make) {
  const mine = last.then(make);
  last = mine.catch(() => {});
  return mine;
}

export async function fragment(path) {
  try {
    const reply = await fetch(path, { headers: { Accept: "text/html" } });
    if (reply.ok) return await reply.text();
    warn((await reply.text()).slice(0, 300));
  } catch {
    warn("The page cannot reach fieldvoice. Is it still running? Nothing was changed.");
  }
  return null;
}
