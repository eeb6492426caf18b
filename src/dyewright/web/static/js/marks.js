/* The fields of a page for marking: one row an outline, four corners of a chart, and what they were before. */

const MOST_UNDONE = 50;

const form = document.getElementById("marks");
const undone = []; // the fields as they were, latest last

export const rows = () => document.getElementById("skeins");
export const corners = () => document.getElementById("corners");
export const inputs = () => [...(rows()?.querySelectorAll("input") ?? [])];
export const cornerInputs = () => [...(corners()?.querySelectorAll("input") ?? [])];
/** Whether each row stands for one thing, which is a box: none is added, none moves up. */
export const isFixed = () => rows()?.dataset.fixed === "true";
export const usesCorners = () => corners() !== null && !["none", "auto", "ground"].includes(form.elements.chart?.value);

/* ---- rows ---- */

export function emptyInput() {
  return inputs().find((input) => input.value.trim() === "") ?? (isFixed() ? null : addRow());
}

function addRow() {
  const number = inputs().length + 1;
  const row = rows().lastElementChild.cloneNode(true);
  const input = row.querySelector("input");
  input.id = input.name = `skein_${number}`;
  input.value = "";
  input.removeAttribute("aria-invalid");
  const label = row.querySelector("label");
  label.htmlFor = input.id;
  label.firstChild.textContent = String(number);
  row.querySelector("button").setAttribute("aria-label", `Take out skein ${number}`);
  rows().append(row);
  return input;
}

/** Take an outline out and let the later ones move up, so that numbers stay without a gap. */
export function takeOut(own) {
  const all = inputs();
  if (isFixed()) own.value = "";
  else for (let i = all.indexOf(own); i < all.length; i += 1) all[i].value = all[i + 1]?.value ?? "";
}

/** Corners that nobody has placed yet begin in the middle of the photo. */
export function placeCorners({ width, height }) {
  if (!usesCorners() || cornerInputs().some((input) => input.value.trim() !== "")) return;
  const places = [[0.3, 0.3], [0.7, 0.3], [0.7, 0.57], [0.3, 0.57]];
  cornerInputs().forEach((input, i) => {
    input.value = `${Math.round(places[i][0] * width)}, ${Math.round(places[i][1] * height)}`;
  });
}

/* ---- undo ---- */

export const values = () => [...inputs(), ...cornerInputs()].map((input) => [input.name, input.value]);
export const canUndo = () => undone.length > 0;

/** Remember the fields as they were before something was done, where it changed any. */
export function remember(before) {
  if (JSON.stringify(before) === JSON.stringify(values())) return;
  undone.push(before);
  if (undone.length > MOST_UNDONE) undone.shift();
}

export function keeping(act) {
  const before = values();
  act();
  remember(before);
}

export const undo = () => restore(undone.pop());

export function restore(before) {
  const was = new Map(before);
  for (const input of [...inputs(), ...cornerInputs()]) input.value = was.get(input.name) ?? "";
}

/* ---- sending ---- */

/* Judging takes a second or two: the button says so, and is not pressed twice. */
form.addEventListener("submit", () => {
  const button = form.querySelector("button.main");
  if (!form.dataset.busy) return;
  const words = button.textContent;
  setTimeout(() => {
    button.disabled = true;
    button.textContent = form.dataset.busy;
  });
  addEventListener("pageshow", () => {
    button.disabled = false;
    button.textContent = words;
  }, { once: true });
});
