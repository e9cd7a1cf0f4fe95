// Which rows the keeper has been shown: whole, between the player and the bar, for a moment.

const MOMENT = 300; // milliseconds; a row that only rushed past was not shown
const seen = new Set();
const since = new Map();
const idOf = (row) => `${row.dataset.id} ${row.dataset.version}`; // another version was not seen yet
const watched = new WeakSet();
let watcher;

function note(entries) {
  const now = performance.now();
  for (const { target, intersectionRatio, intersectionRect, rootBounds } of entries) {
    const id = idOf(target);
    const whole = intersectionRatio > 0.98 || intersectionRect.height > 0.8 * (rootBounds?.height ?? Infinity);
    if (whole && !since.has(id)) since.set(id, now);
    else if (!whole && since.has(id)) {
      if (now - since.get(id) >= MOMENT) seen.add(id);
      since.delete(id);
    }
  }
}

// Watch these rows from now on; the edges are what covers them. A row that was drawn anew is another.
export function watch(rows) {
  watcher ??= new IntersectionObserver(note, {
    rootMargin: `-${document.querySelector(".player").offsetHeight}px 0px -${document.querySelector(".bar").offsetHeight}px 0px`,
    threshold: [0, 0.5, 0.99],
  });
  for (const row of rows) {
    if (watched.has(row)) continue;
    watched.add(row);
    watcher.observe(row);
  }
}

export function isSeen(row) {
  const id = idOf(row);
  return seen.has(id) || performance.now() - (since.get(id) ?? Infinity) >= MOMENT;
}
