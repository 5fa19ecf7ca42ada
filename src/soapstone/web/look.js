// What every page does by itself, before anything else of it is there.
(() => {
  const root = document.documentElement;
  const kept = localStorage.getItem("light");
  const light = kept === null ? matchMedia("(prefers-color-scheme: light)").matches : kept === "1";
  root.toggleAttribute("data-light", light);
  root.lang = "en";
  let held = null, meant = false;
  window.soapstone = {
    turn() {
      const now = root.toggleAttribute("data-light");
      localStorage.setItem("light", now ? "1" : "0");
      dispatchEvent(new Event("soapstone-light"));
    },
    // a field that is taken away with the page around it says "change" as well: what stands in it
    // counts only if Enter, Tab or a touch elsewhere meant it, and is still typed in otherwise
    typed(field, emit) {
      const { value } = field, sure = meant;
      queueMicrotask(() => { if (sure || field.isConnected) emit(value); });
    },
    light(tube, bend) {
      for (const one of document.querySelectorAll("[data-bend]")) {
        const lit = one.dataset.tube === tube && one.dataset.bend === String(bend);
        one.classList.toggle("lit", lit);
      }
      dispatchEvent(new CustomEvent("soapstone-bend", { detail: { tube, bend } }));
    },
  };
  // A part of the page that is made anew, by another phone too, takes neither the place on the
  // keyboard nor what is being typed: both are put back into the field or button of the same name.
  const typing = (one) => one.matches?.("input.entry, textarea.entry");
  const nameOf = (one) => {
    const said = one.getAttribute("aria-label") || one.closest("label")?.innerText || one.innerText;
    return `${one.tagName} ${said ?? ""}`;
  };
  const hold = (event) => {
    const one = event.target;
    const changed = typing(one) && one.value !== one.defaultValue;
    held = { one, name: nameOf(one), text: changed && event.type === "input" ? one.value : null };
  };
  addEventListener("focusin", hold);
  addEventListener("input", (event) => { hold(event); meant = false; });
  addEventListener("keydown", (event) => {
    meant = event.key === "Enter" || event.key === "Tab";
  }, { capture: true });
  addEventListener("change", () => { if (held && meant) held.text = null; }, { capture: true });
  addEventListener("pointerdown", (event) => {
    meant = true;
    if (!held?.one.contains(event.target)) held = null;
  }, { capture: true });
  // what was put back into a field was not typed there, so leaving it would say nothing by itself
  const sayWhenLeft = (field) => {
    let said = false;
    const say = () => { if (!said) field.dispatchEvent(new Event("change", { bubbles: true })); };
    field.addEventListener("change", () => { said = true; });
    field.addEventListener("input", () => { said = false; });
    field.addEventListener("blur", say);
    field.addEventListener("keydown", (event) => { if (event.key === "Enter") setTimeout(say); });
  };
  const giveBack = () => {
    if (!held || held.one.isConnected || document.activeElement !== document.body) return;
    const same = [...document.querySelectorAll("button, a, input, select, textarea, [tabindex]")]
      .find((one) => nameOf(one) === held.name);
    if (!same) return;
    const { one, text } = held;
    same.focus({ preventScroll: true });
    if (text !== null) { same.value = text; held.text = text; sayWhenLeft(same); }
    // what was selected, to be typed over, still is
    if (typing(same)) {
      const all = one.selectionStart === 0 && one.selectionEnd === one.value.length;
      if (all) same.select();
      else same.setSelectionRange(one.selectionStart, one.selectionEnd);
    }
  };
  addEventListener("DOMContentLoaded", () =>
    new MutationObserver(giveBack).observe(document.body, { childList: true, subtree: true }));
  for (const kind of ["pointerover", "focusin"]) {
    addEventListener(kind, (event) => {
      const one = event.target.closest?.("[data-bend]");
      if (one) soapstone.light(one.dataset.tube, Number(one.dataset.bend));
    });
  }
})();
