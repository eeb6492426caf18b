// Picks are dragged over the picture, by mouse, finger, pen or arrow keys, under a loupe. The fields with the places are
// the truth: a drag writes them, and the studio answers with the parts of the page that change. Without this script the
// fields and a small picture to click on do the same by a round trip.

const QUIET_MS = 60;
const REST_MS = 300;
const LOUPE = 4; // how many times the loupe enlarges
const STEP = 0.5; // per cent of the picture that an arrow key moves a pick; ten times that with Shift

const within = (value, limit) => Math.min(Math.max(value, 0), limit);

function watchPicture(form) {
  const figure = form.querySelector(".picture");
  const image = figure.querySelector("img");
  const loupe = document.createElement("div");
  loupe.className = "loupe";
  loupe.hidden = true;
  loupe.setAttribute("aria-hidden", "true");
  loupe.style.backgroundImage = `url("${image.src}")`;
  figure.append(loupe);

  const fieldOf = (number) => form.elements[`pick.${number}`];
  const placeOf = (number) => fieldOf(number).value.split(",").map(Number);
  const picks = () => [...figure.querySelectorAll("[data-pick]")];

  /* ---- asking the studio ---- */

  let waiting = 0;
  let asking = null;
  const ask = async () => {
    clearTimeout(waiting);
    waiting = 0;
    asking?.abort();
    asking = new AbortController();
    const fields = new URLSearchParams(new FormData(form));
    const address = `${form.action}?${fields}`;
    try {
      const answer = await fetch(address, { headers: { "HX-Request": "true" }, signal: asking.signal });
      if (!answer.ok && answer.status !== 422) return;
      put(new DOMParser().parseFromString(await answer.text(), "text/html"));
      history.replaceState(null, "", address);
    } catch (error) {
      if (error.name !== "AbortError") throw error;
    }
  };
  // While a pick moves, the studio is asked again and again, but never faster than it is worth.
  // A palette in harmony is worked out as a whole, which takes longer: then it is asked once the pick rests.
  const soon = () => {
    if (form.elements.fit?.value === "harmony") {
      clearTimeout(waiting);
      waiting = setTimeout(ask, REST_MS);
    } else if (!waiting) {
      waiting = setTimeout(ask, QUIET_MS);
    }
  };

  function put(answer) {
    const before = picks().length;
    const counted = answer.querySelectorAll('[data-part="places"] input').length;
    for (const part of answer.querySelectorAll("[data-part]")) {
      const there = form.querySelector(`[data-part="${part.dataset.part}"]`);
      const holdsFocus = there.contains(document.activeElement);
      const isMoving = part.dataset.part === "places" && figure.contains(document.activeElement);
      const isTyping = part.dataset.part === "names" && holdsFocus;
      if (counted === before && (isMoving || isTyping)) continue;
      const focused = holdsFocus ? document.activeElement : null;
      there.replaceWith(part);
      if (focused) refocus(part, focused);
    }
    if (counted !== before) makePicks(counted);
    name();
  }

  // The part that came in holds the same control: it takes the focus over.
  function refocus(part, focused) {
    const same = focused.id
      ? part.querySelector(`#${CSS.escape(focused.id)}`)
      : part.querySelector(`[name="${focused.name}"][value="${focused.value}"]`);
    same?.focus({ preventScroll: true });
  }

  /* ---- picks ---- */

  function makePicks(count) {
    for (const pick of picks()) pick.remove();
    for (let number = 1; number <= count; number += 1) {
      const pick = document.createElement("button");
      pick.type = "button";
      pick.className = "pick-at";
      pick.dataset.pick = String(number);
      pick.innerHTML = '<span class="pick-number"></span>';
      pick.firstChild.textContent = String(number);
      pick.setAttribute("aria-describedby", "pick-help");
      figure.insertBefore(pick, loupe);
      watchPick(pick, number);
      show(pick, ...placeOf(number));
    }
  }

  function show(pick, x, y) {
    pick.style.left = `${x}%`;
    pick.style.top = `${y}%`;
    pick.classList.toggle("is-left", x > 90);
    pick.classList.toggle("is-low", y < 8);
  }

  function name() {
    for (const pick of picks()) {
      const [x, y] = placeOf(pick.dataset.pick);
      const words = form.querySelector(`[data-part="names"] label[for="name.${pick.dataset.pick}"]`).textContent;
      pick.setAttribute("aria-label", `${words}, at ${Math.round(x)} % across and ${Math.round(y)} % down`);
    }
  }

  function move(pick, number, x, y) {
    const [left, top] = [within(x, 100), within(y, 100)];
    fieldOf(number).value = `${left.toFixed(1)}, ${top.toFixed(1)}`;
    show(pick, left, top);
    magnify(left, top);
    soon();
  }

  function magnify(x, y) {
    const { clientWidth: width, clientHeight: height } = figure;
    const [left, top] = [(x / 100) * width, (y / 100) * height];
    const above = top > 170;
    loupe.hidden = false;
    loupe.style.left = `${within(left, width)}px`;
    loupe.style.top = `${above ? top - 104 : top + 104}px`;
    loupe.style.backgroundSize = `${width * LOUPE}px ${height * LOUPE}px`;
    loupe.style.backgroundPosition = `${63 - left * LOUPE}px ${63 - top * LOUPE}px`;
    const disc = (2 * Number(figure.dataset.disc) * Number(figure.dataset.side) * width * LOUPE) / 100;
    loupe.style.setProperty("--disc", `${disc}px`);
  }

  function watchPick(pick, number) {
    let from = null; // where in the pick it was taken, so that it does not jump under the finger
    pick.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      event.preventDefault();
      pick.focus({ preventScroll: true });
      pick.setPointerCapture(event.pointerId);
      const [x, y] = placeOf(number);
      const frame = figure.getBoundingClientRect();
      from = { x: event.clientX - (x / 100) * frame.width, y: event.clientY - (y / 100) * frame.height };
      magnify(x, y);
    });
    pick.addEventListener("pointermove", (event) => {
      if (!from) return;
      const frame = figure.getBoundingClientRect();
      move(pick, number, (100 * (event.clientX - from.x)) / frame.width, (100 * (event.clientY - from.y)) / frame.height);
    });
    for (const kind of ["pointerup", "pointercancel"]) {
      pick.addEventListener(kind, () => {
        from = null;
        loupe.hidden = true;
      });
    }
    pick.addEventListener("keydown", (event) => {
      const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
      const way = ways[event.key];
      if (!way) return;
      event.preventDefault();
      const [x, y] = placeOf(number);
      const step = event.shiftKey ? 10 * STEP : STEP;
      move(pick, number, x + way[0] * step, y + way[1] * step);
    });
    pick.addEventListener("blur", () => {
      loupe.hidden = true;
    });
  }

  /* ---- the other fields ---- */

  form.addEventListener("change", (event) => {
    if (!event.target.name || event.target.name === "name" || event.target.name.startsWith("name.")) return;
    if (event.target.name.startsWith("pick.")) {
      const [x, y] = event.target.value.split(",").map(Number);
      const number = event.target.name.slice("pick.".length);
      if (Number.isFinite(x) && Number.isFinite(y)) show(picks()[number - 1], x, y);
    }
    ask();
  });

  makePicks(picks().length);
  name();
  form.querySelector("[data-pick-help]").hidden = false;
  form.querySelector("[data-plain]").hidden = true;
}

/* A picture may also be dropped onto the form that takes it in. */
function watchDrop(form) {
  const input = form.querySelector("input[type=file]");
  const place = form.querySelector(".drop");
  const stop = (event, isOver) => {
    event.preventDefault();
    place.classList.toggle("is-over", isOver);
  };
  form.addEventListener("dragover", (event) => stop(event, true));
  form.addEventListener("dragleave", (event) => stop(event, false));
  form.addEventListener("drop", (event) => {
    stop(event, false);
    if (event.dataTransfer.files.length === 0) return;
    input.files = event.dataTransfer.files;
    form.requestSubmit();
  });
}

const page = document.querySelector("[data-picture]");
if (page) watchPicture(page);
const drop = document.querySelector("[data-drop]");
if (drop) watchDrop(drop);
