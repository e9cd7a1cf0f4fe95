// Forms that are sent as JSON and answered with a sentence; then the page is shown anew.

import { post, say, warn } from "./server.js";

const TOLD = "told"; // kept over the reload

document.addEventListener("submit", async (event) => {
  const form = event.target.closest("form[data-send]");
  if (!form) return;
  event.preventDefault();
  const fields = Object.fromEntries(new FormData(form, event.submitter));
  const told = await post(form.dataset.send, fields);
  if (told === null) return warn("Not saved: the page cannot reach fieldvoice.");
  if (told.problem) return warn(told.problem);
  sessionStorage.setItem(TOLD, told.said);
  location.reload();
});

const told = sessionStorage.getItem(TOLD);
sessionStorage.removeItem(TOLD);
if (told) say(told);
document.documentElement.dataset.ready = "yes";
