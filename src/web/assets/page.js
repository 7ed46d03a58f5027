// Keeps the page in step with the record, keeps ticks while the network is away, turns the frame.
// The page works without this script; everything here makes it better.
"use strict";
(() => {
  const body = document.body;
  const job = body.dataset.job;
  const view = body.dataset.view;
  if (view !== "work" && view !== "list") return;

  const $ = (id) => document.getElementById(id);
  // A second press so soon after the step has changed was meant for the step before.
  const REST_MS = 800;
  // Lines shown after the one to do now; more are known, for when the network is away.
  const AHEAD = 6;
  const SILENCE_MS = 12000;
  const AGAIN_MS = 2000;

  let revision = body.dataset.revision;
  let heardAt = Date.now();
  let away = false;
  let shownSince = Date.now();
  let lastLabel = null;
  let unpaired = false;

  // ---- what is kept on this device ------------------------------------------------------------

  const KEY = "holdtrue " + job;
  const memory = {};
  const load = (what) => {
    try {
      return JSON.parse(localStorage.getItem(KEY + " " + what)) || [];
    } catch {
      return memory[what] || [];
    }
  };
  const save = (what, list) => {
    memory[what] = list;
    try {
      localStorage.setItem(KEY + " " + what, JSON.stringify(list));
    } catch {
      // Private windows may keep nothing: then it lasts as long as the page is open.
    }
  };
  const newId = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(12));
    return Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
  };

  // The last verdict on a reading; a step that changes just then must not wipe it out.
  let judged = { words: "", at: 0 };

  // Entries that the server has taken, until the page shows them: {label, n}.
  let taken = [];

  const say = (words) => {
    $("say").textContent = words;
  };

  // ---- conflicts and warnings stay until somebody has seen them ---------------------------------

  // Whoever has scrolled on is told that something is to be read above.
  let inView = false;
  const showUnread = () => {
    const link = $("unread");
    if (!link) return;
    const all = load("conflicts");
    link.hidden = all.length === 0 || inView;
    const words = all.length ? (all.length > 1 ? all.length + " messages to read: " : "To read: ") + all[0].head : "";
    if (link.textContent !== words) link.textContent = words;
  };
  new IntersectionObserver((seen) => {
    inView = seen[seen.length - 1].isIntersecting;
    showUnread();
  }).observe($("conflicts"));

  const showConflicts = () => {
    const box = $("conflicts");
    box.replaceChildren();
    for (const c of load("conflicts")) {
      const div = document.createElement("div");
      for (const words of [c.head, c.what, c.help]) {
        if (!words) continue;
        const p = document.createElement(words === c.head ? "strong" : "p");
        p.textContent = words;
        div.append(p);
      }
      const ok = document.createElement("button");
      ok.type = "button";
      ok.textContent = "I have seen this";
      ok.addEventListener("click", () => {
        save("conflicts", load("conflicts").filter((o) => o.id !== c.id));
        showConflicts();
        const next = box.querySelector("button") || $("steps") || $("lines");
        if (next) next.focus();
      });
      div.append(ok);
      box.append(div);
    }
    showUnread();
  };
  const conflict = (head, what, help) => {
    save("conflicts", [...load("conflicts"), { id: newId(), head, what, help }]);
    showConflicts();
  };

  // What was ticked twice is told to everybody once; whoever sent the second tick hears it from the answer.
  const told = (id) => save("told", [...load("told"), id].slice(-200));
  const showClashes = () => {
    const box = $("clashes");
    if (!box) return;
    const known = load("told");
    for (const c of JSON.parse(box.dataset.list)) {
      if (known.includes(c.id)) continue;
      told(c.id);
      conflict("Ticked twice", c.what, "If it was welded twice, say so at the machine: holdtrue job redo.");
    }
  };

  // ---- sending ----------------------------------------------------------------------------------

  let sending = false;
  let retry = 0;

  const later = () => {
    clearTimeout(retry);
    retry = setTimeout(send, AGAIN_MS);
  };

  const request = async (address, options) => {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), 8000);
    try {
      return await fetch(address, { ...options, signal: stop.signal, cache: "no-store", credentials: "same-origin" });
    } finally {
      clearTimeout(timer);
    }
  };

  const post = (entry) => {
    const fields = new URLSearchParams(entry.fields);
    fields.set("id", entry.id);
    fields.set("job", job);
    fields.set("ago", String((Date.now() - entry.at) / 1000));
    return request("/do", { method: "POST", headers: { Accept: "application/json" }, body: fields });
  };

  const forget = (entry) => save("queue", load("queue").filter((e) => e.id !== entry.id));

  const send = async () => {
    if (sending) return;
    sending = true;
    clearTimeout(retry);
    const all = await sendKept().finally(() => (sending = false));
    if (all) await update();
  };

  // Goes out: whether nothing is left to be sent. What is entered from then on starts a round of its own.
  const sendKept = async () => {
    for (let entry = load("queue")[0]; entry; entry = load("queue")[0]) {
      let answer;
      let said = {};
      try {
        answer = await post(entry);
        // An answer that broke off is no answer: the entry goes out again and is written once.
        said = await answer.json().catch((e) => {
          if (answer.ok) throw e;
          return {};
        });
        heardAt = Date.now();
      } catch {
        network(false);
        later();
        return false;
      }
      if (answer.status === 401) {
        unpaired = true;
        network(true);
        later();
        return false;
      }
      unpaired = false;
      if (answer.status === 408 || answer.status === 429 || answer.status >= 500) {
        // The record could not be written: the entry stays here until it can.
        $("net").textContent = "Not written yet: " + (said.what || "the server cannot write") + ". It stays on this device and is sent again.";
        $("net").hidden = false;
        later();
        return false;
      }
      forget(entry);
      if (answer.ok) {
        taken.push({ label: entry.fields.label, n: said.n, act: entry.fields.do });
        if (said.verdict) judged = { words: said.words + ": " + said.verdict.toUpperCase() + ". ", at: Date.now() };
        say(said.verdict ? judged.words : said.words);
        const notices = said.notices || [];
        if (notices.length) conflict("Mind, about: " + said.words, notices.join(". "), "");
        if (entry.fields.do === "measure") readDone(entry, said);
      } else {
        conflict("Not entered: " + entry.words, said.what || "the server refused it (" + answer.status + ")", said.help);
      }
      network(true);
      applyKept();
    }
    return true;
  };

  const readDone = (entry, said) => {
    for (const form of document.querySelectorAll("form.reading")) {
      if (form.dataset.control !== entry.fields.control || form.dataset.at !== entry.from) continue;
      const field = form.querySelector(".value");
      if (field.value === entry.fields.value) field.value = "";
      if (said.verdict) {
        const p = document.createElement("p");
        const strong = document.createElement("strong");
        strong.className = "verdict";
        strong.textContent = said.verdict;
        p.append("Read ", entry.fields.value, ": ", strong);
        form.querySelector(".answer").replaceChildren(p);
      }
    }
  };

  const network = (there) => {
    away = !there;
    const kept = load("queue").length;
    const net = $("net");
    const entries = kept === 1 ? "1 entry kept here" : kept + " entries kept here";
    let words = "";
    if (unpaired) words = "This device is no longer paired. " + (kept ? entries + ". " : "");
    else if (away) words = "No network. " + (kept ? entries + ", sent when it is back." : "Ticks are kept here and sent when it is back.");
    else if (kept > 1) words = "Sending: " + entries + ".";
    if (net.textContent !== words) net.textContent = words;
    if (unpaired) {
      const a = document.createElement("a");
      a.href = "/pair";
      a.textContent = "Pair it again";
      net.append(a);
    }
    net.hidden = !words;
  };

  // ---- what a person does -----------------------------------------------------------------------

  document.addEventListener("submit", (event) => {
    const form = event.target;
    const path = new URL(form.action, location.href).pathname;
    if (path !== "/do" && path !== "/welder") return;
    event.preventDefault();
    if (path === "/welder" || form.dataset.direct) {
      direct(path, form, event.submitter);
      return;
    }
    if (form.matches("#done") && Date.now() - shownSince < REST_MS) {
      say("The step has just changed: look, then press again.");
      return;
    }
    const fields = {};
    for (const [name, value] of new FormData(form)) fields[name] = value;
    if (event.submitter && event.submitter.name) fields[event.submitter.name] = event.submitter.value;
    delete fields.id;
    delete fields.back;
    const what = fields.label || fields.control || fields.joint || fields.words || "";
    const names = { gate: "gate opened without all readings: ", tick: " done", untick: " not done", skip: " not now", "take-back": "take back the last entry", measure: " read as " + fields.value, temperature: " at " + fields.value + " °C", note: " (note)" };
    const words = fields.do === "gate" ? names.gate + what : what + (names[fields.do] || "");
    const entry = { id: newId(), at: Date.now(), fields, words, from: form.dataset.at };
    if (fields.do === "tick") told("clash-" + entry.id);
    save("queue", [...load("queue"), entry]);
    // How many are kept is said at once, not only when sending has failed once more.
    if (away) network(false);
    if (fields.do === "note" || fields.do === "temperature") form.reset();
    if (body.dataset.step && fields.label === body.dataset.step) {
      body.dataset.step = "";
      history.replaceState(null, "", "/");
    }
    say(away ? entry.words + ": kept on this device" : entry.words);
    applyKept();
    send();
  });

  // What makes sense with the network only is not kept: it is sent now or not at all.
  const direct = async (path, form, button) => {
    const fields = new URLSearchParams(new FormData(form));
    if (button && button.name) fields.set(button.name, button.value);
    fields.set("id", newId());
    try {
      const answer = await request(path, { method: "POST", headers: { Accept: "application/json" }, body: fields });
      if (path === "/do") {
        const said = await answer.json().catch(() => ({}));
        if (answer.ok) say(said.words);
        else conflict("Not done", said.what || "the server refused it (" + answer.status + ")", said.help);
      }
      network(true);
      // Other lines are wanted: nothing is held before this person any more.
      if (path === "/welder") fresh = true;
      await update();
    } catch {
      network(false);
      say("This needs the network: nothing was done.");
    }
  };

  // ---- showing what is kept but not yet on the server --------------------------------------------

  const cards = () => Array.from(document.querySelectorAll("#steps > .step"));

  // Whether what is kept on this device will open the gate.
  const passesGate = (card) => {
    const kept = load("queue").map((e) => e.fields);
    if (kept.some((f) => f.do === "gate") || taken.some((t) => t.act === "gate")) return true;
    if (!away) return false;
    const read = new Set(kept.filter((f) => f.do === "measure").map((f) => f.control));
    return JSON.parse(card.dataset.missing).every((c) => read.has(c));
  };

  const applyKept = () => {
    if (view !== "work") return;
    const records = Number(revision.split(".")[0]);
    taken = taken.filter((t) => !(t.n <= records));
    const gone = new Set();
    for (const e of load("queue")) if (e.fields.do === "tick" || e.fields.do === "skip") gone.add(e.fields.label);
    for (const t of taken) if (t.act === "tick" || t.act === "skip") gone.add(t.label);
    let first = null;
    let after = 0;
    for (const card of cards()) {
      const hide = gone.has(card.dataset.label) || (card.dataset.kind === "GATE" && passesGate(card));
      card.hidden = hide;
      const now = !hide && !first;
      card.classList.toggle("now", now);
      if (now) first = card;
      if (!hide && !now) after += 1;
      card.classList.toggle("far", !hide && after > AHEAD);
      // The next pictures are fetched while there is a network.
      const picture = card.querySelector("img[data-src]");
      if (picture && !hide && after < AHEAD && !picture.getAttribute("src")) picture.src = picture.dataset.src;
    }
    const done = $("done");
    let none = $("none-known");
    if (first) {
      if (none) none.remove();
      const gate = first.dataset.kind === "GATE";
      if ($("shut")) $("shut").hidden = !gate;
      if (done) {
        done.hidden = gate;
        done.elements.label.value = first.dataset.label;
        done.querySelector(".what").textContent = first.dataset.label;
      }
      let note = first.querySelector(".later");
      const guessed = gone.size > 0 && first.dataset.kind === "WELD" && away;
      if (guessed && !note) {
        note = document.createElement("p");
        note.className = "later";
        note.textContent = "No network: the wait for this one does not count what was welded meanwhile. Check the joint with a thermometer.";
        first.querySelector(".more").prepend(note);
      } else if (!guessed && note) note.remove();
    } else if (gone.size > 0) {
      if (done) done.hidden = true;
      if (!none) {
        none = document.createElement("p");
        none.id = "none-known";
        none.className = "all-done";
        none.textContent = "No further line is known here until the network is back.";
        $("steps").after(none);
      }
    }
    const label = first ? first.dataset.label : "";
    if (label !== lastLabel) {
      if (lastLabel !== null) {
        shownSince = Date.now();
        rest();
        const line = first ? first.querySelector(".line").textContent.trim() : "";
        const verdict = Date.now() - judged.at < 4000 ? judged.words : "";
        say(verdict + (gone.has(lastLabel) ? lastLabel + " done. " : "") + (line ? "Now: " + line : ""));
        if (first && document.activeElement === document.body) $("steps").focus({ preventScroll: true });
        if (first) first.scrollIntoView({ block: "nearest" });
      }
      lastLabel = label;
    }
    frame.mark(first);
  };

  // The big button rests a moment after the step has changed, and shows it.
  const rest = () => {
    const main = document.querySelector("#done .main");
    if (!main) return;
    main.setAttribute("aria-disabled", "true");
    setTimeout(() => {
      const now = document.querySelector("#done .main");
      if (now && Date.now() - shownSince >= REST_MS - 20) now.removeAttribute("aria-disabled");
    }, REST_MS);
  };

  // ---- what is new on the server ----------------------------------------------------------------

  const shown = {};
  // Names of entries differ in every copy of a form and mean nothing here.
  const strip = (part) => {
    for (const i of part.querySelectorAll("input[name=id]")) i.removeAttribute("value");
    return part.innerHTML;
  };

  // What was typed or chosen in a part that is exchanged, by the name of its field.
  const typed = () => {
    const fields = Array.from(document.querySelectorAll("[data-part] input[type=text][id], [data-part] select[id]"));
    return fields.map((f) => ({ id: f.id, value: f.value, pad: !!f.closest("form").querySelector(".pad") }));
  };
  const putBack = (kept) => {
    for (const k of kept) {
      const field = $(k.id);
      if (!field) continue;
      field.value = k.value;
      if (k.pad && field.classList.contains("value")) pad.under(field.closest("form"));
    }
  };
  // Where the keyboard was, in words that hold for the new part, too.
  const place = () => {
    const a = document.activeElement;
    if (!a || a === document.body) return null;
    const form = a.closest("form");
    if (a.id) return () => $(a.id);
    if (form && form.dataset.control) {
      const { control, at } = form.dataset;
      const css = a.name ? "[name='" + a.name + "']" : "button[type=submit]";
      return () => Array.from(document.querySelectorAll("form.reading")).find((f) => f.dataset.control === control && f.dataset.at === at)?.querySelector(css);
    }
    if (form && form.matches("#done")) {
      const value = a.value;
      return () => document.querySelector("#done button[value='" + value + "']");
    }
    const one = a.closest("[data-label]");
    if (one) {
      const label = one.dataset.label;
      return () => Array.from(document.querySelectorAll("[data-label]")).find((e) => e.dataset.label === label)?.querySelector("button, a");
    }
    const part = a.closest("[data-part]");
    if (part) {
      const name = part.dataset.part;
      return () => document.querySelector("[data-part='" + name + "'] button");
    }
    return null;
  };

  let fresh = false;
  let updating = false;
  let asked = false;

  const update = async () => {
    if (updating) {
      asked = true;
      return;
    }
    updating = true;
    try {
      do {
        asked = false;
        const first = cards().find((c) => c.classList.contains("now"));
        const query = new URLSearchParams();
        if (body.dataset.step) query.set("step", body.dataset.step);
        // What a person is welding now stays before him until it is done, whatever cools meanwhile, unless a new sheet is in force.
        if (first && !fresh) query.set("keep", first.dataset.label);
        query.set("sheet", body.dataset.sheet);
        fresh = false;
        const answer = await request((view === "list" ? "/list-part?" : "/part?") + query, {});
        heardAt = Date.now();
        if (answer.status === 401) {
          unpaired = true;
          network(true);
          return;
        }
        unpaired = false;
        if (!answer.ok) {
          later();
          return;
        }
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        const root = page.querySelector("[data-revision]");
        if (!root) return;
        if (root.dataset.job !== job) {
          location.reload();
          return;
        }
        replace(root);
      } while (asked);
      if (away) network(true);
    } catch {
      network(false);
      later();
    } finally {
      updating = false;
    }
  };

  const replace = (root) => {
    const kept = typed();
    const where = place();
    let moved = false;
    for (const part of root.querySelectorAll("[data-part]")) {
      const name = part.dataset.part;
      const html = strip(part);
      if (shown[name] === html) continue;
      const old = document.querySelector("[data-part='" + name + "']");
      if (!old) continue;
      shown[name] = html;
      // The big button itself stays: a press that falls into the change must not be lost.
      if (name === "bar" && old.querySelector("#done") && part.querySelector("#done")) continue;
      moved = true;
      // Pictures that are here already stay: nothing is fetched and drawn twice.
      const pictures = new Map(Array.from(old.querySelectorAll("img[src]"), (i) => [i.dataset.src + i.alt, i]));
      old.replaceChildren(...Array.from(part.childNodes, (n) => document.importNode(n, true)));
      for (const i of old.querySelectorAll("img[data-src]")) {
        const here = pictures.get(i.dataset.src + i.alt);
        if (here) i.replaceWith(here);
      }
    }
    revision = root.dataset.revision;
    if (Number(root.dataset.sheet) > Number(body.dataset.sheet)) {
      body.dataset.sheet = root.dataset.sheet;
      conflict("New sheet: revision " + root.dataset.sheet, "The rest was planned anew. Every printed sheet of an earlier revision is void: take it down.", "Look again what is to be done now.");
    }
    showClashes();
    if (moved) {
      putBack(kept);
      setClocks();
    }
    applyKept();
    if (moved && where && document.activeElement === document.body) where()?.focus({ preventScroll: true });
  };

  // ---- clocks -----------------------------------------------------------------------------------

  const setClocks = () => {
    for (const card of cards()) {
      const wait = Number(card.dataset.wait);
      if (wait > 0 && !card.dataset.until) card.dataset.until = String(Date.now() + wait * 1000);
    }
  };
  const pace = () => {
    for (const card of cards()) {
      if (!card.dataset.until) continue;
      const left = Math.ceil((Number(card.dataset.until) - Date.now()) / 1000);
      const clock = card.querySelector(".clock");
      if (clock && left > 0) {
        const words = Math.floor(left / 60) + ":" + String(left % 60).padStart(2, "0");
        if (clock.textContent !== words) clock.textContent = words;
      }
      if (left <= 0) {
        delete card.dataset.until;
        const wait = card.querySelector(".wait");
        const cool = card.querySelector(".cool");
        if (wait) wait.hidden = true;
        if (cool) cool.hidden = false;
        if (card.classList.contains("now")) {
          say(card.dataset.label + " is cool enough by the heat model.");
          if (navigator.vibrate) navigator.vibrate(300);
        }
        if (!away) update();
      }
    }
    // A network that is gone says nothing: silence is the sign.
    if (Date.now() - heardAt > SILENCE_MS) {
      network(false);
      if (source) source.close();
      heardAt = Date.now();
      listen();
    }
  };

  // ---- the stream of what is new ------------------------------------------------------------------

  let source = null;
  const heard = () => {
    heardAt = Date.now();
    if (away) {
      network(true);
      send();
    }
  };
  const listen = () => {
    if (source) source.close();
    source = new EventSource("/events");
    source.onopen = () => {
      heard();
      send();
    };
    source.addEventListener("here", heard);
    source.onmessage = (event) => {
      heard();
      const news = JSON.parse(event.data);
      if (news.job !== job) location.reload();
      else if (news.revision !== revision) update();
    };
    source.onerror = () => {
      if (source.readyState === EventSource.CLOSED) {
        setTimeout(listen, AGAIN_MS);
        update();
      } else {
        network(false);
      }
    };
  };
  const wake = () => {
    if (document.visibilityState !== "visible") return;
    listen();
    send();
    update();
  };
  document.addEventListener("visibilitychange", wake);
  window.addEventListener("online", wake);
  window.addEventListener("offline", () => network(false));
  window.addEventListener("storage", () => {
    showConflicts();
    applyKept();
  });

  // A picture that could not come is asked for again with the next change.
  document.addEventListener(
    "error",
    (event) => {
      if (event.target instanceof HTMLImageElement && event.target.dataset.src) event.target.removeAttribute("src");
    },
    true,
  );

  // ---- number pad ---------------------------------------------------------------------------------

  const pad = (() => {
    const figures = ["7", "8", "9", "⌫", "4", "5", "6", "+", "1", "2", "3", "−", "0"];
    const decimal = [...figures, ".", "C", "Enter"];
    // As a tape in inches is read: 23 5/8.
    const tape = [...figures, "/", "␣", ".", "C", "Enter"];
    const names = { "/": "slash of a fraction", "␣": "blank before a fraction", "⌫": "delete the last figure", "+": "plus, deviation from nominal", "−": "minus, deviation from nominal", ".": "point", C: "clear" };
    const build = (form) => {
      const field = form.querySelector(".value");
      const box = document.createElement("div");
      box.className = "pad";
      box.setAttribute("role", "group");
      box.setAttribute("aria-label", "number pad for " + form.dataset.control);
      for (const key of form.dataset.pad === "tape" ? tape : decimal) {
        const b = document.createElement("button");
        b.type = key === "Enter" ? "submit" : "button";
        b.textContent = key;
        if (key === "Enter") {
          b.className = "enter";
          box.append(b);
          continue;
        }
        if (names[key]) b.setAttribute("aria-label", names[key]);
        b.addEventListener("click", () => {
          const v = field.value;
          if (key === "⌫") field.value = v.slice(0, -1);
          else if (key === "C") field.value = "";
          else if (key === "+" || key === "−") field.value = key + v.replace(/^[+−-]/, "");
          else field.value = v + (key === "␣" ? " " : key);
        });
        box.append(b);
      }
      return box;
    };
    const under = (form) => {
      if (form.querySelector(".pad")) return;
      for (const other of document.querySelectorAll(".pad")) other.remove();
      // The pad is larger than the device's own keys, which then only hide the page.
      if (matchMedia("(pointer: coarse)").matches) form.querySelector(".value").inputMode = "none";
      form.querySelector(".entry").after(build(form));
    };
    document.addEventListener("focusin", (event) => {
      const form = event.target.closest("form.reading");
      if (form && event.target.classList.contains("value")) under(form);
    });
    return { under };
  })();

  // ---- the frame, turned with a finger --------------------------------------------------------------

  const frame = (() => {
    const box = $("turn");
    if (!box) return { mark() {} };
    const NS = "http://www.w3.org/2000/svg";
    const WIDE = 500;
    const HIGH = 390;
    const START = [0.85, 0.5];
    let data = null;
    let angles = [...START];
    let current = null;
    let asked = false;

    const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
    const sum = (...terms) => terms.reduce((s, [k, v]) => [s[0] + k * v[0], s[1] + k * v[1], s[2] + k * v[2]], [0, 0, 0]);
    const unit = (a) => {
      const l = Math.sqrt(dot(a, a)) || 1;
      return [a[0] / l, a[1] / l, a[2] / l];
    };
    const node = (name, attributes, parent) => {
      const n = document.createElementNS(NS, name);
      for (const [k, v] of Object.entries(attributes)) n.setAttribute(k, v);
      parent.append(n);
      return n;
    };

    const up = () => {
      const labels = $("done-labels");
      const name = labels ? labels.dataset.setup : "";
      const setup = data.setups.find((s) => s.name === name) || data.setups[0];
      return unit(setup ? setup.up : [0, 0, 1]);
    };

    let drawn = "";
    const draw = () => {
      if (!data) return;
      const done = $("done-labels");
      const now = [current, ...angles, done ? done.dataset.labels + done.dataset.setup : ""].join("|");
      if (now === drawn) return;
      drawn = now;
      const high = up();
      let ahead = sum([1, data.forward], [-dot(data.forward, high), high]);
      ahead = dot(ahead, ahead) > 1e-6 ? unit(ahead) : unit(cross(high, Math.abs(high[0]) < 0.9 ? [1, 0, 0] : [0, 1, 0]));
      const left = cross(high, ahead);
      const [turn, tilt] = angles;
      const flat = sum([Math.cos(turn), ahead], [-Math.sin(turn), left]);
      const eye = sum([Math.cos(tilt), flat], [Math.sin(tilt), high]);
      const right = unit(cross(high, flat));
      const top = cross(eye, right);
      const all = data.tubes.flatMap((t) => t.line);
      const middle = [0, 1, 2].map((i) => {
        const v = all.map((p) => p[i]);
        return (Math.min(...v) + Math.max(...v)) / 2;
      });
      // One scale for all sides, so that turning does not swell the frame.
      const reach = Math.max(...all.map((p) => Math.sqrt(dot(sum([1, p], [-1, middle]), sum([1, p], [-1, middle])))));
      const scale = (0.5 * Math.min(WIDE, HIGH * 1.25) * 0.92) / (reach || 1);
      const on = (p) => {
        const d = sum([1, p], [-1, middle]);
        return [WIDE / 2 + scale * dot(d, right), HIGH / 2 - scale * dot(d, top), dot(d, eye)];
      };
      const text = (line) => line.map((p) => p[0].toFixed(1) + "," + p[1].toFixed(1)).join(" ");
      const svg = document.createElementNS(NS, "svg");
      svg.setAttribute("viewBox", "0 0 " + WIDE + " " + HIGH);
      svg.setAttribute("aria-hidden", "true");
      // Tubes in pieces, the farthest first.
      const pieces = [];
      for (const tube of data.tubes) {
        for (let i = 1; i < tube.line.length; i++) {
          const [a, b] = [tube.line[i - 1], tube.line[i]];
          const parts = Math.max(1, Math.round(Math.sqrt(dot(sum([1, b], [-1, a]), sum([1, b], [-1, a]))) / 150));
          for (let k = 0; k < parts; k++) {
            const p = on(sum([1 - k / parts, a], [k / parts, b]));
            const q = on(sum([1 - (k + 1) / parts, a], [(k + 1) / parts, b]));
            pieces.push({ p, q, w: Math.max(3, tube.width * scale), depth: p[2] + q[2] });
          }
        }
      }
      pieces.sort((a, b) => a.depth - b.depth);
      for (const s of pieces) {
        node("polyline", { points: text([s.p, s.q]), class: "tube-edge", "stroke-width": (s.w + 2).toFixed(1) }, svg);
        node("polyline", { points: text([s.p, s.q]), class: "tube", "stroke-width": s.w.toFixed(1) }, svg);
      }
      const labels = new Set(($("done-labels")?.dataset.labels || "").split(" "));
      for (const [label, line] of Object.entries(data.passes)) {
        if (label !== current) node("polyline", { points: text(line.map(on)), class: labels.has(label) ? "welded" : "open" }, svg);
      }
      const mine = data.passes[current] || data.tacks[current];
      for (const j of data.joints) {
        if (mine && current.startsWith(j.name) && !/[0-9]/.test(current.charAt(j.name.length))) continue;
        const at = on(j.at);
        node("text", { x: (at[0] + 6).toFixed(1), y: (at[1] - 6).toFixed(1) }, svg).textContent = j.name;
      }
      if (mine) {
        const line = mine.map(on);
        const at = line[Math.floor(line.length / 2)];
        if (line.length > 1) {
          node("polyline", { points: text(line), class: "halo" }, svg);
          node("polyline", { points: text(line), class: "current" }, svg);
        }
        node("circle", { cx: at[0].toFixed(1), cy: at[1].toFixed(1), r: 20, class: "ring" }, svg);
        const flag = node("text", { class: "flag", x: Math.min(WIDE - 130, at[0] + 26).toFixed(1), y: Math.max(26, at[1] - 18).toFixed(1) }, svg);
        flag.textContent = current;
      }
      box.replaceChildren(svg);
    };

    const mark = async (card) => {
      current = card && card.dataset.weld ? card.dataset.label : null;
      const words = $("look-words");
      words.textContent = current ? "Marked: " + current + (card.querySelector(".parts") ? ", " + card.querySelector(".parts").textContent : "") + ". Solid: welded. Dotted: open." : "Solid: welded. Dotted: open.";
      if (!data && !asked) {
        asked = true;
        try {
          const answer = await request("/frame.json", {});
          if (answer.ok) data = await answer.json();
        } catch {
          // The drawing can wait for the network.
        }
        asked = false;
        if (data) $("look").hidden = false;
      }
      draw();
    };

    const turn = (sideways, upwards) => {
      angles = [angles[0] + sideways, Math.max(-1.55, Math.min(1.55, angles[1] + upwards))];
      draw();
    };
    let from = null;
    box.addEventListener("pointerdown", (e) => {
      from = [e.clientX, e.clientY];
      box.setPointerCapture(e.pointerId);
    });
    box.addEventListener("pointermove", (e) => {
      if (!from) return;
      turn((e.clientX - from[0]) * -0.01, (e.clientY - from[1]) * 0.01);
      from = [e.clientX, e.clientY];
    });
    for (const end of ["pointerup", "pointercancel"]) box.addEventListener(end, () => (from = null));
    const moves = { left: [0.26, 0], right: [-0.26, 0], up: [0, 0.2], down: [0, -0.2] };
    const keys = { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down" };
    const step = (name) => {
      if (moves[name]) turn(...moves[name]);
      else {
        angles = [...START];
        draw();
      }
    };
    box.addEventListener("keydown", (e) => {
      if (!keys[e.key]) return;
      e.preventDefault();
      step(keys[e.key]);
    });
    for (const b of document.querySelectorAll("[data-turn]")) b.addEventListener("click", () => step(b.dataset.turn));
    return { mark };
  })();

  // The foot of the page, and whatever is scrolled to, stays clear of the button however tall its dock is.
  const dock = document.querySelector(".dock");
  if (dock) {
    new ResizeObserver(() => document.documentElement.style.setProperty("--dock", dock.offsetHeight + "px")).observe(dock);
  }

  // ---- begin --------------------------------------------------------------------------------------

  showConflicts();
  showClashes();
  setClocks();
  applyKept();
  listen();
  send();
  setInterval(pace, 500);
})();
