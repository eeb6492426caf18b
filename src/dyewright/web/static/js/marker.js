/* Boxes round skeins or in glasses, and corners of the chart, drawn on the photo by mouse, finger or pen. The fields beside the photo
   are the truth: every drag writes them, every change of a field redraws. Without this script the fields still work. */

const SPACE = "http://www.w3.org/2000/svg";
const figure = document.getElementById("marker");
const rows = document.getElementById("skeins");
const corners = document.getElementById("corners");
const form = document.getElementById("marks");
const drawButton = document.getElementById("draw");
const help = document.getElementById("marker-help");
const size = { width: Number(figure.dataset.width), height: Number(figure.dataset.height) };

const svg = make("svg", { viewBox: `0 0 ${size.width} ${size.height}`, preserveAspectRatio: "none", "aria-hidden": "true" });
figure.append(svg);
document.getElementById("marker-tools").hidden = false;

const REACH_PX = 24; // how far from its dot a finger may take it
let drag = null; // what is being dragged: { move(at), end() }
let grips = []; // what can be taken: dots { x, y, moved } and, behind them, boxes { box, moved }
let bodies = [];

function make(name, attributes, text = "") {
  const element = document.createElementNS(SPACE, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text) element.textContent = text;
  return element;
}

const numbersIn = (text) => text.split(",").map((part) => (part.trim() === "" ? NaN : Number(part)));
const within = (value, limit) => Math.min(Math.max(value, 0), limit);
const inputs = () => [...rows.querySelectorAll("input")];
const cornerInputs = () => [...corners.querySelectorAll("input")];
const hasCorners = () => corners !== null && form.elements.chart.value === "corners";
const isFixed = rows.dataset.fixed === "true"; // each row stands for one thing: none is added, none moves up
const thing = figure.dataset.thing ?? "skein";
const scale = () => size.width / figure.clientWidth; // photo pixels a screen pixel

function boxOf(input) {
  const [x, y, width, height] = numbersIn(input.value);
  return [x, y, width, height].every(Number.isFinite) && width > 0 && height > 0 ? { x, y, width, height } : null;
}

function writeBox(input, ax, ay, bx, by) {
  const left = Math.round(within(Math.min(ax, bx), size.width));
  const top = Math.round(within(Math.min(ay, by), size.height));
  const right = Math.round(within(Math.max(ax, bx), size.width));
  const bottom = Math.round(within(Math.max(ay, by), size.height));
  input.value = `${left}, ${top}, ${right - left}, ${bottom - top}`;
  input.removeAttribute("aria-invalid");
  draw();
}

/* ---- drawing what the fields say ---- */

function draw() {
  if (figure.clientWidth === 0) return; // not laid out yet: the observer below calls again
  svg.replaceChildren();
  grips = [];
  bodies = [];
  inputs().forEach((input, place) => {
    const box = boxOf(input);
    if (box) drawBox(input, box, place + 1);
  });
  if (corners) corners.hidden = !hasCorners();
  if (hasCorners()) drawCorners();
}

function drawBox(input, box, number) {
  const shape = { x: box.x, y: box.y, width: box.width, height: box.height };
  svg.append(make("rect", { ...shape, class: "under" }));
  svg.append(make("rect", { ...shape, class: "shape" }));
  bodies.push({
    box,
    moved: (dx, dy) => {
      const x = within(box.x + dx, size.width - box.width);
      const y = within(box.y + dy, size.height - box.height);
      writeBox(input, x, y, x + box.width, y + box.height);
    },
  });
  addText(box.x + box.width / 2, box.y + 16 * scale(), String(number), 22);
  for (const [atRight, atBottom] of [[0, 0], [1, 0], [1, 1], [0, 1]]) {
    const x = box.x + atRight * box.width;
    const y = box.y + atBottom * box.height;
    const fixedX = box.x + (1 - atRight) * box.width;
    const fixedY = box.y + (1 - atBottom) * box.height;
    addGrip(x, y, (dx, dy) => writeBox(input, fixedX, fixedY, x + dx, y + dy));
  }
}

function drawCorners() {
  const points = cornerInputs().map((input) => numbersIn(input.value));
  if (!points.every((point) => point.length === 2 && point.every(Number.isFinite))) return;
  const outline = points.map((point) => point.join(",")).join(" ");
  svg.append(make("polygon", { points: outline, class: "under" }));
  svg.append(make("polygon", { points: outline, class: "shape", "pointer-events": "none" }));
  points.forEach(([x, y], place) => {
    addGrip(x, y, (dx, dy) => {
      const input = cornerInputs()[place];
      input.value = `${Math.round(within(x + dx, size.width))}, ${Math.round(within(y + dy, size.height))}`;
      input.removeAttribute("aria-invalid");
      draw();
    });
    addText(x, y - 20 * scale(), place === 0 ? "brown" : String(place + 1), 17);
  });
}

function addText(x, y, words, px) {
  const text = make("text", { x, y }, words);
  text.style.fontSize = `${px * scale()}px`;
  svg.append(text);
}

/* A grip is a dot of 7 px with a reach of 24 px; where two reaches overlap, the nearer dot is taken. */
function addGrip(x, y, moved) {
  svg.append(make("circle", { cx: x, cy: y, r: 7 * scale(), class: "grip" }));
  svg.append(make("circle", { cx: x, cy: y, r: REACH_PX * scale(), class: "reach" }));
  grips.push({ x, y, moved });
}

/* ---- dragging ---- */

function place(event) {
  const frame = svg.getBoundingClientRect();
  return {
    x: ((event.clientX - frame.left) / frame.width) * size.width,
    y: ((event.clientY - frame.top) / frame.height) * size.height,
  };
}

function graspAt({ x, y }) {
  const reach = REACH_PX * scale();
  const near = grips.map((grip) => ({ grip, away: Math.hypot(grip.x - x, grip.y - y) })).filter(({ away }) => away <= reach);
  if (near.length > 0) return near.reduce((best, next) => (next.away < best.away ? next : best)).grip;
  return bodies.findLast(({ box }) => x >= box.x && x <= box.x + box.width && y >= box.y && y <= box.y + box.height);
}

function take(event, move, end = () => {}) {
  event.preventDefault();
  drag = { move, end };
  svg.setPointerCapture(event.pointerId); // the shapes are redrawn while they move: the picture itself keeps the pointer
}

svg.addEventListener("pointerdown", (event) => {
  if (event.button !== 0) return;
  const isDrawing = figure.classList.contains("drawing");
  const from = place(event);
  const grasp = isDrawing ? undefined : graspAt(from);
  if (grasp) take(event, (at) => grasp.moved(at.x - from.x, at.y - from.y));
  else if (isDrawing || event.pointerType === "mouse") drawNew(event, from);
});

function drawNew(event, from) {
  const input = emptyInput();
  if (!input) return;
  take(
    event,
    (at) => writeBox(input, from.x, from.y, at.x, at.y),
    () => {
      const box = boxOf(input);
      if (!box || box.width < 8 * scale() || box.height < 8 * scale()) input.value = "";
      setDrawing(false);
      draw();
    },
  );
}

svg.addEventListener("pointermove", (event) => drag?.move(place(event)));
for (const kind of ["pointerup", "pointercancel"]) {
  svg.addEventListener(kind, () => {
    drag?.end();
    drag = null;
  });
}

function setDrawing(isOn) {
  figure.classList.toggle("drawing", isOn);
  drawButton.setAttribute("aria-pressed", String(isOn));
  help.textContent = isOn
    ? `Drag over the ${thing}, from one corner to the other.`
    : "Drag a box to move it, its dots to size it. A mouse may draw straight away.";
}
drawButton.addEventListener("click", () => setDrawing(!figure.classList.contains("drawing")));

/* ---- rows ---- */

function emptyInput() {
  return inputs().find((input) => input.value.trim() === "") ?? (isFixed ? null : addRow());
}

function addRow() {
  const number = inputs().length + 1;
  const row = rows.lastElementChild.cloneNode(true);
  const input = row.querySelector("input");
  input.id = input.name = `skein_${number}`;
  input.value = "";
  input.removeAttribute("aria-invalid");
  const label = row.querySelector("label");
  label.htmlFor = input.id;
  label.firstChild.textContent = String(number);
  row.querySelector("button").setAttribute("aria-label", `Take out skein ${number}`);
  rows.append(row);
  return input;
}

/* Take a box out and let the later ones move up, so that numbers stay without a gap. */
rows.addEventListener("click", (event) => {
  const button = event.target.closest("button.clear");
  if (!button) return;
  const all = inputs();
  if (isFixed) button.closest("li").querySelector("input").value = "";
  else for (let i = all.indexOf(button.closest("li").querySelector("input")); i < all.length; i += 1) {
    all[i].value = all[i + 1]?.value ?? "";
  }
  draw();
});

/* Corners that nobody has placed yet begin as a chart in the middle of the photo. */
function placeCorners() {
  if (!hasCorners() || cornerInputs().some((input) => input.value.trim() !== "")) return;
  const places = [[0.3, 0.3], [0.7, 0.3], [0.7, 0.57], [0.3, 0.57]];
  cornerInputs().forEach((input, i) => {
    input.value = `${Math.round(places[i][0] * size.width)}, ${Math.round(places[i][1] * size.height)}`;
  });
}

for (const button of rows.querySelectorAll("button.clear")) button.hidden = false;
form.addEventListener("input", () => {
  placeCorners();
  draw();
});
new ResizeObserver(draw).observe(figure);
draw();
