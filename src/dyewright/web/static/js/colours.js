// Sliders ask the studio for the colours that the mix would take; the parts that come back replace their namesakes.
// Without this script the page's fields and its button do the same by a round trip.

const QUIET_MS = 40;

function partsOf(html) {
  return new DOMParser().parseFromString(html, "text/html").querySelectorAll("[data-part]");
}

function put(parts) {
  for (const part of parts) {
    const there = document.querySelector(`[data-part="${part.dataset.part}"]`);
    if (!there) continue;
    if (part.classList.contains("track")) there.style.background = part.style.background;
    else there.replaceWith(part);
  }
}

function watchMix(form) {
  let waiting = 0;
  let asking = null;
  const ask = async () => {
    asking?.abort();
    asking = new AbortController();
    const fields = new URLSearchParams(new FormData(form));
    try {
      const answer = await fetch(`${form.dataset.mixture}?${fields}`, {
        headers: { "HX-Request": "true" },
        signal: asking.signal,
      });
      if (answer.ok) put(partsOf(await answer.text()));
    } catch (error) {
      if (error.name !== "AbortError") throw error;
    }
  };
  const soon = () => {
    clearTimeout(waiting);
    waiting = setTimeout(ask, QUIET_MS);
  };
  for (const slider of form.querySelectorAll("[data-slider]")) {
    const range = slider.querySelector("input[type=range]");
    const number = slider.querySelector("input[inputmode]");
    range.hidden = false;
    range.value = number.value.replace(",", ".");
    range.addEventListener("input", () => {
      number.value = String(Number(Number(range.value).toPrecision(3)));
      soon();
    });
    number.addEventListener("input", () => {
      range.value = number.value.replace(",", ".");
      soon();
    });
  }
  for (const field of form.querySelectorAll("[data-asks]")) field.addEventListener("input", soon);
}

function watchPicker(form) {
  const picker = form.querySelector("input[type=color]");
  const target = form.querySelector("[name=target]");
  const field = form.querySelector("[data-picked]");
  form.querySelector("[name=use]").hidden = true; // the picker writes into the field itself
  picker.addEventListener("input", () => {
    target.value = picker.value;
    field.style.background = picker.value;
  });
  target.addEventListener("input", () => {
    if (/^#[0-9a-f]{6}$/i.test(target.value.trim())) {
      picker.value = target.value.trim();
      field.style.background = picker.value;
    }
  });
}

const mix = document.querySelector("[data-mixture]");
if (mix) watchMix(mix);
const choose = document.querySelector("[data-choose]");
if (choose) watchPicker(choose);
