// Enter goes on with the next recording.

const next = document.getElementById("next");
document.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && next && !event.target.closest("a, button")) location.assign(next.href);
});
