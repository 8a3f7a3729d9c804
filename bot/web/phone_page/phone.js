// The two phones: what is typed goes to the service, what it sends is asked for again and again.
"use strict";
const ASK_EVERY_MS = 700;
const phones = new Map();
let crew = null, story = null, step = 0, ref = "", code = "", seen = 0, busy = false;
const get = async (path) => (await fetch(path, { cache: "no-store" })).json();
const byRole = (role) => crew.people.find((each) => each.role === role);

const send = async (number, text, file) => {
  const what = { from: number, text };
  if (file) {
    const held = await fetch("/phone/picture", { method: "POST", body: file });
    if (!held.ok) return alert("This picture is too large.");
    what.picture = (await held.json()).picture;
  }
  await fetch("/phone/send", { method: "POST", body: JSON.stringify(what) });
  await news();
};

const write = (one) => {
  const phone = phones.get(one.phone);
  if (!phone) return;
  const line = document.createElement("li");
  line.className = one.own ? "own" : one.alert ? "alert" : "";
  const who = document.createElement("span");
  who.className = "who";
  const at = new Date(one.at).toLocaleTimeString("en-GB");
  who.textContent = (one.own ? phone.name : one.alert ? "Trenchword, by itself" : "Trenchword") + ", " + at;
  line.append(who, one.text);
  if (one.picture) {
    const shown = document.createElement("img");
    shown.alt = "The picture that " + phone.name + " sent";
    shown.src = one.picture;
    shown.addEventListener("load", () => { phone.list.scrollTop = phone.list.scrollHeight; });
    line.append(shown);
  }
  const picture = one.text.match(/https?:\/\/\S+?(\/sketch\/[A-Za-z0-9_=-]+)/);
  if (picture && !one.own) {
    const image = document.createElement("img");
    image.alt = "Sketch of the trench; its words are in the link";
    image.src = picture[1] + ".png";
    const link = document.createElement("a");
    link.href = picture[1];
    link.append(image);
    image.addEventListener("load", () => { phone.list.scrollTop = phone.list.scrollHeight; });
    line.append(link);
  }
  if (one.alert && phone.role === "supervisor") code = one.text.match(/code (\d{4,8})/)?.[1] ?? code;
  phone.list.append(line);
  phone.list.scrollTop = phone.list.scrollHeight;
};

const news = async () => {
  for (const one of await get("/phone/news?after=" + seen)) {
    if (one.n <= seen) continue;
    seen = one.n;
    write(one);
  }
  next();
};

const said = (one) => one.say.replaceAll("{ref}", ref).replaceAll("{code}", code || "…");

const next = () => {
  if (!story) return;
  const button = document.getElementById("next"), one = story.step[step];
  document.getElementById("see").textContent = step ? story.step[step - 1].see : "";
  document.getElementById("steps").textContent = "Step " + Math.min(step + 1, story.step.length) + " of " + story.step.length;
  const waits = one && one.say.includes("{code}") && !code;
  button.textContent = !one ? "The story is told: again" : waits ? "Waiting for the code" : byRole(one.who).name + " texts: " + said(one);
  button.disabled = busy || waits;
};

const begin = async (chosen, button) => {
  for (const each of document.querySelectorAll("#choose button")) each.setAttribute("aria-pressed", String(each === button));
  story = chosen; step = 0; code = "";
  ref = (await get("/phone/ref")).ref;
  document.getElementById("story").hidden = false;
  next();
};

const start = async () => {
  crew = await get("/phone/crew");
  for (const person of crew.people) {
    const made = document.getElementById("phone").content.cloneNode(true);
    const [title, list, form, label, field, beside, file] =
      ["h2", "ol", "form", "label", "textarea", ".with label", "input"].map((each) => made.querySelector(each));
    title.textContent = person.name + ", " + person.role + ", " + person.site;
    list.setAttribute("aria-label", "Texts on " + person.name + "'s phone");
    field.id = "write-" + person.role;
    label.htmlFor = field.id;
    label.textContent = "Text as " + person.name;
    file.id = "picture-" + person.role;
    beside.htmlFor = file.id;
    beside.textContent = "Picture from " + person.name + ":";
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const text = field.value.trim();
      const picture = file.files[0];
      form.reset();
      if (text || picture) send(person.number, text, picture);
    });
    field.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && !event.shiftKey) { event.preventDefault(); form.requestSubmit(); }
    });
    phones.set(person.number, { list, name: person.name, role: person.role });
    document.getElementById("phones").append(made);
  }
  for (const each of crew.stories) {
    const button = document.createElement("button");
    button.textContent = each.title;
    button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", () => begin(each, button));
    document.getElementById("choose").append(button);
  }
  document.getElementById("next").addEventListener("click", async () => {
    const one = story.step[step];
    if (!one) return begin(story, document.querySelector('#choose [aria-pressed="true"]'));
    busy = true;
    next();
    const text = said(one);
    step += 1;
    try { await send(byRole(one.who).number, text); } finally { busy = false; next(); }
  });
  await news();
  setInterval(() => news().catch(() => {}), ASK_EVERY_MS);
};
start();
