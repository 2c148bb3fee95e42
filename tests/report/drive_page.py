#!/usr/bin/env python3
"""Uses report.html as a person would, in headless Chromium: pointer, keyboard, screen reader's tree, light and dark.

drive_page.py CHROMIUM PAGE SLOTS     prints what does not hold, one line each; exit status 1 if there is any.
"""
import json
import os
import sys

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "support"))
from browser import CONTRAST, drive  # noqa: E402

BROWSER, PAGE, SLOTS = sys.argv[1], sys.argv[2], int(sys.argv[3])
faults = []


def expect(holds, what):
    if not holds:
        faults.append(what)


def middle(browser, selector, share=0.5):
    """Of what is in view after it has been scrolled there."""
    return browser.js(f"""(() => {{ const e = document.querySelector({json.dumps(selector)});
        e.scrollIntoView({{block: 'center', inline: 'center', behavior: 'instant'}});
        const b = e.getBoundingClientRect(); return [b.left + b.width * {share}, b.top + b.height / 2]; }})()""")


def shown(browser, selector):
    """How many of them are drawn."""
    return browser.js(f"[...document.querySelectorAll({json.dumps(selector)})].filter(e => e.getClientRects().length).length")


def loads_nothing(browser):
    asked = [e["params"]["request"]["url"] for e in browser.events if e.get("method") == "Network.requestWillBeSent"]
    outside = [u[:100] for u in asked if not u.startswith("data:") and u != "file://" + PAGE]
    expect(not outside, f"the page asks for {outside}")
    said = [e["params"] for e in browser.events
            if e.get("method") in ("Log.entryAdded", "Runtime.exceptionThrown", "Runtime.consoleAPICalled")]
    expect(not said, f"the browser complains: {json.dumps(said)[:300]}")


def layers(browser):
    for box, what in (("see-edge", ".e path"), ("see-mid", ".mid"), ("see-art", ".a path"), ("see-band", ".band"),
                      ("see-ink", ".i path"), ("see-dir", ".d path"), ("see-name", ".world text")):
        if not browser.js(f"!!document.getElementById('{box}')"):
            continue
        before = shown(browser, what)
        browser.js(f"document.getElementById('{box}').focus()")
        browser.press(" ")
        after = shown(browser, what)
        expect(before > 0 and after == 0, f"{box}: {before} drawn, {after} after it was switched off")
        browser.click(*middle(browser, f"label[for={box}]"))
        expect(shown(browser, what) == before, f"{box}: its label does not bring it back")


def pairs(browser):
    """A row lights up its place in the photo, and the other way round."""
    widths = "[...document.querySelectorAll('.stage a')].map(a => parseFloat(getComputedStyle(a.querySelector('.edge')).strokeWidth))"
    rows = "[...document.querySelectorAll('tbody tr')].map(r => getComputedStyle(r).backgroundColor)"
    browser.point(2, 2)
    plain_widths, plain_rows = browser.js(widths), browser.js(rows)
    for n in range(1, SLOTS + 1):
        browser.point(*middle(browser, f"#row-{n}"))
        lit = [i + 1 for i, (a, b) in enumerate(zip(browser.js(widths), plain_widths)) if a > 2 * b]
        expect(lit == [n], f"row {n} lights up {lit} in the photo")
        browser.point(*middle(browser, f"#pic-{n} .hit"))
        lit = [i + 1 for i, (a, b) in enumerate(zip(browser.js(rows), plain_rows)) if a != b]
        expect(lit == [n], f"slot {n} in the photo lights up the rows {lit}")
    browser.click(*middle(browser, "#pic-2 .hit"))
    expect(browser.js("location.hash") == "#row-2", "a slot in the photo does not lead to its row")
    expect(browser.js("(b => b.top >= 0 && b.bottom <= innerHeight)(document.getElementById('row-2').getBoundingClientRect())"),
           "the row that a slot leads to is not in view")
    browser.js("document.querySelector('#row-3 th a').focus()")
    browser.press("Enter")
    expect(browser.js("location.hash") == "#pic-3", "a row's name does not lead to its place in the photo")
    lit = [i + 1 for i, (a, b) in enumerate(zip(browser.js(widths), plain_widths)) if a > 2 * b]
    expect(3 in lit, "the place that a row leads to is not marked")


def zoom(browser):
    width = "document.querySelector('.stage svg').getBoundingClientRect().width"
    start = browser.js(width)
    browser.js("document.getElementById('size-1').focus()")
    for times in (2, 4):
        browser.press("ArrowRight")
        expect(abs(browser.js(width) / start - times) < 0.1, f"{times} times is {browser.js(width) / start:.2f} times")
    browser.js("document.querySelector('.stage').focus()")
    for _ in range(5):
        browser.press("ArrowRight")
        browser.press("ArrowDown")
    browser.js("new Promise(done => setTimeout(done, 600))")
    moved = browser.js("[document.querySelector('.stage').scrollLeft, document.querySelector('.stage').scrollTop]")
    expect(min(moved) > 0, f"arrow keys do not move the enlarged photo: {moved}")
    expect(browser.js("document.documentElement.scrollWidth <= innerWidth"), "the enlarged photo widens the page")
    browser.js("document.getElementById('size-1').click()")
    names = "parseFloat(getComputedStyle(document.querySelector('.world text')).fontSize)"
    scale = "document.querySelector('.world').getCTM().a"
    near = browser.js(names) * browser.js(scale)
    if browser.js("!!document.getElementById('see-near')"):
        close = browser.js(scale)
        browser.js("document.getElementById('see-near').click()")
        expect(browser.js(scale) < 0.95 * close, "without the close-up the photo is as large")
        expect(abs(browser.js(names) * browser.js(scale) / near - 1) < 0.05, "the close-up changes the names' size")
        browser.js("document.getElementById('see-near').click()")


def keyboard(browser):
    """Tab reaches all that can be used, and shows where it is."""
    browser.js("document.activeElement.blur(); window.scrollTo(0, 0)")
    browser.call("Page.navigate", url="file://" + PAGE)
    browser.events.clear()
    browser.wait_for("Page.loadEventFired")
    reached, unseen = [], []
    for _ in range(400):
        browser.press("Tab")
        now = browser.js("""(() => { const e = document.activeElement; if (!e || e === document.body) return null;
            const s = getComputedStyle(e), c = e.querySelector && e.querySelector('.case');
            const mark = s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2 ||
                c && parseFloat(getComputedStyle(c).strokeWidth) > 8;
            return [e.id || e.getAttribute('href') || e.className || e.tagName, mark]; })()""")
        if now is None or (reached and now[0] == reached[0] and len(reached) > 3):
            break
        reached.append(now[0])
        if not now[1]:
            unseen.append(now[0])
    wanted = ["see-edge", "see-mid", "see-art", "see-name", "stage"]
    wanted += [f"#row-{n}" for n in range(1, SLOTS + 1)] + [f"pic-{n}" for n in range(1, SLOTS + 1)]
    wanted += [f"#pic-{n}" for n in range(1, SLOTS + 1)]
    missing = [w for w in wanted if w not in reached]
    expect(not missing, f"the keyboard does not reach {missing}")
    expect("SUMMARY" in reached and any(r.startswith("size-") for r in reached), f"only {reached} are reached")
    expect(not unseen, f"the focus is not to be seen on {sorted(set(unseen))}")


def aloud(browser):
    """What a screen reader is told."""
    nodes = [n for n in browser.call("Accessibility.getFullAXTree")["nodes"] if not n.get("ignored")]

    def named(role):
        return [n.get("name", {}).get("value", "") for n in nodes if n["role"]["value"] == role]

    expect(named("RootWebArea")[0] != "", "the page has no title")
    for role in ("link", "checkbox", "radio", "heading", "columnheader", "rowheader", "region"):
        expect(named(role) and all(named(role)), f"{role}: {named(role)}")
    expect(len(named("row")) == SLOTS + 1, f"{len(named('row'))} rows are told, not {SLOTS + 1}")
    for name in browser.js("[...document.querySelectorAll('tbody th')].map(e => e.textContent)"):
        told = [x for x in named("link") if x.startswith(f"Slot {name}:")]
        expect(len(told) == 1, f"slot {name} in the photo is told as {told}")
    levels = [next(p["value"]["value"] for p in n["properties"] if p["name"] == "level")
              for n in nodes if n["role"]["value"] == "heading"]
    expect(levels and levels[0] == 1 and levels.count(1) == 1 and all(b - a <= 1 for a, b in zip(levels, levels[1:])),
           f"heading levels {levels}")
    expect(browser.js("document.documentElement.lang") == "en", "the language is not told")


def readable(browser):
    """WCAG 2.1, 1.4.3: 4.5 to 1 for all text; 1.4.10: no sideways scrolling at 320 px."""
    browser.js("document.querySelectorAll('details').forEach(d => d.open = true)")
    grounds = []
    for scheme in ("light", "dark"):
        browser.scheme(scheme)
        ratio, text = browser.js(CONTRAST)
        expect(ratio >= 4.5, f"{scheme}: contrast {ratio:.2f} of \"{text}\"")
        grounds.append(browser.js("getComputedStyle(document.body).backgroundColor"))
    expect(grounds[0] != grounds[1], "dark looks like light")
    for width in (320, 500, 800):
        browser.size(width, 900)
        wide = browser.js("document.documentElement.scrollWidth")
        expect(wide <= width, f"{width} px wide, the page takes {wide} px")
        split = browser.js("""[...document.querySelectorAll('.view input')].filter(i => { const a = i.getBoundingClientRect(),
            b = document.querySelector(`label[for=${i.id}]`).getBoundingClientRect(); return b.left < a.right - 1; }).map(i => i.id)""")
        expect(not split, f"{width} px wide: {split} stand apart from their labels")


def budgets(browser):
    bars = browser.js("""[...document.querySelectorAll('details svg')].map(svg => [...svg.querySelectorAll('rect')]
        .filter(r => r.nextElementSibling && /^[\\d.]+$/.test(r.nextElementSibling.textContent))
        .map(r => [r.width.baseVal.value, parseFloat(r.nextElementSibling.textContent)]))""")
    expect(bars and all(bars), "no chart of what the uncertainty consists of")
    for chart in bars:
        most = max(chart, key=lambda b: b[1])
        for width, value in chart:
            # rounded to 0.001 mm as written; a bar is a pixel long at least
            off = abs(width - max(1.0, most[0] * value / most[1]))
            expect(off <= 1.0 + most[0] * 0.0011 / most[1], f"a bar of {width} px says {value}")


def main():
    drive(BROWSER, "file://" + PAGE, (1100, 900), (loads_nothing, layers, pairs, zoom, keyboard, aloud, budgets, readable))
    for fault in faults:
        print(fault[:300])
    return 1 if faults else 0


sys.exit(main())
