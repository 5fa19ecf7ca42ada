"""What holds for every page: it fits, its letters can be read, its controls have names and room.

Contrast is that of WCAG 2.2, success criterion 1.4.3: 4.5, or 3 for large letters; controls that a
thumb presses are held to 2.5.8's 24 px and more.
"""

import pytest
from playwright.sync_api import expect

from soapstone.web.tabs import JOB, SHOP
from tests.pages.conftest import DESK, PHONE

PATHS = [path.lstrip("/") for _, path in SHOP] + [f"job/stern-arch{path}" for _, path in JOB]

FAINT = """() => {
  const parse = (text) => {
    const n = text.match(/[-\\d.]+/g).map(Number);
    const unit = text.startsWith("color(") ? 255 : 1;
    return [n[0] * unit, n[1] * unit, n[2] * unit, n.length > 3 ? n[3] : 1];
  };
  const over = (top, under) => top.slice(0, 3).map((v, k) => v * top[3] + under[k] * (1 - top[3]));
  const ground = (one) => {
    if (!one) return [255, 255, 255];
    const colour = parse(getComputedStyle(one).backgroundColor);
    return colour[3] === 1 ? colour.slice(0, 3) : over(colour, ground(one.parentElement));
  };
  const light = (c) => {
    const bend = (v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
    const [r, g, b] = c.map((v) => bend(v / 255));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const faint = [];
  for (const one of document.querySelectorAll("main *")) {
    const own = [...one.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    const frame = one.getBoundingClientRect();
    if (!own || !frame.width || !one.checkVisibility()) continue;
    if (one.closest("[disabled], svg, canvas")) continue;
    const style = getComputedStyle(one);
    const under = ground(one);
    const ink = over(parse(style.color), under);
    const [a, b] = [light(ink), light(under)].sort((x, y) => y - x);
    const size = parseFloat(style.fontSize), ratio = (a + 0.05) / (b + 0.05);
    const large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
    if (ratio < (large ? 3 : 4.5)) {
      faint.push(`${one.textContent.trim().slice(0, 40)}: ${ratio.toFixed(2)}`);
    }
  }
  return faint;
}"""

NAMELESS = """() => [...document.querySelectorAll("main button, main a, main input, main select")]
  .filter((one) => one.checkVisibility() && !(one.innerText || "").trim()
    && !one.getAttribute("aria-label") && !one.closest("label") && !one.closest(".q-uploader"))
  .map((one) => one.outerHTML.slice(0, 120))"""

SMALL = """() => [...document.querySelectorAll("main button, main a.tab, main .entry")]
  .filter((one) => one.checkVisibility())
  .map((one) => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
  .filter(([, frame]) => frame.height < 36 || frame.width < 36).map(([html]) => html)"""


@pytest.mark.parametrize(("page", "scheme"), [(DESK, "dark"), (PHONE, "light")], indirect=["page"])
def test_it_fits_can_be_read_and_can_be_pressed(shop, page, scheme):
    page.emulate_media(color_scheme=scheme)
    faults = {}
    for path in PATHS:
        page.goto(shop[1] + path)
        expect(page.locator("h1").first).to_be_visible()
        expect(page.locator("main button").first).to_be_visible()
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        found = page.evaluate(FAINT) + page.evaluate(NAMELESS) + page.evaluate(SMALL)
        if wide > 0:
            found.append(f"{wide} px too wide")
        if found:
            faults[path] = found
    assert faults == {}


@pytest.mark.parametrize("path", ["job/stern-arch"])
def test_the_keyboard_alone_reaches_every_control_in_view_of_what_it_is_on(shop, page, path):
    page.goto(shop[1] + path)
    expect(page.get_by_label("Corner A, x")).to_be_visible()
    reached = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        at = page.evaluate(
            """() => { const one = document.activeElement, style = getComputedStyle(one);
            return [one.getAttribute("aria-label") || one.innerText || one.tagName,
                    one === document.body || style.outlineStyle !== "none"]; }"""
        )
        assert at[1], f"{at[0]} does not show that it has the keyboard"
        reached.add(at[0].strip())
    assert {"← Jobs", "Corner A, x", "Put a corner after A", "port leg", "Room"} <= reached
