/* Photos chosen to be judged: shown at once, dropped anywhere on the page, sent one by one with their progress.
   A photo that could not be sent stays chosen, and only it is sent again. Without this script the form sends them all. */

import { freshId } from "./queue.js";

const form = document.querySelector("[data-photos]");
const input = form.querySelector("input[type=file]");
const list = form.querySelector("[data-chosen]");
const how = form.querySelector("[data-how]");
const said = form.querySelector("[data-progress]");
const wrong = form.querySelector("[data-wrong]");
const button = form.querySelector("button.main");
const drop = form.querySelector(".drop");

let chosen = []; // { file, id, isSent, item }
const later = "Look at the photo";

/* ---- choosing ---- */

function choose(files) {
  chosen = [...files].map((file) => ({ file, id: freshId(), isSent: false, item: itemOf(file) }));
  list.replaceChildren(...chosen.map(({ item }) => item.element));
  how.hidden = chosen.length < 2;
  button.textContent = wordsOfButton();
  wrong.replaceChildren();
  say("");
}

const wordsOfButton = () =>
  chosen.length < 2 ? later : isTogether() ? `Look at the ${chosen.length} photos` : `Judge ${chosen.length} photos`;
const isTogether = () => form.elements.how.value === "together";

function itemOf(file) {
  const element = document.createElement("li");
  const picture = document.createElement("img");
  picture.alt = "";
  picture.decoding = "async";
  picture.src = URL.createObjectURL(file);
  picture.addEventListener("load", () => URL.revokeObjectURL(picture.src));
  picture.addEventListener("error", () => picture.remove()); // HEIC and raw: the studio reads what the browser cannot
  const name = document.createElement("span");
  name.className = "name";
  name.textContent = file.name;
  element.append(picture, name);
  return { element, say: (words) => (name.textContent = words ? `${file.name}: ${words}` : file.name) };
}

input.addEventListener("change", () => choose(input.files));
how.addEventListener("change", () => (button.textContent = wordsOfButton()));

for (const kind of ["dragover", "dragleave", "drop"]) {
  document.addEventListener(kind, (event) => {
    if (!event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    drop.classList.toggle("is-over", kind === "dragover");
    if (kind !== "drop" || event.dataTransfer.files.length === 0) return;
    input.files = event.dataTransfer.files;
    choose(input.files);
    button.focus();
  });
}

/* ---- sending ---- */

class Refused extends Error {}

/* Send one photo ahead of the form; its identifier is ours, so that sending it twice keeps it once. */
function send(one, progress) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest(); // fetch tells no progress of what it sends
    const body = new FormData();
    body.append("photo", one.file, one.file.name);
    body.append("sent_as", one.id);
    request.open("POST", form.dataset.ahead);
    request.setRequestHeader("Accept", "application/json");
    request.upload.addEventListener("progress", (event) => event.lengthComputable && progress(event.loaded / event.total));
    request.addEventListener("load", () => (request.status === 200 ? resolve() : reject(new Refused(sentenceOf(request)))));
    request.addEventListener("error", () => reject(new Error("out of reach")));
    request.send(body);
  });
}

function sentenceOf(request) {
  try {
    return JSON.parse(request.responseText).message;
  } catch {
    return request.responseText;
  }
}

async function sendAll() {
  for (const [place, one] of chosen.entries()) {
    if (one.isSent) continue;
    say(chosen.length > 1 ? `Sending photo ${place + 1} of ${chosen.length} …` : "Sending the photo …");
    try {
      await send(one, (share) => one.item.say(share < 1 ? `${Math.round(100 * share)} %` : "being looked at"));
    } catch (error) {
      one.item.say("not sent");
      throw error;
    }
    one.isSent = true;
    one.item.say("kept");
  }
}

async function ask() {
  const body = new URLSearchParams({ kept: chosen.map(({ id }) => id).join(" "), how: form.elements.how.value, at_once: "yes" });
  const answer = await fetch(form.action, { method: "POST", body });
  if (!answer.ok) throw new Refused("The photos are kept, but the studio could not go on with them. Send again.");
  const { page } = await answer.json();
  location.assign(page);
}

form.addEventListener("submit", async (event) => {
  if (chosen.length === 0) return; // the studio says what is missing
  event.preventDefault();
  button.disabled = true;
  wrong.replaceChildren();
  try {
    await sendAll();
    say(chosen.length > 1 ? "All are sent." : "It is sent.");
    await ask();
  } catch (error) {
    refuse(error);
  }
  button.disabled = false;
});

function refuse(error) {
  const isSentence = error instanceof Refused;
  const sentence = document.createElement("p");
  sentence.className = "wrong";
  sentence.setAttribute("role", "alert");
  sentence.textContent = isSentence
    ? error.message.charAt(0).toUpperCase() + error.message.slice(1)
    : "The studio cannot be reached. What you chose is still chosen: send again when you are back in its network.";
  wrong.replaceChildren(sentence);
  say("");
  button.textContent = isSentence ? wordsOfButton() : "Send again";
}

function say(words) {
  said.textContent = words;
  said.hidden = words === "";
}

how.hidden = true;
if (input.files.length > 0) choose(input.files); // a page that was come back to may hold some
