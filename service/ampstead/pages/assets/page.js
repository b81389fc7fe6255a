"use strict";
(() => {
  const form = document.getElementById("form");
  const search = document.getElementById("search");
  const keeper = navigator.serviceWorker; // over HTTPS, or on the same machine, and nowhere else

  if (keeper && isSecureContext) {
    const first = !keeper.controller;
    keeper.register(new URL("../sw.js", document.currentScript.src)).catch(() => {});
    if (first) keeper.ready.then((ready) => {
      const parts = [...document.querySelectorAll("link[href], script[src], img[src]")].map((each) => each.href || each.src);
      ready.active.postMessage([location.href.split("#")[0], ...parts]);
    });
  }

  if (search) {
    const found = document.getElementById("found");
    const entries = [...document.querySelectorAll(".moments li")];
    search.parentElement.hidden = false;
    search.addEventListener("input", () => {
      const words = search.value.toLowerCase().split(/\s+/).filter(Boolean);
      let count = 0;
      for (const entry of entries) {
        const said = (entry.textContent + " " + entry.querySelector("a").pathname).toLowerCase();
        entry.hidden = !words.every((word) => said.includes(word));
        if (!entry.hidden) count += 1;
      }
      for (const section of document.querySelectorAll(".moments section")) {
        section.hidden = !section.querySelector("li:not([hidden])");
      }
      found.textContent = words.length ? `${count} of ${entries.length} questions` : "";
    });
    search.addEventListener("keydown", (event) => {
      const first = document.querySelector(".moments li:not([hidden]) a");
      if (event.key === "Enter" && search.value.trim() && first) first.click();
    });
  }

  if (!form) return;
  const main = document.getElementById("main");
  const BUSY = 1000; // milliseconds after which a busy service is asked again
  let waiting = 0;
  let asked = 0;

  // The box of an input, whether its unit stands beside it or in its name.
  const base = (name) => name.split(":")[0];
  const boxed = (name) => [...form.elements].find((each) => each.name && base(each.name) === base(name));

  // What of a form differs in the new page: hints, errors, rows that have come. Boxes keep what is being typed.
  const FIELD = ".field, .short";
  const refreshed = (fresh) => {
    for (const id of ["said", "rest"]) {
      const old = document.getElementById(id);
      const came = fresh.getElementById(id);
      if (id === "rest") {
        const open = [...old.querySelectorAll("details[open] > summary")].map((each) => each.textContent);
        for (const each of came.querySelectorAll("details")) {
          each.open = open.includes(each.querySelector("summary").textContent);
        }
      }
      if (old.innerHTML !== came.innerHTML) old.replaceChildren(...came.childNodes);
    }
    for (const came of fresh.querySelectorAll(`#form :is(${FIELD})`)) {
      const old = boxed(came.querySelector("input, select").name)?.closest(FIELD);
      if (!old) continue;
      if (old.classList.contains("short") !== came.classList.contains("short")) {
        if (!old.contains(document.activeElement)) old.replaceWith(came);
        continue;
      }
      old.className = came.className;
      old.id = came.id;
      const here = old.querySelector("fieldset") || old;
      const there = came.querySelector("fieldset") || came;
      if (old.querySelectorAll("input").length !== came.querySelectorAll("input").length && !old.contains(document.activeElement)) {
        old.replaceWith(came);
        continue;
      }
      for (const note of here.querySelectorAll(":scope > .error, :scope > .hint")) note.remove();
      here.append(...there.querySelectorAll(":scope > .error, :scope > .hint"));
      for (const box of came.querySelectorAll("input, select")) {
        const mine = form.elements.namedItem(box.name);
        if (!mine) continue;
        for (const name of ["aria-invalid", "aria-describedby"]) {
          if (box.hasAttribute(name)) mine.setAttribute(name, box.getAttribute(name));
          else mine.removeAttribute(name);
        }
      }
    }
    for (const row of fresh.querySelectorAll("#form .row")) {
      const mine = document.getElementById(row.id);
      if (!mine) document.getElementById(row.parentElement.id)?.append(row);
      else if (mine.querySelectorAll(FIELD).length < row.querySelectorAll(FIELD).length && !mine.contains(document.activeElement)) mine.replaceWith(row);
    }
  };

  const UNREACHED = "The service cannot be reached now; the answer is not known.";
  const UNANSWERED = "The service cannot answer this now; the answer is not known.";
  // The old answer goes, since it is of another question; what is said instead is read at full strength.
  const failed = (words) => {
    document.getElementById("said").textContent = words;
    document.getElementById("rest").replaceChildren();
    main.classList.remove("stale");
  };

  const answer = async () => {
    const mine = ++asked;
    const told = new URLSearchParams();
    for (const [name, value] of new FormData(form)) if (value.trim() && !name.endsWith(":unit")) told.append(name, value);
    for (const [name, value] of new FormData(form)) {
      if (name.endsWith(":unit") && [...told.keys()].some((each) => base(each) === name.slice(0, -5))) told.append(name, value);
    }
    const address = `${form.getAttribute("action")}?${told}`;
    try {
      const reply = await fetch(address, { headers: { Accept: "text/html", "X-Page-Part": "1" } });
      const text = await reply.text();
      if (mine !== asked) return;
      if (reply.status === 503) {
        waiting = setTimeout(answer, BUSY);
        return;
      }
      const fresh = new DOMParser().parseFromString(text, "text/html");
      if (!reply.ok) return failed(fresh.getElementById("said")?.textContent.trim() || UNANSWERED);
      refreshed(fresh);
      const seen = new URL(reply.url);
      history.replaceState(null, "", seen.pathname + seen.search);
      main.classList.remove("stale");
    } catch (fault) {
      if (mine === asked) failed(fault instanceof TypeError ? UNREACHED : UNANSWERED);
    }
  };

  const changed = (event) => {
    if (event.target.name.endsWith(":unit") && event.type === "input") return;
    main.classList.add("stale");
    clearTimeout(waiting);
    waiting = setTimeout(answer, 250);
  };
  form.addEventListener("input", changed);
  form.addEventListener("change", changed);
  form.addEventListener("submit", (event) => {
    if (event.submitter?.name === ":as") return;
    event.preventDefault();
    clearTimeout(waiting);
    main.classList.add("stale");
    answer();
  });
})();
