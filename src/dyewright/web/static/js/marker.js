/* Outlines round skeins, boxes in glasses, and the corners of a chart, drawn on photos by mouse, finger or pen. The fields
   beside the photo are the truth: every drag writes them, every change of a field redraws. Without this script they work. */

import {
  canUndo, cornerInputs, corners, emptyInput, inputs, isFixed, keeping, placeCorners, remember, restore, rows, takeOut,
  undo, usesCorners, values,
} from "./marks.js";
import { bent, boxPoints, isInside, middleOf, outlineOf, shifted, sidesOf, textOf } from "./outline.js";
import { zoomable } from "./zoom.js";

const SPACE = "http://www.w3.org/2000/svg";
const REACH_PX = 24; // how far from its dot a finger may take it
const BEND_PX = 64; // how far along the outline a pull carries
const DOTS_APART_PX = 30; // closer points of an outline have no dot of their own
const TAP_PX = 8; // a finger that moves less has tapped

const form = document.getElementById("marks");
const tools = document.getElementById("marker-tools");
const help = document.getElementById("marker-help");
const tool = (name) => tools.querySelector(`[data-tool=${name}]`) ?? document.getElementById(name);
const within = (value, limit) => Math.min(Math.max(value, 0), limit);

let chosen = null; // the field whose outline is being shaped
let point = null; // the point of it that was touched last
let drag = null; // what is being dragged: { board, from, move(at, dx, dy), end(isTap) }
let pending = null; // an outline that is being tapped together: { board, points }

function make(name, attributes, text = "") {
  const element = document.createElementNS(SPACE, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text) element.textContent = text;
  return element;
}

/* ---- one board a photo ---- */

const boards = [...document.querySelectorAll("figure.marker")].map((figure) => {
  const size = { width: Number(figure.dataset.width), height: Number(figure.dataset.height) };
  const svg = make("svg", { viewBox: `0 0 ${size.width} ${size.height}`, preserveAspectRatio: "none", "aria-hidden": "true" });
  const sheet = document.createElement("div");
  sheet.className = "marker-sheet";
  sheet.append(...figure.childNodes, svg);
  figure.append(sheet);
  const board = { figure, size, svg, sheet, photo: Number(figure.dataset.photo ?? 1), thing: figure.dataset.thing ?? "skein", grips: [], bodies: [] };
  board.scale = () => size.width / sheet.clientWidth; // photo pixels a screen pixel
  board.zoom = zoomable(figure, sheet, () => draw());
  svg.addEventListener("pointerdown", (event) => press(board, event));
  svg.addEventListener("pointermove", (event) => pull(board, event));
  svg.addEventListener("pointerup", (event) => release(board, event));
  svg.addEventListener("pointercancel", () => letGo());
  svg.addEventListener("touchstart", (event) => drag?.isOurs && event.preventDefault(), { passive: false }); // no scroll
  new ResizeObserver(() => draw()).observe(sheet);
  return board;
});
const boardOf = (photo) => boards.find((board) => board.photo === photo);

/* ---- drawing what the fields say ---- */

const marked = () =>
  inputs()
    .map((input, row) => ({ input, row, outline: outlineOf(input.value) }))
    .filter(({ outline }) => outline && boardOf(outline.photo));

function draw() {
  const shapes = marked();
  const inOrder = [...shapes].sort((a, b) => a.outline.photo - b.outline.photo || a.row - b.row);
  if (chosen && !shapes.some(({ input }) => input === chosen)) chosen = null;
  for (const board of boards) {
    if (board.sheet.clientWidth === 0) continue; // not laid out yet: the observer calls again
    board.svg.replaceChildren(...(drag?.board === board && drag.held ? [drag.held] : []));
    board.grips = [];
    board.bodies = [];
    const here = shapes.filter(({ outline }) => outline.photo === board.photo);
    for (const shape of here.filter(({ input }) => input !== chosen)) drawShape(board, shape, inOrder);
    for (const shape of here.filter(({ input }) => input === chosen)) drawShape(board, shape, inOrder);
    if (board.photo === 1 && usesCorners()) drawCorners(board);
    if (pending?.board === board) drawPending(board);
  }
  if (corners()) corners().hidden = !usesCorners();
  tellTools();
}

function drawShape(board, { input, row, outline }, inOrder) {
  const isChosen = input === chosen;
  drawLine(board, outline.points, isChosen ? "shape is-chosen" : "shape");
  board.bodies.push({ input, points: outline.points });
  const number = isFixed() ? row + 1 : inOrder.findIndex((one) => one.input === input) + 1;
  const { left, top, right } = sidesOf(outline.points);
  addText(board, (left + right) / 2, top + 18 * board.scale(), String(number), 22);
  if (isChosen) drawGrips(board, input, outline);
}

function drawLine(board, points, kind) {
  const line = points.map((place) => place.join(",")).join(" ");
  board.svg.append(make("polygon", { points: line, class: "under" }), make("polygon", { points: line, class: kind }));
}

/* Every point can be taken; dots stand on those that are apart enough on the screen, smaller ones on long edges' middles. */
function drawGrips(board, input, outline) {
  const { points } = outline;
  const apart = DOTS_APART_PX * board.scale();
  const isFree = !isFixed();
  if (isFree) {
    points.forEach((_, i) => {
      const middle = middleOf(points, i);
      if (middle.length > 2 * apart) addGrip(board, middle.x, middle.y, "middle", () => insert(board, input, outline, i));
    });
  }
  let last = null;
  points.forEach(([x, y], i) => {
    const isDotted = !last || i === point || Math.hypot(x - last[0], y - last[1]) >= apart;
    if (isDotted) last = [x, y];
    const kind = i === point ? "grip is-touched" : isDotted ? "grip" : null;
    addGrip(board, x, y, kind, () => grasp(board, input, outline, i));
  });
}

function drawCorners(board) {
  const points = cornerInputs().map((input) => input.value.split(",").map(Number));
  if (!points.every((place) => place.length === 2 && place.every(Number.isFinite))) return;
  drawLine(board, points, "shape is-chart");
  const isTurned = form.elements.chart.value === "corners"; // a card or paper has no first corner
  points.forEach(([x, y], place) => {
    addGrip(board, x, y, "grip", () => (dx, dy) => {
      const input = cornerInputs()[place];
      input.value = `${Math.round(within(x + dx, board.size.width))}, ${Math.round(within(y + dy, board.size.height))}`;
      input.removeAttribute("aria-invalid");
    });
    if (isTurned) addText(board, x, y - 20 * board.scale(), place === 0 ? "brown" : String(place + 1), 17);
  });
}

function drawPending(board) {
  const line = pending.points.map((place) => place.join(",")).join(" ");
  board.svg.append(make("polyline", { points: line, class: "under" }), make("polyline", { points: line, class: "shape is-open" }));
  for (const [x, y] of pending.points) board.svg.append(make("circle", { cx: x, cy: y, r: 6 * board.scale(), class: "grip" }));
}

function addText(board, x, y, words, px) {
  const room = (words.length * px * board.scale()) / 3; // half of about how wide the words are
  const text = make("text", { x: Math.min(Math.max(x, room), board.size.width - room), y: Math.max(y, (px * board.scale()) / 2) }, words);
  text.style.fontSize = `${px * board.scale()}px`;
  board.svg.append(text);
}

/* A grip is a dot with a reach of 24 px; where two reaches overlap, the nearer dot is taken. `take` returns what a drag does. */
function addGrip(board, x, y, kind, take) {
  const radius = (kind === "middle" ? 4 : 7) * board.scale();
  if (kind) board.svg.append(make("circle", { cx: x, cy: y, r: radius, class: kind }));
  board.svg.append(make("circle", { cx: x, cy: y, r: REACH_PX * board.scale(), class: "reach" }));
  board.grips.push({ x, y, isPoint: kind !== "middle", take });
}

/* ---- what a drag does ---- */

function grasp(board, input, { photo, points }, place) {
  point = place;
  if (isFixed()) return (dx, dy) => writeBoxCorner(board, input, { photo, points }, place, dx, dy);
  return (dx, dy) => write(board, input, { photo, points: bent(points, place, dx, dy, BEND_PX * board.scale()) });
}

function writeBoxCorner(board, input, { photo, points }, place, dx, dy) {
  const [fixedX, fixedY] = points[(place + 2) % 4];
  const [x, y] = points[place];
  write(board, input, { photo, points: boxPoints(fixedX, fixedY, x + dx, y + dy) });
}

function insert(board, input, { photo, points }, after) {
  const middle = middleOf(points, after);
  const more = points.toSpliced(after + 1, 0, [middle.x, middle.y]);
  return grasp(board, input, { photo, points: more }, after + 1);
}

function write(board, input, { photo, points }) {
  const { width, height } = board.size;
  const inPhoto = points.map(([x, y]) => [within(x, width), within(y, height)]);
  input.value = textOf({ photo, points: inPhoto });
  input.removeAttribute("aria-invalid");
}

/* ---- the pointer ---- */

function placeOf(board, event) {
  const frame = board.svg.getBoundingClientRect();
  return {
    x: ((event.clientX - frame.left) / frame.width) * board.size.width,
    y: ((event.clientY - frame.top) / frame.height) * board.size.height,
  };
}

function nearestGrip(board, { x, y }) {
  const reach = REACH_PX * board.scale();
  const near = board.grips
    .map((grip) => ({ grip, away: Math.hypot(grip.x - x, grip.y - y) + (grip.isPoint ? 0 : reach / 4) }))
    .filter(({ away }) => away <= reach);
  return near.length > 0 ? near.reduce((best, next) => (next.away < best.away ? next : best)).grip : null;
}

function press(board, event) {
  if (event.button !== 0 || !event.isPrimary || board.zoom.isPinching()) return;
  const from = placeOf(board, event);
  if (isDrawing()) return hold(board, event, from, drawing(board, from));
  const grip = nearestGrip(board, from);
  const body = board.bodies.findLast(({ points }) => isInside(points, from));
  if (grip) return hold(board, event, from, { move: grip.take() });
  if (body && (body.input === chosen || event.pointerType === "mouse")) return hold(board, event, from, moving(board, body));
  if (body) return hold(board, event, from, { end: (isTap) => isTap && choose(body.input) }, true);
  if (event.pointerType === "mouse") return hold(board, event, from, drawing(board, from));
  return hold(board, event, from, { end: (isTap) => isTap && choose(null) }, true);
}

/* A finger that comes down on nothing chosen may scroll the page: only a tap counts, and the browser keeps the gesture. */
function hold(board, event, from, act, mayScroll = false) {
  drag = { board, from, at: { x: event.clientX, y: event.clientY }, isTap: true, isOurs: !mayScroll, before: values(), ...act };
  if (mayScroll) return;
  event.preventDefault();
  board.svg.setPointerCapture(event.pointerId); // the shapes are redrawn while they move: the picture keeps the pointer
  if (event.target === board.svg) return;
  drag.held = event.target; // a touch ends where what it came down on is taken away: it stays, unseen, until the end
  drag.held.setAttribute("class", "held");
}

function pull(board, event) {
  if (drag?.board !== board) return;
  if (board.zoom.isPinching()) return letGo();
  if (Math.hypot(event.clientX - drag.at.x, event.clientY - drag.at.y) >= TAP_PX) drag.isTap = false;
  if (drag.isTap && event.pointerType !== "mouse") return; // a finger is never quite still
  const at = placeOf(board, event);
  drag.move?.(at.x - drag.from.x, at.y - drag.from.y);
  draw();
}

function release(board) {
  if (drag?.board !== board) return;
  const { end, isTap, before } = drag;
  drag = null;
  end?.(isTap);
  remember(before);
  draw();
}

/* The gesture became a scroll or a pinch: what it had moved goes back. */
function letGo() {
  if (!drag) return;
  restore(drag.before);
  drag = null;
  draw();
}

function moving(board, body) {
  choose(body.input);
  const { photo } = outlineOf(body.input.value);
  return { move: (dx, dy) => write(board, body.input, { photo, points: shifted(body.points, dx, dy, board.size) }) };
}

/* A drag makes a box; taps, one after another, make an outline that the first point closes. */
function drawing(board, from) {
  let input = null;
  return {
    move: (dx, dy) => {
      if (pending || drag.isTap) return;
      input ??= emptyInput();
      if (input) write(board, input, { photo: board.photo, points: boxPoints(from.x, from.y, from.x + dx, from.y + dy) });
    },
    end: (isTap) => {
      if (isTap) return isDrawing() && !isFixed() ? addPoint(board, from) : choose(null);
      if (pending || !input) return null;
      const { left, top, right, bottom } = sidesOf(outlineOf(input.value)?.points ?? [[0, 0]]);
      if (Math.min(right - left, bottom - top) < TAP_PX * board.scale()) input.value = "";
      setDrawing(false);
      return choose(input.value ? input : null);
    },
  };
}

function addPoint(board, at) {
  if (pending?.board !== board) pending = { board, points: [] };
  const [first] = pending.points;
  const isClosed = first && Math.hypot(first[0] - at.x, first[1] - at.y) < REACH_PX * board.scale();
  if (isClosed && pending.points.length >= 3) closePending();
  else pending.points.push([Math.round(at.x), Math.round(at.y)]);
}

function closePending() {
  const input = pending.points.length >= 3 ? emptyInput() : null;
  if (input) write(pending.board, input, { photo: pending.board.photo, points: pending.points });
  setDrawing(false);
  choose(input);
}

function choose(input) {
  if (input !== chosen) point = null;
  chosen = input;
  draw();
}

/* ---- the buttons below the photo ---- */

const isDrawing = () => tool("draw").getAttribute("aria-pressed") === "true";

function setDrawing(isOn) {
  pending = null;
  for (const { figure } of boards) figure.classList.toggle("drawing", isOn);
  tool("draw").setAttribute("aria-pressed", String(isOn));
}

function tellTools() {
  const { thing } = boards[0];
  const canClose = pending !== null && pending.points.length >= 3;
  tool("draw").textContent = canClose ? "Close the outline" : `Draw a ${thing}`;
  tool("draw").disabled = rows() === null;
  const outline = chosen && outlineOf(chosen.value);
  const canTakeOut = outline && !isFixed();
  const can = { undo: canUndo(), out: canTakeOut, point: canTakeOut && point !== null && outline.points.length > 3 };
  for (const [name, isOn] of Object.entries(can)) if (tool(name)) tool(name).hidden = !isOn;
  tool("closer")?.setAttribute("aria-pressed", String(boards.some(({ zoom }) => zoom.isCloser())));
  help.textContent = wordsOfHelp(thing);
}

function wordsOfHelp(thing) {
  if (pending) return "Tap on round the edge; tap the first point, or the button, to close.";
  if (isDrawing()) return isFixed() ? `Drag over the ${thing}, from one corner to the other.` : `Drag over the ${thing}, or tap round its edge point by point.`;
  if (chosen) return isFixed() ? "Drag the box to move it, its dots to size it." : "Drag a dot to shape the edge, a small dot to add a point, the middle to move it all.";
  return `Tap a ${thing} to shape it. A mouse may draw straight away.`;
}

tools.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  const name = button?.dataset.tool ?? button?.id;
  if (name === "draw" && pending?.points.length >= 3) keeping(closePending);
  else if (name === "draw") setDrawing(!isDrawing());
  else if (name === "undo") undo();
  else if (name === "point") keeping(takeOutPoint);
  else if (name === "out") takeOutOf(chosen);
  else if (name === "closer") boards.forEach((board) => board.zoom.toggle(middleOfChosen(board)));
  draw();
});

function takeOutPoint() {
  const outline = outlineOf(chosen.value);
  write(boardOf(outline.photo), chosen, { ...outline, points: outline.points.toSpliced(point, 1) });
  point = null;
}

function middleOfChosen(board) {
  const body = board.bodies.find(({ input }) => input === chosen);
  if (!body) return null;
  const frame = board.svg.getBoundingClientRect();
  const { left, top, right, bottom } = sidesOf(body.points);
  return { x: frame.left + (left + right) / 2 / board.scale(), y: frame.top + (top + bottom) / 2 / board.scale() };
}

/* ---- the fields ---- */

form.addEventListener("click", (event) => {
  const button = event.target.closest("button.clear");
  if (!button) return;
  takeOutOf(button.closest("li").querySelector("input"));
});

function takeOutOf(input) {
  keeping(() => takeOut(input));
  choose(null);
}

form.addEventListener("focusin", (event) => {
  if (inputs().includes(event.target) && outlineOf(event.target.value)) choose(event.target);
});
form.addEventListener("input", () => {
  placeCorners(boards[0].size);
  draw();
});

/* What was found comes in later, in place of the words that it is being looked for. */
function begin() {
  for (const button of rows()?.querySelectorAll("button.clear") ?? []) button.hidden = false;
  draw();
}
new MutationObserver(begin).observe(form, { childList: true });

tools.hidden = false;
begin();
