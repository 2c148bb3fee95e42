#!/usr/bin/env python3
"""Uses the bench's page as a person would, in headless Chromium: a photo sent, an event from elsewhere, burned, keyboard, screen reader's
tree, phone width, dark.

drive_bench.py CHROMIUM ADDRESS PHOTO OTHER_PHOTO     prints what does not hold, one line each; exit status 1 if there is any.
"""
import os
import sys
import time
import urllib.request

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "support"))
from browser import CONTRAST, drive  # noqa: E402

BROWSER, ADDRESS, PHOTO, OTHER_PHOTO = sys.argv[1:5]
faults = []


def expect(holds, what):
    if not holds:
        faults.append(what)


def until(browser, expression, what, seconds=30):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if browser.js(expression):
            return True
        time.sleep(0.1)
    faults.append(f"{what}: {expression} does not come true; the page says " +
                  str(browser.js("document.getElementById('view').innerText.slice(0, 200)")))
    return False


TITLE = "document.querySelector('#verdict h1').textContent"


def follows_the_bench(browser):
    until(browser, "document.getElementById('link').textContent === 'live'", "the stream of events")


def send_a_photo(browser):
    node = browser.call("Runtime.evaluate", expression="document.querySelectorAll('input[name=photo]')[1]")["result"]["objectId"]
    browser.call("DOM.setFileInputFiles", files=[PHOTO], objectId=node)
    until(browser, f"{TITLE} === '5 of 6 ready'", "a photo sent from the page")
    until(browser, "document.querySelector('figure img').naturalWidth > 500", "the photo with its outlines")
    expect("5 of 6 ready" in browser.js("document.getElementById('say').textContent"), "nothing is said aloud")
    expect(browser.js("document.title").startswith("5 of 6 ready"), "the title does not tell")


def told_by_an_event(browser):
    """A program posts a photo; the page shows it by itself."""
    with open(OTHER_PHOTO, "rb") as photo:
        body = b"--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"b.jpg\"\r\n\r\n" + photo.read() + b"\r\n--x--\r\n"
    request = urllib.request.Request(ADDRESS + "photos", body, {"Content-Type": "multipart/form-data; boundary=x"})
    with urllib.request.urlopen(request) as answer:
        expect(answer.status == 201 and answer.headers["Location"] == "/loads/2", f"posted: {answer.status}")
    until(browser, "document.getElementById('view').innerHTML.includes('/loads/2/closeup.jpg')", "an event")


def by_keyboard(browser):
    """Tab reaches what can be used and shows where it is; Enter on Burned writes it into the book."""
    reached, unseen = [], []
    browser.js("document.activeElement.blur(); window.scrollTo(0, 0)")
    for _ in range(60):
        browser.press("Tab")
        now = browser.js("""(() => { const e = document.activeElement; if (!e || e === document.body) return null;
            const marked = n => { const s = getComputedStyle(n); return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2; };
            return [e.id || e.getAttribute('href') || e.name || e.tagName, marked(e) || marked(e.parentElement)]; })()""")
        if now is None or (len(reached) > 3 and now[0] == reached[0]):
            break
        reached.append(now[0])
        if not now[1]:
            unseen.append(now[0])
    missing = [w for w in ("burned", "photo", "snap", "delay", "fixture", "/loads/2/layout.svg", "/book.csv") if w not in reached]
    expect(not missing, f"the keyboard does not reach {missing}, only {reached}")
    expect(not unseen, f"the focus is not to be seen on {unseen}")
    browser.js("document.getElementById('burned').focus()")
    browser.press("Enter")
    if until(browser, f"{TITLE} === 'Burned'", "Enter on Burned"):
        browser.js("document.getElementById('spoiled-1').focus()")
        browser.press(" ")
        until(browser, "document.getElementById('spoiled-1').getAttribute('aria-pressed') === 'true'", "a piece marked spoiled")
        until(browser, "document.activeElement.id === 'spoiled-1'", "the focus stays where it was")


def by_countdown(browser):
    browser.js("document.getElementById('delay').value = '10'; document.getElementById('snap').click()")
    until(browser, "!document.getElementById('count').hidden && document.getElementById('count').textContent < 10", "the countdown")
    browser.press("Escape")
    expect(browser.js("document.getElementById('count').hidden"), "Escape does not stop the countdown")


def aloud(browser):
    nodes = [n for n in browser.call("Accessibility.getFullAXTree")["nodes"] if not n.get("ignored")]

    def named(role):
        return [n.get("name", {}).get("value", "") for n in nodes if n["role"]["value"] == role]

    for role in ("button", "link", "heading", "region", "image", "combobox"):
        expect(named(role) and all(named(role)), f"{role}: {named(role)}")
    expect(named("main") and named("complementary") and named("status"), "the page's parts are not told")
    levels = [next(p["value"]["value"] for p in n["properties"] if p["name"] == "level") for n in nodes if n["role"]["value"] == "heading"]
    expect(levels and levels[0] == 1 and levels.count(1) == 1 and max(levels) == 2, f"heading levels {levels}")


def readable(browser):
    """WCAG 2.1: 1.4.3 contrast, 1.4.10 no sideways scrolling at 320 px, 2.5.5 targets of 44 px."""
    browser.js("document.querySelectorAll('details').forEach(d => d.open = true)")
    grounds = []
    for scheme in ("light", "dark"):
        browser.scheme(scheme)
        time.sleep(0.4)
        ratio, text = browser.js(CONTRAST)
        expect(ratio >= 4.5, f"{scheme}: contrast {ratio:.2f} of \"{text}\"")
        grounds.append(browser.js("getComputedStyle(document.body).backgroundColor"))
    expect(grounds[0] != grounds[1], "dark looks like light")
    for width in (320, 390, 800, 1600):
        browser.size(width, 800)
        wide = browser.js("document.documentElement.scrollWidth")
        expect(wide <= width, f"{width} px wide, the page takes {wide} px")
        small = browser.js("[...document.querySelectorAll('button,.pick,.get,select')].filter(e => e.getClientRects().length && "
                           "e.getBoundingClientRect().height < 43.5).map(e => e.textContent.slice(0, 20))")
        expect(not small, f"{width} px wide: too small for a finger: {small}")
    browser.size(390, 800)
    expect(browser.js("parseFloat(getComputedStyle(document.querySelector('#verdict h1')).fontSize)") >= 36, "the verdict is small on a phone")
    expect(browser.js("(b => b.bottom <= innerHeight + 1 && b.top > 400)(document.querySelector('.hand').getBoundingClientRect())"),
           "the photo's button is not at hand on a phone")


def clickable(browser):
    """Whatever is to be pressed is the topmost thing at its middle: nothing lies over it, on a phone and in the dark."""
    for scheme in ("light", "dark"):
        browser.scheme(scheme)
        for width in (390, 1300):
            browser.size(width, 800)
            covered = browser.js("""[...document.querySelectorAll('button,.pick,.get,select,a,summary,textarea,input:not([type=file])')]
                .filter(e => e.getClientRects().length && !e.matches('.skip')).filter(e => {
                  e.scrollIntoView({block: 'center'});
                  const r = e.getClientRects()[0], top = document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2);
                  return !(top && (e === top || e.contains(top) || top.contains(e)));
                }).map(e => e.id || e.textContent.slice(0, 20))""")
            expect(not covered, f"{scheme}, {width} px wide: something lies over {covered}")


def complains_of_nothing(browser):
    said = [e["params"] for e in browser.events if e.get("method") in ("Log.entryAdded", "Runtime.exceptionThrown", "Runtime.consoleAPICalled")]
    expect(not said, f"the browser complains: {str(said)[:300]}")
    asked = [e["params"]["request"]["url"] for e in browser.events if e.get("method") == "Network.requestWillBeSent"]
    outside = [u for u in asked if not u.startswith(ADDRESS) and not u.startswith("data:")]
    expect(not outside, f"the page asks for {outside}")


def main():
    drive(BROWSER, ADDRESS, (1500, 1000), (follows_the_bench, send_a_photo, told_by_an_event, aloud, by_keyboard, by_countdown, readable, clickable,
                                           complains_of_nothing))
    for fault in faults:
        print(fault[:400])
    return 1 if faults else 0


sys.exit(main())
