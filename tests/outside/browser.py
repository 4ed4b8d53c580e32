#!/usr/bin/env python3
"""The one-page report in a browser that other people wrote (Chromium, without a window).

usage: browser.py AIRLEASH FIXTURES [KEEP]

Each page is opened in light and dark, 360 and 1200 CSS pixels wide.  What is right:
 - no message on the console, no exception, and nothing asked of a network;
 - text stands against its ground with a contrast of 4.5 or more, worked out from the colours that
   the browser computed, by the formula of WCAG 2.1 (relative luminance; 1.4.3).  Text in pictures
   is judged against the page's ground;
 - headings go down by one step at a time, one h1 (common practice, HTML 4.3.11);
 - nothing is wider than the window (WCAG 2.1, 1.4.10: 320 CSS pixels, so at 320 too);
 - the accessibility tree that the browser builds has main, navigation, banner, contentinfo, named
   images, and tables with row and column headers, also where a phone shows rows as blocks;
 - printed in dark, the paper is white.
The screenshots stay in KEEP, to be looked at.
"""
import base64
import json
import os
import pathlib
import select
import subprocess
import sys
import tempfile
import time

WALK = ["--switch", "6", "--plan", "2,4,6,8,10,12,16,20"]
# All fixtures, and the scenes that have a section or an answer of their own.
PAGES = {"reduced": WALK, "walk": ["--switch", "6"],
         "calm": ["--walked", "60", "--level-dbm", "-70"]}
SCENES = ("walk", "mute", "swapped", "phantom", "sag")

IN_PAGE = r"""
(() => {
  const number = text => (text.match(/[\d.]+/g) || []).map(Number);
  const lin = c => (c /= 255) <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  const light = c => 0.2126 * lin(c[0]) + 0.7152 * lin(c[1]) + 0.0722 * lin(c[2]);
  const ratio = (a, b) => { const x = light(a), y = light(b);
    return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05); };
  const ground = e => { for (; e; e = e.parentElement) {
    const c = number(getComputedStyle(e).backgroundColor);
    if (c.length === 3 || c[3] > 0) return c; } return [255, 255, 255]; };
  const seen = e => e.getClientRects().length > 0;
  let least = 99, where = '', texts = 0;
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; (n = walker.nextNode());) {
    const e = n.parentElement;
    if (!n.data.trim() || !seen(e) || ['title', 'desc'].includes(e.localName)) continue;
    const style = getComputedStyle(e), svg = e.localName === 'text';
    const r = ratio(number(svg ? style.fill : style.color), ground(e));
    texts++;
    if (r < least) { least = r; where = e.localName + ': ' + n.data.trim().slice(0, 40); }
  }
  let wide = '';
  for (const e of document.body.querySelectorAll('*'))
    if (seen(e) && !e.closest('svg') && !e.closest('thead') &&
        e.getBoundingClientRect().right > innerWidth + 0.5)
      wide = e.localName + ' ' + e.className + ' ' + e.textContent.slice(0, 60);
  return JSON.stringify({least, where, texts, wide,
    scroll: document.documentElement.scrollWidth, width: innerWidth,
    heads: [...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].filter(seen).map(
      e => Number(e.localName[1])),
    ground: number(getComputedStyle(document.body).backgroundColor),
    lang: document.documentElement.lang, title: document.title,
    rows: document.querySelectorAll('tbody tr').length,
    figures: [...document.querySelectorAll('figure')].filter(seen).length});
})()
"""


def check(good, *what):
    if not good:
        raise SystemExit("failed: " + " ".join(str(w) for w in what))


class Browser:
    """Speaks the DevTools protocol over a pair of pipes: JSON, a NUL after each message."""

    def __init__(self, home):
        mine_in, its_out = os.pipe()
        its_in, mine_out = os.pipe()

        def pipes():
            # 3 and 4 are where it reads and writes; the ends may have these very numbers.
            read, write = os.dup(its_in), os.dup(its_out)
            high_read, high_write = 30, 31
            os.dup2(read, high_read)
            os.dup2(write, high_write)
            os.dup2(high_read, 3)
            os.dup2(high_write, 4)

        self.process = subprocess.Popen(
            ["chromium", "--headless=new", "--no-sandbox", "--disable-gpu",
             "--disable-dev-shm-usage", "--no-first-run", "--disable-background-networking",
             "--remote-debugging-pipe", f"--user-data-dir={home}", "about:blank"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, close_fds=False,
            preexec_fn=pipes, env=dict(os.environ, HOME=str(home)))
        os.close(its_in)
        os.close(its_out)
        self.read, self.write, self.id = mine_in, mine_out, 0
        self.held, self.events, self.session = b"", [], None
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target,
                                 flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network", "Accessibility"):
            self.call(domain + ".enable")

    def message(self, seconds):
        until = time.monotonic() + seconds
        while b"\0" not in self.held:
            left = until - time.monotonic()
            ready = select.select([self.read], [], [], max(0, left))[0]
            check(ready, "the browser said nothing for", seconds, "s")
            got = os.read(self.read, 1 << 20)
            check(got, "the browser went away")
            self.held += got
        one, self.held = self.held.split(b"\0", 1)
        return json.loads(one)

    def call(self, method, **params):
        self.id += 1
        message = {"id": self.id, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        data = json.dumps(message).encode() + b"\0"
        while data:
            data = data[os.write(self.write, data):]
        while True:
            answer = self.message(60)
            if answer.get("id") == self.id:
                check("error" not in answer, method, answer.get("error"))
                return answer["result"]
            self.events.append(answer)

    def wait(self, method):
        while not any(e.get("method") == method for e in self.events):
            self.events.append(self.message(60))

    def close(self):
        self.process.terminate()
        self.process.wait(20)


def names(browser):
    """The roles of the accessibility tree, each with its names."""
    out = {}
    for node in browser.call("Accessibility.getFullAXTree")["nodes"]:
        if not node.get("ignored"):
            role = node["role"]["value"]
            out.setdefault(role, []).append(node.get("name", {}).get("value", ""))
    return out


def check_tree(tree, facts, what):
    for role in ("main", "navigation", "banner", "contentinfo"):
        check(len(tree.get(role, [])) == 1, what, "has not one", role, sorted(tree))
    check(facts["rows"] > 0, what, "has no table")
    for role in ("table", "columnheader", "rowheader", "cell"):
        check(tree.get(role), what, "has no", role, sorted(tree))
    check(len(tree["rowheader"]) == facts["rows"], what, "rows", facts["rows"], "row heads",
          len(tree["rowheader"]))
    pictures = [n for role in ("img", "image", "graphics-document") for n in tree.get(role, [])]
    check(len(pictures) == facts["figures"], what, "figures", facts["figures"], "named images",
          len(pictures))
    check(all(pictures), what, "has a picture without a name")
    regions = tree.get("region", [])
    check(len(regions) >= 5 and all(regions), what, "regions", regions)


def check_page(browser, url, what, width, theme, keep):
    browser.events.clear()
    browser.call("Emulation.setDeviceMetricsOverride", width=width, height=800,
                 deviceScaleFactor=1, mobile=False)
    browser.call("Emulation.setEmulatedMedia", media="screen",
                 features=[{"name": "prefers-color-scheme", "value": theme}])
    browser.call("Page.navigate", url=url)
    browser.wait("Page.loadEventFired")
    answer = browser.call("Runtime.evaluate", expression=IN_PAGE)
    check("value" in answer["result"], what, answer)
    facts = json.loads(answer["result"]["value"])
    for event in browser.events:
        check(event.get("method") not in ("Log.entryAdded", "Runtime.exceptionThrown",
                                          "Runtime.consoleAPICalled"), what, event)
        if event.get("method") == "Network.requestWillBeSent":
            asked = event["params"]["request"]["url"]
            check(asked == url or asked.startswith("data:"), what, "asked for", asked)
    check(facts["lang"] == "en" and facts["title"], what, facts)
    check(facts["texts"] > 50, what, "has next to no text", facts["texts"])
    check(facts["least"] >= 4.5, what, "contrast", facts["least"], facts["where"])
    check(facts["scroll"] <= facts["width"] and not facts["wide"], what, "is wider than its window",
          facts["scroll"], facts["wide"])
    heads = facts["heads"]
    check(heads.count(1) == 1 and heads[0] == 1, what, heads)
    check(all(b <= a + 1 for a, b in zip(heads, heads[1:])), what, "skips a heading", heads)
    dark = sum(facts["ground"][:3]) < 384
    check(dark == (theme == "dark"), what, "ground", facts["ground"])
    check_tree(names(browser), facts, what)
    if keep and width != 320:
        size = browser.call("Page.getLayoutMetrics")["cssContentSize"]
        shot = browser.call("Page.captureScreenshot", format="png", captureBeyondViewport=True,
                            clip={"x": 0, "y": 0, "width": size["width"],
                                  "height": min(size["height"], 9000), "scale": 1})
        (keep / f"{what}.png").write_bytes(base64.b64decode(shot["data"]))
    return facts["least"]


def check_print(browser, what, keep):
    """In a dark theme, on paper."""
    browser.call("Emulation.setEmulatedMedia", media="print",
                 features=[{"name": "prefers-color-scheme", "value": "dark"}])
    ground = json.loads(browser.call("Runtime.evaluate", expression=IN_PAGE)["result"]["value"])
    check(ground["ground"][:3] == [255, 255, 255], what, "prints on", ground["ground"])
    check(ground["least"] >= 4.5, what, "printed contrast", ground["least"], ground["where"])
    pdf = base64.b64decode(browser.call("Page.printToPDF", paperWidth=8.27, paperHeight=11.69)[
        "data"])
    check(pdf.startswith(b"%PDF"), what, "can't be printed")
    if keep:
        (keep / f"{what}.pdf").write_bytes(pdf)


def sources(airleash, fixtures, work):
    for log in sorted(fixtures.glob("*.log")):
        yield log
    for scene in SCENES:
        log = work / f"{scene}.log"
        with open(log, "wb") as file:
            subprocess.run([airleash, "simulate", "--lines", "--fast", "--scene", scene],
                           stdout=file, check=True, timeout=60)
        yield log


def main(airleash, fixtures, keep):
    with tempfile.TemporaryDirectory(prefix="airleash-browser-", ignore_cleanup_errors=True) as at:
        work = pathlib.Path(at)
        browser = Browser(work / "home")
        try:
            for source in sources(airleash, fixtures, work):
                name = source.stem
                page = work / f"{name}.html"
                subprocess.run([airleash, "report", source, "--out", page, *PAGES.get(name, [])],
                               check=True, timeout=60)
                least = min(check_page(browser, page.as_uri(), f"{name}-{width}-{theme}", width,
                                       theme, keep)
                            for width in (1200, 360, 320) for theme in ("light", "dark"))
                check_print(browser, name + "-print", keep)
                print(f"{name}: least contrast {least:.2f}")
        finally:
            browser.close()


if __name__ == "__main__":
    kept = pathlib.Path(sys.argv[3]) if len(sys.argv) > 3 else None
    if kept:
        kept.mkdir(parents=True, exist_ok=True)
    main(sys.argv[1], pathlib.Path(sys.argv[2]), kept)
