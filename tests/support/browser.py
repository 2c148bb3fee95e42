"""Headless Chromium for tests, by its debugging protocol over a pipe; needs nothing but Python."""
import json
import os
import subprocess
import tempfile


class Browser:
    def __init__(self, program, profile):
        down, self.write_end = os.pipe()
        self.read_end, up = os.pipe()

        def at_three_and_four():
            # first out of the way: either may itself be 3 or 4
            a, b = os.dup(down), os.dup(up)
            spare = [os.dup(a), os.dup(b)]
            while min(spare) < 5:
                spare = [os.dup(s) for s in spare]
            os.dup2(spare[0], 3)
            os.dup2(spare[1], 4)

        self.process = subprocess.Popen(
            [program, "--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-pipe",
             "--user-data-dir=" + profile, "about:blank"],
            preexec_fn=at_three_and_four, close_fds=False, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        os.close(down)
        os.close(up)
        self.number, self.session, self.buffer, self.events = 0, None, b"", []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Network", "Log", "Runtime", "DOM", "Accessibility"):
            self.call(domain + ".enable")

    def read(self):
        while b"\0" not in self.buffer:
            part = os.read(self.read_end, 1 << 20)
            if not part:
                raise SystemExit("the browser ended")
            self.buffer += part
        message, self.buffer = self.buffer.split(b"\0", 1)
        return json.loads(message)

    def call(self, method, **parameters):
        self.number += 1
        message = {"id": self.number, "method": method, "params": parameters}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.write_end, json.dumps(message).encode() + b"\0")
        while True:
            answer = self.read()
            if answer.get("id") == self.number:
                if "error" in answer:
                    raise SystemExit(method + ": " + json.dumps(answer["error"]))
                return answer["result"]
            self.events.append(answer)

    def wait_for(self, event):
        while not any(e.get("method") == event for e in self.events):
            self.events.append(self.read())

    def js(self, expression):
        answer = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in answer:
            raise SystemExit(expression + ": " + json.dumps(answer["exceptionDetails"])[:400])
        return answer["result"].get("value")

    def size(self, width, height):
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def scheme(self, name):
        self.call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": name}])

    def point(self, x, y, kind="mouseMoved", **more):
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, **more)
        self.js("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")

    def click(self, x, y):
        self.point(x, y)
        self.point(x, y, "mousePressed", button="left", clickCount=1)
        self.point(x, y, "mouseReleased", button="left", clickCount=1)

    KEYS = {"Tab": 9, "Escape": 27, "Enter": 13, " ": 32, "ArrowRight": 39, "ArrowLeft": 37, "ArrowDown": 40}

    def press(self, key):
        text = {"Enter": "\r", " ": " "}.get(key)
        event = {"key": key, "code": "Space" if key == " " else key, "windowsVirtualKeyCode": self.KEYS[key]}
        self.call("Input.dispatchKeyEvent", type="keyDown", **event, **({"text": text} if text else {}))
        self.call("Input.dispatchKeyEvent", type="keyUp", **event)
        self.js("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


# The worst contrast of all text that is shown (WCAG 2.1, 1.4.3), and that text.
CONTRAST = """(() => {
  const linear = v => (v /= 255) <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  const light = c => 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
  const rgba = text => { const p = text.match(/[\\d.]+/g).map(Number); return p.length < 4 ? [...p, 1] : p; };
  const ground = e => { for (; e; e = e.parentElement) { const c = rgba(getComputedStyle(e).backgroundColor);
                          if (c[3] === 1) return c; } return [255, 255, 255, 1]; };
  let worst = [99, ''];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || e.closest('.stage, .aloud') || !e.checkVisibility()) continue;
    const s = getComputedStyle(e);
    const text = rgba(e instanceof SVGElement ? s.fill : s.color);
    const a = light(text), b = light(ground(e));
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < worst[0]) worst = [ratio, walk.currentNode.data.trim().slice(0, 40)];
  }
  return worst;
})()"""


def drive(program, address, size, steps):
    """Runs the steps on a light page of that size, once it has loaded."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        browser = Browser(program, profile)
        try:
            browser.size(*size)
            browser.scheme("light")
            browser.call("Page.navigate", url=address)
            browser.wait_for("Page.loadEventFired")
            for step in steps:
                step(browser)
        finally:
            browser.process.kill()
            browser.process.wait()
