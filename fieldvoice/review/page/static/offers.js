// What else a row may have been meant to say, each one digit away.

const SHOWN = 6; // buttons of hives; the others have their digit all the same

const hivesOf = (row) => JSON.parse(row.dataset.hives ?? "[]");
const othersOf = (row) => JSON.parse(row.dataset.offers ?? "[]");

function button(key, words) {
  const made = document.createElement("button");
  made.type = "button";
  made.dataset.do = "offer";
  made.dataset.key = key;
  const shown = document.createElement("kbd");
  shown.textContent = key;
  made.append(shown, ` ${words}`);
  return made;
}

// The choices of a row, drawn once; what is in doubt comes first.
export function drawOffers(row) {
  if (row.dataset.state !== "waiting" || row.querySelector(".offers")) return;
  const hives = hivesOf(row).filter(([, label]) => label !== row.dataset.hive).slice(0, SHOWN)
    .map(([key, label]) => button(key, `hive ${label}`));
  if (row.dataset.hive) hives.push(button("0", "the yard"));
  const others = othersOf(row).map(([key, words]) => button(key, words));
  if (!hives.length && !others.length) return;
  const place = document.createElement("div");
  place.className = row.dataset.asks?.split(" ").includes("hive") ? "offers asks" : "offers";
  place.setAttribute("role", "group");
  place.setAttribute("aria-label", "Or is it");
  const group = document.createElement("span");
  group.className = "hives";
  group.append(...hives);
  place.append(...others, group);
  row.append(place);
}

// What a digit chooses on a row: a hive, or fields as typed; undefined if nothing.
export function choice(row, key) {
  if (row?.dataset.state !== "waiting") return undefined;
  if (key === "0") return { hive: "-" };
  const hive = hivesOf(row).find(([mine]) => mine === key);
  if (hive) return { hive: hive[1] };
  const other = othersOf(row).find(([mine]) => mine === key);
  return other && { fields: other[2] };
}
