"""Looks at pages of `meterbook report` in headless Chromium.

    pages.py CHROMIUM SCRATCH PAGE.html ...

Speaks the DevTools protocol over two pipes, so that it needs nothing but a browser. The browser can resolve no name. A page
with every fault that pages.js is to find comes first. METERBOOK_SCREENSHOTS=FOLDER keeps pictures of all pages.
"""
import base64
import json
import os
import re
import select
import subprocess
import sys
import time

WIDTHS = (360, 768, 1280)
A4_WIDTH = 687  # 210 mm without two margins of 14 mm, at 96 px an inch
PATIENCE = 60  # s for one answer
SHOWN = 12  # faults of one kind
LOOKS = open(os.path.join(os.path.dirname(__file__), "pages.js"), encoding="utf-8").read()

# each of these must be found: a check that finds nothing looks the same as a good page
FAULTY = """<!DOCTYPE html><html><head><meta http-equiv="Content-Security-Policy"
content="default-src 'none'; style-src 'unsafe-inline'"><title></title></head><body style="background:white;color:black">
<h2>second</h2><h1>first</h1>
<div style="position:relative;height:3em"><p style="position:absolute;left:9px;top:0">one upon</p>
<p style="position:absolute;left:19px;top:4px">the other</p></div>
<div style="overflow:hidden;width:50px;white-space:nowrap">clipped by its box</div>
<p style="margin-left:-20px">left of all</p><div style="width:3000px">wide</div>
<p style="color:#999">too pale</p>
<figure><svg id="bare" width="300" height="50"><rect width="300" height="50" fill="#333"/><text x="9" y="20">on dark</text>
</svg></figure><img src="http://127.0.0.1:9/blocked.png"><script>1</script></body></html>"""
FAULTS = ("no language", "no title", "of level 2 after level 0", '"one upon" and "the other" overlap',
          '"clipped by its box" is clipped', '"left of all" is beyond the page', "the page is 30", '"too pale" is 2.8',
          '"on dark" is 1.', "bare is no img", "bare has no title", "no table beside bare", "console: ")


class Browser:
    def __init__(self, program, scratch):
        to_browser, self.to = os.pipe()
        self.of, from_browser = os.pipe()

        def place():  # the browser reads 3 and writes 4
            high = [os.dup2(fd, 50 + i, inheritable=False) for i, fd in enumerate((to_browser, from_browser))]
            os.dup2(high[0], 3), os.dup2(high[1], 4)

        self.errors = open(os.path.join(scratch, "chromium.err"), "w+b")
        self.process = subprocess.Popen(
            [program, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
             "--disable-extensions", "--hide-scrollbars", "--host-resolver-rules=MAP * ~NOTFOUND", "--remote-debugging-pipe",
             "--user-data-dir=" + os.path.join(scratch, "profile"), "about:blank"],
            preexec_fn=place, close_fds=False, stdin=subprocess.DEVNULL, stdout=self.errors, stderr=self.errors,
            env={**os.environ, "HOME": scratch, "XDG_CONFIG_HOME": scratch, "XDG_CACHE_HOME": scratch})
        os.close(to_browser), os.close(from_browser)
        self.rest, self.last, self.session, self.events = b"", 0, None, []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Network", "Log", "Runtime", "Audits"):
            self.call(domain + ".enable")

    def message(self):
        end = time.monotonic() + PATIENCE
        while b"\0" not in self.rest:
            ready, _, _ = select.select([self.of], [], [], max(0, end - time.monotonic()))
            piece = os.read(self.of, 1 << 20) if ready else b""
            if not piece:
                self.errors.seek(0)
                sys.exit("the browser does not answer: " + self.errors.read()[-2000:].decode(errors="replace"))
            self.rest += piece
        text, self.rest = self.rest.split(b"\0", 1)
        return json.loads(text)

    def call(self, method, **params):
        self.last += 1
        request = {"id": self.last, "method": method, "params": params}
        if self.session:
            request["sessionId"] = self.session
        data = json.dumps(request).encode() + b"\0"
        while data:
            data = data[os.write(self.to, data):]
        while True:
            got = self.message()
            if got.get("id") == self.last:
                if "error" in got:
                    sys.exit(f"{method}: {got['error']}")
                return got["result"]
            self.events.append(got)

    def load(self, address):
        """Loads a page and gives what it asked for and said."""
        self.events = []
        self.call("Page.navigate", url=address)
        while not any(e.get("method") == "Page.loadEventFired" for e in self.events):
            self.events.append(self.message())
        self.look({})  # what was late is said before this is answered

    def faults_of_load(self, address):
        for event in self.events:
            params = event.get("params", {})
            match event.get("method"):
                case "Network.requestWillBeSent" if params["request"]["url"] not in (address, "data:,"):
                    yield "asks for " + params["request"]["url"]
                case "Log.entryAdded":
                    yield "console: " + params["entry"]["text"]
                case "Runtime.consoleAPICalled" | "Runtime.exceptionThrown":
                    yield "console: " + json.dumps(params)[:300]
                case "Audits.issueAdded":
                    yield "issue: " + json.dumps(params["issue"])[:300]

    def look(self, options):
        result = self.call("Runtime.evaluate", expression=f"{LOOKS}\nlookAtPage({json.dumps(options)})", returnByValue=True)
        if "exceptionDetails" in result:
            sys.exit("pages.js: " + json.dumps(result["exceptionDetails"])[:1000])
        return result["result"]["value"]

    def show(self, width, dark=False, media="screen"):
        """Of a height that holds the whole page: only what is in the window can be asked what is under it."""
        self.call("Emulation.setEmulatedMedia", media=media,
                  features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}])
        height = 900
        for _ in range(2):
            self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
            height = int(self.call("Page.getLayoutMetrics")["cssContentSize"]["height"]) + 1

    def picture(self, path):
        with open(path, "wb") as out:
            out.write(base64.b64decode(self.call("Page.captureScreenshot", captureBeyondViewport=True)["data"]))

    def close(self):
        self.session = None
        self.call("Browser.close")
        self.process.wait(PATIENCE)


def sheet_faults(browser):
    """Of a page as it is printed; the sheets are the same for all pages."""
    browser.call("Emulation.setEmulatedMedia", media="")
    pdf = base64.b64decode(browser.call("Page.printToPDF", preferCSSPageSize=True)["data"])
    for box in set(re.findall(rb"/MediaBox *\[([^]]*)\]", pdf)):
        left, top, right, bottom = map(float, box.split())
        if abs(right - left - 595.3) > 1 or abs(bottom - top - 841.9) > 1:
            yield f"a sheet of {right - left:.0f} x {bottom - top:.0f} points is not A4"
    if b"/MediaBox" not in pdf:
        yield "no sheet"


def faults_of(browser, path, pictures):
    """All that is wrong with a page, with where."""
    address = "file://" + os.path.abspath(path)
    browser.show(WIDTHS[-1])
    browser.load(address)
    yield from (("loaded", fault) for fault in browser.faults_of_load(address))
    yield from (("structure", fault) for fault in browser.look({"structure": True}))
    for width in WIDTHS:
        browser.show(width)
        yield from ((f"{width} px", fault) for fault in browser.look({"layout": True}))
        for dark in (False, True):
            if pictures:
                browser.look({})
                browser.show(width, dark)
                name = os.path.basename(path).removesuffix(".html")
                browser.picture(os.path.join(pictures, f"{name}-{width}-{'dark' if dark else 'light'}.png"))
    browser.look({"open": True})
    browser.show(WIDTHS[0])
    yield from (("unfolded", fault) for fault in browser.look({"layout": True, "open": True}))
    for dark in (False, True):
        browser.show(WIDTHS[-1], dark)
        yield from (("dark" if dark else "light", fault) for fault in browser.look({"colours": True, "open": True}))
    browser.look({})
    browser.show(A4_WIDTH, media="print")
    yield from (("printed", fault) for fault in browser.look({"layout": True}))


def main(program, scratch, *pages):
    pictures = os.environ.get("METERBOOK_SCREENSHOTS")
    if pictures:
        os.makedirs(pictures, exist_ok=True)
    browser = Browser(program, scratch)
    faulty = os.path.join(scratch, "faulty.html")
    with open(faulty, "w", encoding="utf-8") as out:
        out.write(FAULTY)
    found = [fault for _, fault in faults_of(browser, faulty, None)]
    failed = [f"the faulty page: not found: {fault}" for fault in FAULTS if not any(fault in f for f in found)]
    for path in pages:
        faults = {}
        for where, fault in faults_of(browser, path, pictures):
            faults.setdefault(where, []).append(fault)
        for where, those in faults.items():
            failed += [f"{os.path.basename(path)}, {where}: {fault}" for fault in those[:SHOWN]]
            if len(those) > SHOWN:
                failed.append(f"{os.path.basename(path)}, {where}: and {len(those) - SHOWN} more")
    failed += sheet_faults(browser)
    browser.close()
    print("\n".join(failed or [f"{len(pages)} pages looked at"]))
    return bool(failed)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
