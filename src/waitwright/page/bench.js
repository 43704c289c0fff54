// What the page does better with a script; all of it works without.
"use strict";

const body = document.body;
let touched = false;
let source = null;

// ---------------------------------------------------------------- news from other windows
function overtaken() {
  const news = document.getElementById("news");
  if (touched && news) news.hidden = false;
  else location.reload();
}

function listen() {
  if (!body.dataset.stamp) return;
  source = new EventSource("/live" + (body.dataset.job ? "?job=" + body.dataset.job : ""));
  source.addEventListener("stamp", (event) => {
    if (JSON.parse(event.data) !== body.dataset.stamp) {
      deaf();
      overtaken();
    }
  });
  source.addEventListener("progress", (event) => {
    const { done, of } = JSON.parse(event.data);
    const bar = document.getElementById("progress");
    if (!bar || !of) return;
    bar.max = of;
    bar.value = done;
    document.getElementById("progress-shown").textContent = done + " of " + of;
  });
  source.addEventListener("ready", () => {
    deaf();
    location.reload();
  });
}

function deaf() {
  if (source) source.close();
}
window.addEventListener("pagehide", deaf);

// ---------------------------------------------------------------- ticks survive a locked phone
function keepTicks(list) {
  const key = "ticks-" + body.dataset.stamp + "-" + list.dataset.ticks;
  const boxes = [...list.querySelectorAll("input[type=checkbox]")];
  const kept = (sessionStorage.getItem(key) || "").split(",");
  boxes.forEach((box, place) => {
    box.checked = kept.includes(String(place));
    box.addEventListener("change", () => {
      const done = boxes.map((one, at) => (one.checked ? at : -1)).filter((at) => at >= 0);
      sessionStorage.setItem(key, done.join(","));
    });
  });
}

// ---------------------------------------------------------------- answers without a new page
function answerLive(form) {
  let asked = 0;
  async function ask() {
    const mine = ++asked;
    const query = new URLSearchParams(new FormData(form));
    const address = form.getAttribute("action") + "?" + query;
    form.setAttribute("aria-busy", "true");
    try {
      const reply = await fetch(address + "&wait=1");
      const fresh = new DOMParser().parseFromString(await reply.text(), "text/html");
      if (mine !== asked) return;
      const answer = fresh.getElementById(form.dataset.live);
      if (!answer) throw new Error("no answer");
      document.getElementById(form.dataset.live).replaceWith(answer);
      document.getElementById("gist").replaceChildren(...fresh.getElementById("gist").childNodes);
      form.querySelectorAll(".knob").forEach((knob, at) => {
        knob.className = fresh.querySelectorAll(".knob")[at].className;
      });
      history.replaceState(null, "", address);
    } catch {
      if (mine === asked) location.assign(address); // the server says in full what is wrong
    } finally {
      if (mine === asked) form.removeAttribute("aria-busy");
    }
  }
  let later;
  form.addEventListener("change", () => {
    clearTimeout(later);
    later = setTimeout(ask, 150);
  });
}

// ---------------------------------------------------------------- a slider that says where it stands
function showValue(slider) {
  const shown = document.getElementById(slider.dataset.shows);
  slider.addEventListener("input", () => {
    shown.textContent = slider.value + " %";
  });
}

// ---------------------------------------------------------------- forms: nothing half typed is lost, nothing sent twice
document.addEventListener("input", (event) => {
  if (event.target.closest("form[data-guarded]")) touched = true;
});
document.addEventListener("submit", (event) => {
  if (event.target.method !== "post") return;
  deaf(); // what we send ourselves is no news, and must not be cut short by it
  event.target.querySelectorAll("button").forEach((button) => setTimeout(() => (button.disabled = true)));
});
window.addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload();
});
document.querySelectorAll("[data-ticks]").forEach(keepTicks);
document.querySelectorAll("form[data-live]").forEach(answerLive);
document.querySelectorAll("[data-shows]").forEach(showValue);
listen();
