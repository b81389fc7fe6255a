"use strict";
// The list of packs: answered without leaving the page, and kept in this browser where its tick is set.
(() => {
  const KEPT = "ampstead.packs";
  const part = (id) => document.getElementById(id);
  const [form, file, text, tick, note] = ["list", "file", "text", "keep", "kept"].map(part);
  const said = note.querySelector("p");

  const kept = () => {
    try {
      return JSON.parse(localStorage.getItem(KEPT));
    } catch {
      return null;
    }
  };
  const shown = () => {
    const list = kept();
    note.hidden = !list;
    tick.checked = Boolean(list);
    if (list) said.textContent = `${list.name || "A pasted list"} is kept in this browser since ${list.when}.`;
  };
  const told = (words) => {
    const line = document.createElement("p");
    line.className = "waiting";
    line.textContent = words;
    part("said").replaceChildren(line);
    part("rest").replaceChildren();
  };
  const forgotten = () => {
    try {
      localStorage.removeItem(KEPT);
    } catch {
      // Where nothing may be kept there is nothing to forget.
    }
    shown();
  };

  const answered = async (body) => {
    const main = part("main");
    main.classList.add("stale");
    try {
      const reply = await fetch(form.action, { method: "POST", body, headers: { Accept: "text/html", "X-Page-Part": "1" } });
      const came = new DOMParser().parseFromString(await reply.text(), "text/html");
      if (!reply.ok) {
        told(came.getElementById("said")?.textContent.trim() || "The service could not answer this list.");
        return;
      }
      for (const id of ["said", "rest"]) part(id).replaceChildren(...came.getElementById(id).childNodes);
    } catch {
      told("The service cannot be reached now; the answer is not known.");
    } finally {
      main.classList.remove("stale");
      part("said").focus({ preventScroll: true });
      part("answer").scrollIntoView({ block: "start" });
    }
  };

  const keeping = async () => {
    const chosen = file.files[0];
    const whole = chosen ? await chosen.text() : text.value;
    if (!whole.trim()) return;
    const when = new Date().toLocaleDateString("en-GB", { dateStyle: "long" });
    try {
      localStorage.setItem(KEPT, JSON.stringify({ name: chosen ? chosen.name : "", text: whole, when }));
    } catch {
      tick.checked = false;
      said.textContent = "This browser keeps nothing here: the list is not kept.";
      note.hidden = false;
      return;
    }
    shown();
  };

  tick.closest(".tick").hidden = false;
  tick.addEventListener("change", () => (tick.checked ? keeping() : forgotten()));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (tick.checked) await keeping();
    await answered(new FormData(form));
  });
  part("again").addEventListener("click", () => {
    const list = kept();
    if (!list) return shown();
    const body = new FormData();
    body.append("list", new Blob([list.text]), list.name || "packs.toml");
    return answered(body);
  });
  part("forget").addEventListener("click", async () => {
    forgotten();
    form.reset();
    tick.checked = false;
    // Cards and answers of these packs may have been kept for a field without reception.
    if (window.caches) await caches.delete("visited").catch(() => {});
    told("Forgotten: this browser keeps no list, no card and no answer of your packs.");
    part("said").focus();
  });
  shown();
})();
