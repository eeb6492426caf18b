/* A photo seen closer: by a button, or by two fingers. The figure keeps its place on the page and scrolls inside. */

const MOST = 6; // times
const CLOSER = 2.5; // what the button gives

/** Put what a figure holds into a sheet that can be larger than it; return { zoom, toggle(at), onChange }. */
export function zoomable(figure, sheet, changed) {
  let times = 1;
  let pinch = null; // { apart, times } when two fingers came down

  function set(next, at) {
    const before = times;
    times = Math.min(Math.max(next, 1), MOST);
    if (times === before) return;
    const frame = figure.getBoundingClientRect();
    const x = at ? at.x - frame.left : frame.width / 2;
    const y = at ? at.y - frame.top : frame.height / 2;
    const left = ((figure.scrollLeft + x) * times) / before - x; // what is under the fingers stays there
    const top = ((figure.scrollTop + y) * times) / before - y;
    figure.style.height = times > 1 ? `${frame.height}px` : "";
    sheet.style.width = times > 1 ? `${100 * times}%` : "";
    figure.classList.toggle("is-closer", times > 1);
    figure.scrollTo(left, top);
    changed();
  }

  const middle = ([a, b]) => ({ x: (a.clientX + b.clientX) / 2, y: (a.clientY + b.clientY) / 2 });
  const apart = ([a, b]) => Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);

  figure.addEventListener("touchstart", (event) => {
    if (event.touches.length === 2) pinch = { apart: apart(event.touches), times };
  }, { passive: true });
  figure.addEventListener("touchmove", (event) => {
    if (!pinch || event.touches.length !== 2) return;
    event.preventDefault(); // otherwise the whole page would be zoomed
    set((pinch.times * apart(event.touches)) / pinch.apart, middle(event.touches));
  }, { passive: false });
  figure.addEventListener("touchend", (event) => {
    if (event.touches.length < 2) pinch = null;
  });

  return {
    isCloser: () => times > 1,
    isPinching: () => pinch !== null,
    toggle: (at) => set(times > 1 ? 1 : CLOSER, at),
  };
}
