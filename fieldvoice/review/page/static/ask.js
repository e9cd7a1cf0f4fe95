// One small dialog for every question: a text, some choices, yes or cancel.

const dialog = document.getElementById("ask");
const input = document.getElementById("askinput");
const choices = document.getElementById("choices");

export const labels = () => [...document.querySelectorAll("#hives option")].map((option) => option.value);

// The beginning of a name that only one hive has; a number is never completed.
export function whole(answer) {
  if (!answer || /\d/.test(answer)) return answer;
  const low = answer.toLowerCase();
  const known = labels().filter((label) => label.toLowerCase().startsWith(low));
  return known.length === 1 ? known[0] : answer;
}

// The answer, or null. `choose` are answers that are one press away; `label` asks for a text.
export function ask({ head, text = "", label = "", yes = "Yes", choose = [], value = "", list = "" }) {
  document.getElementById("askhead").textContent = head;
  document.getElementById("asktext").textContent = text;
  document.getElementById("asklabel").textContent = label;
  document.getElementById("askfield").hidden = !label;
  document.getElementById("askyes").textContent = yes;
  if (list) input.setAttribute("list", list); else input.removeAttribute("list");
  input.value = value;
  choices.replaceChildren(...choose.map(({ answer, words }) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = words;
    button.addEventListener("click", () => dialog.close(`=${answer}`));
    return button;
  }));
  const back = document.activeElement;
  dialog.returnValue = "";
  dialog.showModal();
  // On a phone the keyboard would cover the choices.
  const thumb = choose.length && matchMedia("(pointer: coarse)").matches;
  (thumb ? choices.firstChild : label ? input : document.getElementById("askyes")).focus();
  if (label && !thumb) input.select();
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => {
      if (back?.isConnected) back.focus({ preventScroll: true });
      const told = dialog.returnValue;
      if (told.startsWith("=")) resolve(told.slice(1));
      else resolve(told === "yes" ? input.value.trim() : null);
    }, { once: true });
  });
}

for (const one of document.querySelectorAll("dialog")) {
  one.addEventListener("click", (event) => {
    if (event.target.closest("[data-close]")) one.close("");
  });
}
