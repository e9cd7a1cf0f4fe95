// Take back what was learnt, or use it after all.

import { post, say, warn } from "./server.js";

document.addEventListener("click", async (event) => {
  const { heard, meant, used, name, hive, yard } = event.target.closest("button")?.dataset ?? {};
  if (!heard && !name) return;
  const told = heard
    ? await post("/learnt/word", { heard, meant, used: Boolean(used) })
    : await post("/learnt/name", { name, hive, yard });
  if (told === null) return warn("Not saved: the page cannot reach fieldvoice.");
  if (told.problem) return warn(told.problem);
  say(told.said);
  location.reload();
});
document.documentElement.dataset.ready = "yes";
