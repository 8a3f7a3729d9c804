// Live pages: when the record changes, the parts marked data-live are fetched again and put in place.
"use strict";
const body = document.body;
if (body.dataset.live !== undefined) {
  const state = document.getElementById("live");
  const fresh = async () => {
    const answer = await fetch(location.href, { credentials: "same-origin", redirect: "error" });
    if (!answer.ok) throw new Error(answer.status);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const part of document.querySelectorAll("[data-live-part]")) {
      const next = page.getElementById(part.id);
      if (!next || next.innerHTML === part.innerHTML) continue;
      const held = part.contains(document.activeElement) && document.activeElement.getAttribute("href");
      part.innerHTML = next.innerHTML;
      if (held) [...part.querySelectorAll("a")].find((link) => link.getAttribute("href") === held)?.focus();
      part.classList.remove("changed");
      void part.offsetWidth;
      part.classList.add("changed");
    }
    document.title = page.title;
    state.textContent = "Live. Up to date at " + new Date().toLocaleTimeString("en-GB") + ".";
  };
  let going = Promise.resolve();
  const look = () => {
    going = going.then(fresh).catch(() => { state.textContent = "Not up to date: load the page again."; });
  };
  const source = new EventSource("/office/live");
  source.addEventListener("changed", look);
  source.addEventListener("open", look);
  source.addEventListener("error", () => { state.textContent = "Not live: the connection is lost. Trying again."; });
  setInterval(look, 60000); // what lapses with time changes nothing on record
}
