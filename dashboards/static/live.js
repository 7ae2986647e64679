// Keeps the marked parts of a page up to date. The page is complete without
// it: the server says that something changed, the same page is fetched again,
// and parts that differ are put in place.
"use strict";
(() => {
  const restFor = 5000; // ms between two fetches
  const status = document.getElementById("said");
  const urgent = document.getElementById("urgent");
  const pause = document.getElementById("pause");
  let paused = false, waiting = false, fetching = false, last = Date.now();
  let shown = document.currentScript.dataset.seen, told = shown; // how far the alarm loop had read

  const controls = "a, button, summary, input, select, textarea, [tabindex]";
  const fields = "input, select, textarea";

  // What stays the same thing while the list around it changes: what it stands
  // in, the form's address with the field's name, else the words. A form for
  // all alarms of a space has the address of the first of them.
  const nameOf = at => [at.closest("[id]")?.id, at.form ? at.form.getAttribute("action") : "", at.tagName,
    at.name || at.getAttribute("href") || at.textContent, at.type === "checkbox" ? at.value : ""].join(" ");

  // What somebody has written but not sent, and where the cursor stands.
  const unsent = part => [...part.querySelectorAll(fields)]
    .filter(f => f.type !== "hidden" && (f.value !== f.defaultValue || f.checked !== f.defaultChecked))
    .map(f => [nameOf(f), f.value, f.checked]);

  const cursorIn = part => {
    const at = document.activeElement;
    if (!at || !part.contains(at)) return null;
    const text = at.matches("input, textarea") && at.type !== "checkbox";
    return { name: nameOf(at), at: text ? at.selectionStart : null, to: text ? at.selectionEnd : null };
  };

  const find = (part, name, among) => [...part.querySelectorAll(among)].find(f => nameOf(f) === name);

  const put = (old, fresh) => {
    if (old.innerHTML === fresh.innerHTML) return;
    const open = [...old.querySelectorAll("details[open][id]")].map(d => d.id);
    const written = unsent(old), cursor = cursorIn(old);
    old.innerHTML = fresh.innerHTML;
    for (const id of open) {
      const d = document.getElementById(id);
      if (d) d.open = true;
    }
    for (const [name, value, checked] of written) {
      const f = find(old, name, fields);
      if (f) { f.value = value; f.checked = checked; }
    }
    const at = cursor && find(old, cursor.name, controls);
    if (!at) return;
    at.focus({ preventScroll: true });
    if (cursor.at !== null && at.setSelectionRange) at.setSelectionRange(cursor.at, cursor.to);
  };

  const alarms = root => [...root.querySelectorAll(".alarm")].map(a => a.id + " " + a.className);

  const tell = (before, root) => {
    const now = alarms(root);
    const news = now.filter(a => !before.includes(a));
    const critical = news.filter(a => a.includes("critical"));
    if (critical.length) urgent.textContent = "New critical alarm. The site's procedure comes first.";
    else if (news.length) status.textContent = news.length === 1 ? "One alarm is new or has changed." : news.length + " alarms are new or have changed.";
    else if (now.length < before.length) status.textContent = "Fewer alarms than before.";
  };

  const refresh = async () => {
    if (paused || document.hidden) { waiting = true; return; }
    if (fetching) { waiting = true; return; }
    const rest = last + restFor - Date.now();
    if (rest > 0) {
      if (!waiting) { waiting = true; setTimeout(() => { if (waiting) { waiting = false; refresh(); } }, rest); }
      return;
    }
    fetching = true; waiting = false; last = Date.now();
    try {
      const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
      if (!answer.ok) throw new Error(answer.status);
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      const before = alarms(document);
      for (const part of fresh.querySelectorAll("[data-live][id]")) {
        const old = document.getElementById(part.id);
        if (old) put(old, part);
      }
      tell(before, document);
      shown = fresh.querySelector("script[data-seen]").dataset.seen;
      if (Number(shown) < Number(told)) waiting = true; // made just before what was told of
    } catch {
      troubled = troubled || Date.now();
    } finally {
      fetching = false;
      if (waiting) { waiting = false; refresh(); }
    }
  };

  // The server says at least every fifteen seconds that it is there. Alarms
  // that nobody keeps up to date must not look as if somebody did.
  const silence = 40000, grace = 10000; // ms
  const gone = document.getElementById("lost");
  let heard = Date.now(), troubled = 0;
  const lost = why => {
    if (!gone.hidden) return;
    gone.textContent = why + " since " + new Date(heard).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZoneName: "short" }) + ": what stands here is old.";
    gone.hidden = false;
    document.body.classList.add("old");
  };
  const found = () => {
    heard = Date.now(); troubled = 0;
    if (gone.hidden) return;
    gone.hidden = true;
    document.body.classList.remove("old");
    refresh();
  };
  setInterval(() => {
    if (document.hidden || !source) return;
    const now = Date.now();
    if (now - heard > silence || troubled && now - troubled > grace) lost("No connection to heaterd");
  }, 2000);

  // A hidden page holds no stream: browsers allow six to one server, over all
  // their windows.
  let source = null;
  const open = () => {
    if (source) return;
    heard = Date.now(); troubled = 0;
    source = new EventSource("/events");
    source.addEventListener("open", found);
    source.addEventListener("beat", found);
    source.addEventListener("at", e => {
      found();
      told = e.data;
      if (told !== shown) refresh();
    });
    source.addEventListener("error", () => {
      troubled = troubled || Date.now();
      if (source && source.readyState === EventSource.CLOSED) lost("This page no longer updates by itself, for you are not signed in any more or heaterd refused it; load it again. Nothing new");
    });
  };
  const close = () => { if (source) source.close(); source = null; };

  document.addEventListener("visibilitychange", () => {
    if (document.hidden) { close(); return; }
    open();
    if (waiting) { waiting = false; refresh(); }
  });
  addEventListener("pagehide", close);
  addEventListener("pageshow", e => { if (e.persisted) location.reload(); });
  if (!document.hidden) open();

  // What was just done is said once: a page that is loaded again says it no more.
  const here = new URL(location.href);
  if (here.searchParams.has("said")) {
    here.searchParams.delete("said");
    history.replaceState(null, "", here);
  }

  // A link to a closed part opens it.
  const unfold = () => {
    const at = document.getElementById(location.hash.slice(1));
    if (at && at.tagName === "DETAILS") at.open = true;
  };
  addEventListener("hashchange", unfold);
  unfold();

  if (pause) {
    pause.closest(".live-only").hidden = false;
    pause.addEventListener("click", () => {
      paused = !paused;
      pause.setAttribute("aria-pressed", String(paused));
      status.textContent = paused ? "Updates are paused." : "Updates go on.";
      if (!paused && waiting) { waiting = false; refresh(); }
    });
  }
})();
