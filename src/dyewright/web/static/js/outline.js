/* Outlines as their fields hold them, and the plane geometry of editing them. Points are [x, y] in pixels of the photo. */

const numbersIn = (text) => text.split(",").map((part) => (part.trim() === "" ? NaN : Number(part)));
const areFinite = (numbers) => numbers.every(Number.isFinite);

/** Read "x,y x,y x,y …" or "left, top, width, height", on the photo of the number before a colon; null where it is neither. */
export function outlineOf(text) {
  const [, before, places] = /^\s*(?:(\d+)\s*:)?([^]*)$/.exec(text);
  const photo = Number(before ?? 1);
  const words = places.replaceAll(";", " ").replace(/\s*,\s*/g, ",").trim().split(/\s+/);
  if (words.length === 1) {
    const [x, y, width, height] = numbersIn(words[0]);
    if (!areFinite([x, y, width, height]) || width <= 0 || height <= 0) return null;
    return { photo, points: boxPoints(x, y, x + width, y + height) };
  }
  const points = words.map(numbersIn);
  return points.length >= 3 && points.every((point) => point.length === 2 && areFinite(point)) ? { photo, points } : null;
}

/** Return an outline as its field holds it: a box as four numbers, anything else point by point. */
export function textOf({ photo, points }) {
  const before = photo > 1 ? `${photo}:` : "";
  const whole = points.map(([x, y]) => [Math.round(x), Math.round(y)]);
  if (!isBox(whole)) return before + whole.map((point) => point.join(",")).join(" ");
  const { left, top, right, bottom } = sidesOf(whole);
  return `${before}${left}, ${top}, ${right - left}, ${bottom - top}`;
}

/** The corners of a box, clockwise from the top left, whichever two opposite corners are given. */
export function boxPoints(ax, ay, bx, by) {
  const [left, right] = ax < bx ? [ax, bx] : [bx, ax];
  const [top, bottom] = ay < by ? [ay, by] : [by, ay];
  return [[left, top], [right, top], [right, bottom], [left, bottom]];
}

export function isBox(points) {
  const { left, top, right, bottom } = sidesOf(points);
  const corners = [[left, top], [right, top], [right, bottom], [left, bottom]];
  return points.length === 4 && corners.every(([x, y], i) => points[i][0] === x && points[i][1] === y);
}

export function sidesOf(points) {
  const xs = points.map(([x]) => x);
  const ys = points.map(([, y]) => y);
  return { left: Math.min(...xs), top: Math.min(...ys), right: Math.max(...xs), bottom: Math.max(...ys) };
}

/** Whether a place lies inside an outline (even-odd rule). */
export function isInside(points, { x, y }) {
  let inside = false;
  points.forEach(([ax, ay], i) => {
    const [bx, by] = points[(i + 1) % points.length];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) inside = !inside;
  });
  return inside;
}

/** Move an outline as a whole, no further than the photo reaches. */
export function shifted(points, dx, dy, size) {
  const { left, top, right, bottom } = sidesOf(points);
  const sx = Math.min(Math.max(dx, -left), size.width - right);
  const sy = Math.min(Math.max(dy, -top), size.height - bottom);
  return points.map(([x, y]) => [x + sx, y + sy]);
}

/** Move one point, and its neighbours along the outline the less the farther they are, none beyond `reach`.

   A found outline has points close together: pulling one alone would make a spike. One of few points has corners. */
export function bent(points, place, dx, dy, reach) {
  const away = distancesAlong(points, place);
  const isCornered = points.length <= 6;
  return points.map(([x, y], i) => {
    const share = i === place ? 1 : isCornered || away[i] >= reach ? 0 : (1 - (away[i] / reach) ** 2) ** 2;
    return [x + share * dx, y + share * dy];
  });
}

function distancesAlong(points, place) {
  const count = points.length;
  const lengths = points.map(([x, y], i) => Math.hypot(points[(i + 1) % count][0] - x, points[(i + 1) % count][1] - y));
  const total = lengths.reduce((sum, length) => sum + length, 0);
  const away = new Array(count).fill(0);
  let ahead = 0;
  for (let step = 1; step < count; step += 1) {
    ahead += lengths[(place + step - 1) % count];
    away[(place + step) % count] = Math.min(ahead, total - ahead);
  }
  return away;
}

/** The middle of the edge that begins at a point. */
export function middleOf(points, place) {
  const [ax, ay] = points[place];
  const [bx, by] = points[(place + 1) % points.length];
  return { x: (ax + bx) / 2, y: (ay + by) / 2, length: Math.hypot(bx - ax, by - ay) };
}
