// Live pages: when the record changes, the parts marked data-live-part are fetched again and put in place.
// A bar says at every moment whether what stands here is live, or since when it is not.
"use strict";
const body = document.body;
if (body.dataset.live !== undefined) {
  const SILENT_MS = 2500; // the stream beats every second
  const RETRY_MS = 1000;
  const bar = document.getElementById("live");
  const spoken = document.getElementById("spoken");
  const clock = (at) => at.toLocaleTimeString("en-GB");
  let title = document.title;
  let good = new Date(), beat = 0, source = null, live = null;
  const show = (isLive, more) => {
    if (isLive) good = new Date();
    bar.textContent = isLive
      ? "Live. Up to date at " + clock(good) + "."
      : "NOT LIVE since " + clock(good) + ". What stands here may be over: ring. " + more;
    document.title = isLive ? title : "NOT LIVE · " + title;
    if (live === isLive) return;
    live = isLive;
    body.classList.toggle("stale", !isLive);
  };
  const hazards = (page) => [...page.querySelectorAll("[data-hazard]")].map((each) => each.dataset.hazard);
  let known = new Set(hazards(document));
  const speak = () => {
    const now = hazards(document);
    const fresh = now.filter((each) => !known.has(each));
    known = new Set(now);
    if (fresh.length) spoken.textContent = "Hazard. " + fresh.join(" ");
  };
  // What somebody types, has unfolded or stands on stays so.
  const put = (part, next) => {
    const typed = new Map([...part.querySelectorAll("[data-keep]")].map((each) => [each.dataset.keep, each.value]));
    const unfolded = [...part.querySelectorAll("details[open]")].map((each) => each.id);
    const held = part.contains(document.activeElement) ? document.activeElement : null;
    const name = held && (held.dataset.keep || held.getAttribute("href") || held.getAttribute("aria-label"));
    const at = held && held.selectionStart;
    part.innerHTML = next.innerHTML;
    part.hidden = next.hidden;
    for (const each of part.querySelectorAll("[data-keep]")) each.value = typed.get(each.dataset.keep) ?? each.value;
    for (const id of unfolded) part.querySelector("#" + CSS.escape(id))?.setAttribute("open", "");
    if (name) {
      const again = [...part.querySelectorAll("a, button, input, summary")].find(
        (each) => [each.dataset.keep, each.getAttribute("href"), each.getAttribute("aria-label")].includes(name));
      again?.focus();
      if (again && again.dataset.keep && typeof at === "number") again.setSelectionRange(at, at);
    }
    part.classList.remove("changed");
    void part.offsetWidth;
    part.classList.add("changed");
  };
  const fresh = async () => {
    const answer = await fetch(location.href, {
      credentials: "same-origin", redirect: "manual", signal: AbortSignal.timeout(10000), cache: "no-store" });
    if (answer.type === "opaqueredirect") throw new Error("Signed out: load the page again.");
    if (!answer.ok) throw new Error("The service answers " + answer.status + ".");
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const part of document.querySelectorAll("[data-live-part]")) {
      const next = page.getElementById(part.id);
      if (next && next.innerHTML !== part.innerHTML) put(part, next);
    }
    title = page.title;
    show(true);
    speak();
  };
  let going = Promise.resolve(), again = 0;
  const look = () => {
    clearTimeout(again);
    going = going.then(fresh).catch((error) => {
      show(false, error.message.startsWith("S") || error.message.startsWith("The") ? error.message : "Trying again.");
      again = setTimeout(look, RETRY_MS);
    });
  };
  const lost = () => show(false, "Trying again.");
  const listen = () => {
    source?.close();
    beat = Date.now();
    source = new EventSource("/office/live");
    source.addEventListener("open", () => { beat = Date.now(); look(); });
    source.addEventListener("changed", () => { beat = Date.now(); look(); });
    source.addEventListener("beat", () => { beat = Date.now(); });
    source.addEventListener("error", () => { if (live !== null) lost(); });
  };
  setInterval(() => {
    if (Date.now() - beat < SILENT_MS && source.readyState === EventSource.OPEN) return;
    if (Date.now() - beat >= SILENT_MS) lost();
    if (source.readyState === EventSource.CLOSED || Date.now() - beat >= 2 * SILENT_MS) listen();
  }, RETRY_MS / 2);
  addEventListener("offline", lost);
  addEventListener("online", listen);
  listen();
  setInterval(look, 60000); // what lapses with time changes nothing on record
}
// An index leads into what is folded.
const unfold = () => {
  const at = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
  if (at instanceof HTMLDetailsElement) at.open = true;
};
addEventListener("hashchange", unfold);
unfold();
