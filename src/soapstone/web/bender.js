// A phone at the bender: what is pressed counts once the log has it, and the log alone says what is next.
(() => {
  const root = document.documentElement;
  const screen_ = document.getElementById("screen"), banner = document.getElementById("banner");
  const told = document.getElementById("told");
  const { job, tube } = screen_.dataset;
  const EVERY = 1500, PATIENCE = 6000, LONGEST = 60000;
  let busy = false, watching = false, offline = false, round = 0;

  const warn = (words) => {
    offline = Boolean(words);
    root.classList.toggle("offline", offline);
    for (const one of screen_.querySelectorAll("button, input")) one.disabled = offline;
    if (words && banner.textContent !== words) banner.textContent = words;
    banner.hidden = !words;
    if (!words) ready();
  };
  const NONE = "No connection: what you press is not kept. This page comes back by itself.";

  const show = (answer) => {
    if (answer.html !== undefined) {
      const typed = document.getElementById("angle");
      const keep = typed && answer.step === screen_.dataset.step ? typed.value : "";
      screen_.innerHTML = answer.html;
      if (answer.step !== screen_.dataset.step) scrollTo({ top: 0 });
      for (const name of ["stamp", "run", "number", "step"]) screen_.dataset[name] = answer[name];
      const angle = document.getElementById("angle");
      if (angle && keep) angle.value = keep;
      fit();
      hint();
    }
    if (answer.said !== undefined) { told.textContent = answer.said; told.hidden = !answer.said; }
    ready();
  };
  const ask = async (url, options, patience) => {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), patience);
    try {
      const answer = await fetch(url, { ...options, signal: stop.signal, cache: "no-store" });
      if (answer.status === 401) {
        warn("This phone is not let in any more: scan the code that soapstone serve shows.");
        return null;
      }
      const read = await answer.json();
      warn("");
      return read;
    } catch {
      warn(NONE);
      return null;
    } finally {
      clearTimeout(timer);
    }
  };

  // --- giving and asking ---
  const give = async (path, what) => {
    if (busy || offline) return;
    busy = true;
    round += 1;
    root.classList.add("busy");
    const late = setTimeout(() => {
      told.textContent = "No answer yet. Wait: what stands here next is what is kept.";
      told.hidden = false;
    }, 2500);
    const answer = await ask(path, {
      method: "POST", headers: { "content-type": "application/json" },
      body: JSON.stringify({ job, tube, run: screen_.dataset.run, number: Number(screen_.dataset.number), ...what }),
    }, LONGEST);
    clearTimeout(late);
    busy = false;
    root.classList.remove("busy");
    if (answer) show(answer);
    else if (told.textContent.startsWith("No answer")) told.hidden = true;
  };
  const look = async (to) => {
    const mine = ++round;
    const query = new URLSearchParams({ job, tube, back: String(to) });
    const answer = await ask(`/bender/screen?${query}`, {}, LONGEST);
    if (answer && mine === round && !busy) show(answer);
  };
  // asked for often, so only for what tells whether anything has changed
  const watch = async () => {
    if (watching || busy || document.hidden) return;
    watching = true;
    const mine = round, was = offline;
    const answer = await ask(`/bender/stamp?${new URLSearchParams({ job, tube })}`, {}, PATIENCE);
    watching = false;
    if (!answer) return;
    if (mine === round && !busy && answer.stamp !== screen_.dataset.stamp) await look(0);
    if (was && !offline) show({ said: "Connected again. This is where it stands." });
  };
  setInterval(watch, EVERY);
  addEventListener("online", watch);
  addEventListener("offline", () => warn(NONE));
  addEventListener("pageshow", watch);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) { stayAwake(); watch(); }
  });

  // --- the angle ---
  const number = (text) => Number(text.trim().replace(",", ".").replace(/°$/, ""));
  function ready() {
    const angle = document.getElementById("angle"), go = screen_.querySelector("[data-angle]");
    if (angle && go) go.disabled = offline || !angle.value.trim();
  }
  const turn = (by) => {
    const angle = document.getElementById("angle");
    const now = angle.value.trim() ? number(angle.value) : Number(angle.dataset.wanted);
    if (!Number.isFinite(now)) return;
    angle.value = Math.min(359.9, Math.max(0, now + by)).toFixed(1);
    ready();
  };
  let held = 0;
  const letGo = () => { clearTimeout(held); held = 0; };
  screen_.addEventListener("pointerdown", (event) => {
    const by = event.target.closest("[data-by]")?.dataset.by;
    if (by === undefined || offline) return;
    const again = (wait) => { turn(Number(by)); held = setTimeout(() => again(90), wait); };
    letGo();
    again(450);
  });
  for (const kind of ["pointerup", "pointercancel", "pointerleave", "blur"]) addEventListener(kind, letGo);
  screen_.addEventListener("contextmenu", (event) => { if (event.target.closest("[data-by]")) event.preventDefault(); });
  screen_.addEventListener("input", ready);
  screen_.addEventListener("keydown", (event) => {
    if (event.target.id === "angle" && event.key === "Enter") screen_.querySelector("[data-angle]")?.click();
  });
  screen_.addEventListener("click", (event) => {
    const one = event.target.closest("button");
    if (!one) return;
    // a key on the stepper, Enter or space, comes as a click without a finger on it
    if (one.dataset.by !== undefined && event.detail === 0) turn(Number(one.dataset.by));
    if (one.dataset.say) give("/bender/say", { kind: one.dataset.say });
    if (one.dataset.angle !== undefined) give("/bender/say", { kind: "angle", angle: document.getElementById("angle").value });
    if (one.dataset.begin !== undefined) give("/bender/begin", { lot: document.getElementById("lot")?.value ?? "", given_up: one.dataset.begin });
    if (one.dataset.back !== undefined) look(Number(one.dataset.back));
  });

  // --- read from two metres ---
  function fit() {
    for (const one of screen_.querySelectorAll(".giant")) {
      one.style.fontSize = "100px";
      const room = one.parentElement.clientWidth;
      one.style.fontSize = `${Math.min(150, (100 * room) / Math.max(one.scrollWidth, 1))}px`;
    }
  }
  addEventListener("resize", fit);
  document.fonts?.ready.then(fit);
  async function stayAwake() {
    try { await navigator.wakeLock?.request("screen"); } catch { /* low battery: the phone decides */ }
  }
  stayAwake();
  const hint = () => {
    if (!navigator.wakeLock) document.getElementById("awake")?.removeAttribute("hidden");
  };
  hint();
  fit();
  ready();
})();
