// Asks the questions of the forms in place, keeps the lines to copy true to what stands in a form, and finds calculators.
"use strict";

const given = (form) =>
  [...new FormData(form)].filter(([, value]) => value.trim() !== "");

const query = (form) =>
  given(form).map(([name, value]) => `${name}=${encodeURIComponent(value)}`).join("&");

const address = (form) => {
  const asked = query(form);
  return form.getAttribute("action") + form.querySelector("[data-form]").value + (asked ? `?${asked}` : "");
};

const shell = (text) => `'${text.replaceAll("'", "'\\''")}'`;

function lines(form) {
  const line = form.parentElement.querySelector("[data-curl]");
  line.textContent = `curl -g ${shell(location.origin + address(form))}`;
}

function element(name, text, kind) {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  if (kind) made.className = kind;
  return made;
}

async function shown(reply) {
  const media = (reply.headers.get("Content-Type") || "").split(";")[0];
  if (media.startsWith("image/")) {
    const picture = element("img");
    picture.alt = "The answer's picture";
    picture.src = URL.createObjectURL(await reply.blob());
    return picture;
  }
  const text = await reply.text();
  return element("pre", media.endsWith("json") ? JSON.stringify(JSON.parse(text), null, 1) : text);
}

async function ask(form) {
  const place = form.querySelector("output");
  place.hidden = false;
  try {
    const reply = await fetch(address(form));
    const status = element("p", `${reply.status}  ${address(form)}`, reply.ok ? "" : "bad");
    place.replaceChildren(status, await shown(reply));
  } catch {
    place.replaceChildren(element("p", "The service does not answer.", "bad"));
  }
}

for (const form of document.forms) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ask(form);
  });
  form.addEventListener("input", () => lines(form));
  lines(form);
}

for (const origin of document.querySelectorAll("[data-origin]")) origin.textContent = JSON.stringify(location.origin);

document.getElementById("sought").addEventListener("input", (event) => {
  const words = event.target.value.trim().toLowerCase();
  for (const article of document.querySelectorAll("article")) {
    article.hidden = words !== "" && !article.textContent.toLowerCase().includes(words);
  }
});
