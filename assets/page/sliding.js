// The hand on the line: pressed or drawn along it, one goes there; drawn along the posts, it chooses a loop.

const POSTS = 43;
const LEAST = 8;

export function watchSlider(slider, player, line) {
  let from = null; // where a loop is begun: along the posts, below the line
  function go(event) {
    const box = slider.getBoundingClientRect();
    player.go(((event.clientX - box.left) / box.width) * player.line.seconds);
  }
  slider.addEventListener("pointerdown", (event) => {
    if (!player.line) return;
    slider.setPointerCapture(event.pointerId);
    from = event.offsetY > POSTS ? event.clientX : null;
    if (from === null) go(event);
  });
  slider.addEventListener("pointermove", (event) => { if (from === null && slider.hasPointerCapture(event.pointerId)) go(event); });
  slider.addEventListener("pointerup", (event) => {
    if (from === null) return;
    const row = Math.abs(event.clientX - from) < LEAST ? [] : line.barsBetween(from, event.clientX);
    from = null;
    if (row.length) player.setLoop(row[0].start, row.at(-1).end);
    else go(event);
  });
}
