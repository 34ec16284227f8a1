// The page works without this file. It spares the reload after a tap, opens "More" in place, and adds single keys.
const root = document.documentElement;
root.classList.add("scripted");
const said = document.getElementById("said");
const sheet = document.getElementById("sheet");
const SWITCH = "nightround-keys";

function say(words, loud) {
  said.textContent = words;
  said.classList.toggle("loud", Boolean(loud));
  if (loud) setTimeout(() => said.classList.remove("loud"), 8000);
}

// Every element of the answer that has an id takes the place of the one on the page.
function put(html) {
  const part = new DOMParser().parseFromString(html, "text/html");
  for (const fresh of part.body.querySelectorAll(":scope > [id]")) {
    if (fresh.id === "said") { say(fresh.textContent); continue; }
    document.getElementById(fresh.id)?.replaceWith(document.adoptNode(fresh));
  }
}

async function ask(address, options = {}) {
  const answer = await fetch(address, { ...options, headers: { "X-Nightround": "part" }, credentials: "same-origin" });
  const html = await answer.text();
  if (!answer.ok) {
    const told = new DOMParser().parseFromString(html, "text/html");
    throw new Error(told.querySelector("#refusal")?.textContent.trim() || html.slice(0, 200));
  }
  return html;
}

async function tap(button) {
  const form = button.form;
  const card = button.closest(".card");
  if (!card || card.classList.contains("busy")) return;
  const data = new URLSearchParams(new FormData(form, button));
  if (card.dataset.formKey) data.set("key", card.dataset.formKey);
  card.classList.add("busy");
  const id = card.id;
  try {
    put(await ask(form.action, { method: "POST", body: data }));
    const fresh = document.getElementById(id);
    mark(fresh);
    fresh?.focus({ preventScroll: true });
  } catch (fault) {
    card.classList.remove("busy");
    // The same key goes out again, so a tap that did arrive is not written twice.
    const away = fault instanceof TypeError;
    say(away ? "Not written: the room is out of reach. Tap again." : `Not written. ${fault.message}`, true);
  }
}

async function openSheet(link) {
  const address = new URL(link.href);
  address.searchParams.set("back", location.pathname + location.search);
  try {
    sheet.innerHTML = await ask(address);
    sheet.showModal();
    if (address.hash) sheet.querySelector(address.hash)?.setAttribute("open", "");
  } catch {
    location.href = link.href;
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (button && (button.form?.id === "round" || (button.form?.id === "undo" && button.closest(".card")))) {
    event.preventDefault();
    tap(button);
    return;
  }
  const link = event.target.closest("a.button[href*='/write/']");
  if (link && link.closest(".card") && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
    event.preventDefault();
    openSheet(link);
  }
});

// What takes some seconds to work out comes after the rest of the page.
const later = document.querySelector("[data-later]");
if (later) ask(later.dataset.later).then(put).catch(() => {});

// A form outside the round is sent once, however often it is pressed.
document.addEventListener("submit", (event) => {
  if (event.defaultPrevented || event.target.method !== "post") return;
  if (event.target.dataset.sent) { event.preventDefault(); return; }
  event.target.dataset.sent = "yes";
});
addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
});

// ---- single keys ----
let here = null;

function cards() {
  return [...document.querySelectorAll(".card")];
}

function mark(card) {
  here?.classList.remove("here");
  here = card;
}

function go(step) {
  const all = cards();
  if (!all.length) return;
  const from = all.indexOf(document.activeElement?.closest(".card") ?? here);
  const to = all[Math.min(all.length - 1, Math.max(0, from + step))];
  mark(to);
  to.classList.add("here");
  to.focus({ preventScroll: true });
  to.scrollIntoView({ block: "nearest" });
}

function keysOn() {
  try { return localStorage.getItem(SWITCH) !== "off"; } catch { return true; }
}

function press(key) {
  if (key === "j") return go(1);
  if (key === "k") return go(-1);
  if (key === "?") { location.href = "/keys"; return true; }
  if (key === "/") {
    const box = document.querySelector("[data-key='/']");
    if (box) box.focus(); else location.href = "/animals#q";
    return true;
  }
  const card = document.activeElement?.closest(".card") ?? here;
  const target = card?.isConnected && card.querySelector(`[data-key="${CSS.escape(key)}"]`);
  if (!target) return false;
  target.click();
  return true;
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing || sheet.open || !keysOn()) return;
  if (event.target.closest("input, select, textarea, [contenteditable]")) return;
  if (event.key.length === 1 && press(event.key) !== false) event.preventDefault();
});

const keysSwitch = document.getElementById("keys-switch");
if (keysSwitch) {
  const show = () => {
    keysSwitch.setAttribute("aria-pressed", String(keysOn()));
    keysSwitch.textContent = keysOn() ? "Single keys are on" : "Single keys are off";
  };
  keysSwitch.addEventListener("click", () => {
    localStorage.setItem(SWITCH, keysOn() ? "off" : "on");
    show();
  });
  show();
}
if (location.hash === "#q") document.getElementById("q")?.focus();
