// Keeps the marked parts of a page up to date. The page is complete without
// it: the server says that something changed, the same page is fetched again,
// and parts that differ are put in place.
"use strict";
(() => {
  const restFor = 5000; // ms between two fetches
  const status = document.getElementById("said");
  const urgent = document.getElementById("urgent");
  const pause = document.getElementById("pause");
  let paused = false, waiting = false, fetching = false, seen = "", last = 0;

  const typing = part => {
    const at = document.activeElement;
    return part.contains(at) && at.matches("input, select, textarea");
  };

  const pathTo = part => {
    const at = document.activeElement;
    if (!at || !part.contains(at)) return null;
    return [...part.querySelectorAll("a, button, summary, [tabindex]")].indexOf(at);
  };

  const put = (old, fresh) => {
    if (old.innerHTML === fresh.innerHTML || typing(old)) return;
    const open = [...old.querySelectorAll("details[open][id]")].map(d => d.id);
    const focus = pathTo(old);
    old.innerHTML = fresh.innerHTML;
    for (const id of open) {
      const d = document.getElementById(id);
      if (d) d.open = true;
    }
    if (focus !== null && focus >= 0) {
      const all = old.querySelectorAll("a, button, summary, [tabindex]");
      if (all[focus]) all[focus].focus({ preventScroll: true });
    }
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
      const url = new URL(location.href);
      url.searchParams.delete("said");
      const answer = await fetch(url, { headers: { Accept: "text/html" } });
      if (!answer.ok) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      const before = alarms(document);
      for (const part of fresh.querySelectorAll("[data-live][id]")) {
        const old = document.getElementById(part.id);
        if (old) put(old, part);
      }
      tell(before, document);
    } catch {
      status.textContent = "The connection is gone; what stands here may be old.";
    } finally {
      fetching = false;
      if (waiting) { waiting = false; refresh(); }
    }
  };

  // A hidden page holds no stream: browsers allow six to one server, over all
  // their windows.
  let source = null;
  const open = () => {
    if (source) return;
    source = new EventSource("/events");
    source.addEventListener("at", e => {
      if (seen !== "" && e.data !== seen) refresh();
      seen = e.data;
    });
    source.addEventListener("error", () => {
      if (source && source.readyState === EventSource.CLOSED) status.textContent = "This page no longer updates by itself. Load it again.";
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
