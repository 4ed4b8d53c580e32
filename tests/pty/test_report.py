#!/usr/bin/python3
"""The one-page report end to end: well formed, whole, the same for the same recording, and with
nothing of the recording's texts in its markup.

usage: test_report.py AIRLEASH FIXTURES

What is right: the page is read twice by parsers that other people wrote, expat as XML and
html.parser as HTML, and both must find the same elements, each closed where it was opened; figures
and what is unknown are held against figures --json, walk --json and judge --json.
"""
import csv
import html.parser
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as tree

ANSWER, USAGE, TROUBLE = 0, 2, 3
HTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"
WALK = ["--switch", "6", "--plan", "2,4,6,8,10,12,16,20"]
ALWAYS = ["answers", "done", "figures", "unknown", "recording", "cautions"]
# What an answer must say of these scenes: a word of its question, words of it.
SAID = {
    "mute": ("a link?", "doesn't answer"),
    "forgot": ("a link?", "had forgotten them"),
    "mismatch": ("a link?", "refused"),
    "wires": ("a link?", "not a packet came"),
    "stranger": ("yours?", "the transmitter sends 50"),
    "phantom": ("yours?", "the transmitter sends 50"),
    "swapped": ("possible?", "other order"),
    "weak": ("supply", "No: the receiver browned out"),
    "calm": ("supply", "Yes, as far as was seen"),
    "survey": ("carrier", "is the quietest"),
    "image": ("outage", "it hadn't come back"),
}
RARE = ("a link?", "yours?", "possible?")  # what isn't asked where it isn't meant
VOID = {"meta", "link"}

work = pathlib.Path(tempfile.mkdtemp(prefix="airleash-report-"))


def check(good, *what):
    if not good:
        raise SystemExit("failed: " + " ".join(str(w) for w in what))


def run(*args, **more):
    return subprocess.run([airleash, *map(str, args)], stdin=subprocess.DEVNULL,
                          capture_output=True, timeout=120, cwd=work,
                          env=dict(os.environ, LC_ALL="C.UTF-8"), **more)


def expect(status, words, *args):
    done = run(*args)
    said = done.stderr.decode()
    check(done.returncode == status, args, "gave", done.returncode, "and said", said)
    check(words in said, args, "said", said, "without", words)
    return done


class Strict(html.parser.HTMLParser):
    """Each element closed where it was opened; no script, no handler, nothing from elsewhere."""

    def __init__(self, what):
        super().__init__(convert_charrefs=True)
        self.what, self.open, self.seen, self.ids, self.refs = what, [], [], [], []

    def handle_starttag(self, tag, attrs):
        check(tag not in VOID, self.what, tag, "isn't closed")
        self.start(tag, attrs)
        self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.start(tag, attrs)

    def start(self, tag, attrs):
        self.seen.append(tag)
        names = [name for name, _ in attrs]
        check(len(set(names)) == len(names), self.what, tag, "has an attribute twice", attrs)
        check(tag not in ("script", "iframe", "object", "embed", "base", "form", "img"), self.what,
              "has", tag)
        for name, value in attrs:
            check(not name.startswith("on"), self.what, tag, "has", name)
            check(value is not None, self.what, tag, name, "has no value")
            if name == "id":
                self.ids.append(value)
            if name == "href":
                check(value.startswith("#") or value == "data:,", self.what, "goes to", value)
                self.refs += [value[1:]] if value.startswith("#") else []
            if name == "aria-labelledby":
                self.refs += value.split()
            check(name == "xmlns" or "://" not in value, self.what, name, value)

    def handle_endtag(self, tag):
        check(self.open and self.open[-1] == tag, self.what, "closes", tag, "in", self.open)
        self.open.pop()

    def finish(self):
        self.close()
        check(not self.open, self.what, "leaves open", self.open)
        check(len(set(self.ids)) == len(self.ids), self.what, "has an id twice")
        check(set(self.refs) <= set(self.ids), self.what, set(self.refs) - set(self.ids))


def text_of(element):
    return re.sub(r"\s+", " ", "".join(element.itertext())).strip()


def whole_text(element):
    """Texts, one space between elements; nothing of a style."""
    parts = [] if element.tag == HTML + "style" else [element.text or ""]
    for child in element:
        parts += [whole_text(child), child.tail or ""]
    return " ".join(parts)


def check_tables(root, what):
    for table in root.iter(HTML + "table"):
        check(table.find(HTML + "caption") is not None and text_of(table.find(HTML + "caption")),
              what, "has a table without a caption")
        heads = [text_of(th) for th in table.find(HTML + "thead").iter(HTML + "th")]
        check(heads and all(heads), what, heads)
        check(all(th.get("scope") == "col" for th in table.find(HTML + "thead").iter(HTML + "th")),
              what, "has a head without scope")
        rows = list(table.find(HTML + "tbody"))
        check(rows, what, "has a table without rows", heads)
        for row in rows:
            cells = list(row)
            check(len(cells) == len(heads), what, heads, [text_of(c) for c in cells])
            check(cells[0].tag == HTML + "th" and cells[0].get("scope") == "row", what, heads)
            check([c.get("data-head") for c in cells[1:]] == heads[1:], what, heads)


def check_page(data, what):
    """The root, after everything that holds for each page."""
    page = data.decode()  # UTF-8 throughout
    check(page.startswith("<!DOCTYPE html>\n"), what, "has no doctype")
    root = tree.fromstring(data)
    strict = Strict(what)
    strict.feed(page)
    strict.finish()
    names = [e.tag.split("}")[1] for e in root.iter()]
    check(sorted(n.lower() for n in names) == sorted(strict.seen), what, "reads otherwise as HTML")
    check(root.get("lang") == "en" and root.find(f".//{HTML}title").text, what, "lang, title")
    for landmark in ("header", "nav", "main", "footer", "h1"):
        check(len(list(root.iter(HTML + landmark))) == 1, what, landmark)
    steps = [int(e.tag[-1]) for e in root.iter() if re.fullmatch(r"\{.*xhtml\}h[1-6]", e.tag)]
    check(steps[0] == 1 and all(b <= a + 1 for a, b in zip(steps, steps[1:])), what, steps)
    links = [a.get("href")[1:] for a in root.find(f".//{HTML}nav").iter(HTML + "a")]
    check(links == sections(root), what, links, sections(root))
    for figure in root.iter(HTML + "figure"):
        check(text_of(figure.find(HTML + "figcaption")), what, "has no caption")
        svgs = list(figure.iter(SVG + "svg"))
        check(len(svgs) == 2, what, "has", len(svgs), "pictures in a figure")
        check(all(s.find(SVG + "title").text and s.find(SVG + "desc").text for s in svgs), what,
              "has a picture without words")
    check_tables(root, what)
    text = whole_text(root)
    check("no clearance" in text and "local rules" in text, what, "has no caution")
    check(not re.search(r"\b(nan|inf|null)\b|\(null\)|-9223372036854775808|18446744073709", text,
                        re.I), what, "shows no number")
    return root


def sections(root):
    return [s.get("aria-labelledby") for s in root.iter(HTML + "section")]


def section(root, name):
    return next(s for s in root.iter(HTML + "section") if s.get("aria-labelledby") == name)


def report(path, *more, out=None):
    out = out or work / "page.html"
    done = run("report", path, "--out", out, "--force", *more)
    check(done.returncode == ANSWER, path, more, done.returncode, done.stderr.decode())
    return out.read_bytes()


def rows_of(root, name):
    return [[text_of(c) for c in row] for body in section(root, name).iter(HTML + "tbody")
            for row in body]


def check_figures(root, path, what):
    """The figures, and what is unknown, as figures --json has them."""
    told = json.loads(run("figures", path, "--json").stdout)
    rows = {row[0]: row[1:] for row in rows_of(root, "figures") if len(row) == 4}
    packets = told["packets"]
    for row, value in (("packets that came", packets["got"]), ("packets lost", packets["lost"])):
        check(rows[row][0] == ("unknown" if value is None else str(value)), what, row, rows[row],
              value)
    rate = told["loss"]["rate"]
    if rate is not None and packets["lost"] is not None:
        check(abs(float(rows["loss"][0].split()[0]) - 100 * rate) <= 0.005001, what, rows["loss"],
              rate)
        low, high = told["loss"]["low"], told["loss"]["high"]
        shown = [float(n) for n in re.findall(r"\d+(?:\.\d+)?", rows["loss"][1])]
        wanted = [float(f"{100 * v:.1e}") for v in (low, high) if v is not None]
        if wanted:
            check(len(shown) == len(wanted) and
                  all(abs(a - b) <= 1e-9 for a, b in zip(shown, wanted)), what, shown, wanted)
    unknown = " ".join(row[1] for row in rows_of(root, "unknown"))
    for figure, why in told["unknown_because"].items():
        if why != "not needed" and figure.split(".")[0] in ("supply", "failsafe", "lines", "restarts", "packets"):
            check(why in unknown, what, figure, why, "isn't in", unknown)


def test_fixtures():
    for log in sorted(fixtures.glob("*.log")):
        more = WALK if log.stem == "reduced" else []
        data = report(log, *more)
        root = check_page(data, log.stem)
        check_figures(root, log, log.stem)
        got = sections(root)
        check(set(ALWAYS) <= set(got), log.stem, got)
        check(("walk" in got) == (log.stem == "reduced"), log.stem, got)
        check("trials" not in got, log.stem, got)
        check(got[0] == "answers", log.stem, got)
        pictures = len(list(root.iter(HTML + "figure")))
        check(pictures >= 2 or log.stem == "bare", log.stem, "has", pictures, "pictures")
    time.sleep(1.1)  # the next second: a time of now would differ
    check(data == report(log, *more, out=work / "again.html"), "a page differs from itself")


def answers_of(root):
    return {text_of(a.find(HTML + "h3")): text_of(a) for a in section(root, "answers").iter(
        HTML + "div") if a.get("class") == "answer"}


def scenes():
    listed = run("simulate", "--scenes").stdout.decode().splitlines()
    names = [line.split()[0] for line in listed if line.strip()]
    check(len(names) > 25 and set(SAID) <= set(names), names)
    return names


def test_scenes():
    """Each scene there is: a good page, the same one twice, and the answers that it is about."""
    for scene in scenes():
        capture = work / f"{scene}.cap"
        capture.write_bytes(run("simulate", "--lines", "--fast", "--scene", scene).stdout)
        more = {"walk": ["--switch", "6"], "reduced": WALK}.get(scene, [])
        data = report(capture, *more)
        root = check_page(data, scene)
        check(data == report(capture, *more, out=work / "again.html"), scene, "differs from itself")
        check_figures(root, capture, scene)
        told = answers_of(root)
        word, words = SAID.get(scene, ("lost", "."))
        check(any(word in q and words in a for q, a in told.items()), scene, words, told)
        rare = {q for q in RARE if any(q in question for question in told)}
        wanted = {SAID.get(scene, ("", ""))[0]} & set(RARE)
        check(rare == wanted | ({"possible?"} if scene == "phantom" else set()), scene, list(told))


def numbers(text):
    return [float(n) for n in re.findall(r"\d+(?:\.\d+)?", text)]


def close(shown, wanted, step):
    return any(abs(n - wanted) <= step / 2 + 1e-9 for n in shown)


def test_paper():
    """Paper against field and full power, as budget --json and walk --json have them; and what is
    asked for where they aren't known."""
    walked = fixtures / "reduced.log"
    root = check_page(report(walked, *WALK), "paper")
    paper = text_of(section(root, "paper"))
    told = json.loads(run("budget", "--json", "--walk", walked, *WALK).stdout)
    check(told["walk_m"] is not None, told)
    for key in ("walk_missing_db", "walk_missing_low_db", "walk_missing_high_db"):
        check(close(numbers(paper), told[key], 0.1), key, told[key], paper)
    check("What usually eats so much" in paper and "1000" in paper, paper)
    check("should" in " ".join(answers_of(root)), answers_of(root))
    full = json.loads(run("walk", walked, "--json", *WALK).stdout)["full_power"]
    power = text_of(section(root, "walk"))
    power = power[power.index("At full power"):]
    for key in ("low_m", "high_m"):
        check(close(numbers(power), full[key], 0.1), key, full, power)
    check(any("full power" in a for a in answers_of(root).values()), answers_of(root))
    small = json.loads(run("walk", walked, "--json", *WALK, "--loss-limit", 5).stdout)["range"]
    five = text_of(section(check_page(report(walked, *WALK, "--loss-limit", 5), "5 %"), "walk"))
    check("mean loss reaches 5 %" in five and close(numbers(five), small["m"], 0.01), small, five)
    slow = report(walked, *WALK, "--kbps", 250)
    check("250 kbit/s" in text_of(section(check_page(slow, "250"), "paper")), "--kbps is lost")
    amplified = text_of(section(check_page(report(walked, *WALK, "--amplified"), "amp"), "paper"))
    check("don't go together" in amplified and "eats so much" not in amplified, amplified)
    calm = check_page(report(fixtures / "calm.log"), "calm")
    check("paper" not in sections(calm), sections(calm))
    check("--walked" in text_of(section(calm, "unknown")), "nothing says what would tell")
    given = check_page(report(fixtures / "calm.log", "--walked", 60), "given")
    missing = json.loads(run("budget", "--json", "--walked", 60, "--mhz", 2450, "--kbps", 1000)
                         .stdout)["missing_db"]
    check(close(numbers(text_of(section(given, "paper"))), missing, 0.1), missing)
    check("--walked" not in text_of(section(given, "unknown")), "asked for what was given")


def test_band():
    """The survey in words and figures, as figures --json has it."""
    root = check_page(report(fixtures / "survey.log"), "survey")
    air = json.loads(run("figures", fixtures / "survey.log", "--json").stdout)["air"]
    tables = {text_of(t.find(HTML + "caption")): [[text_of(c) for c in row]
                                                  for row in t.find(HTML + "tbody")]
              for t in section(root, "band").iter(HTML + "table")}
    spots, heard, wifi = tables.values()
    for row, key in zip(spots, ("quietest", "runner_up", "now")):
        check(numbers(row[1]) == [air[key]["mhz"]], row, air[key])
        check(numbers(row[2]) == [air[key]["hits"], air[key]["looks"]], row, air[key])
        check(numbers(row[5]) == air[key]["wifi_channels"], row, air[key])
    check(sum(numbers(row[1])[0] for row in heard) == sum(c["hits"] for c in air["carriers"]),
          heard)
    check([row[0] for row in wifi] == [f"channel {n}" for n in range(1, 14)], wifi)
    for row in wifi:
        centre = 2407 + 5 * int(row[0].split()[1])
        inside = [c for c in air["carriers"] if abs(c["mhz"] - centre) <= 10]
        check(numbers(row[2]) == [sum(c["hits"] for c in inside), sum(c["looks"] for c in inside)],
              row)
    check(any("quietest" in a for a in answers_of(root).values()), answers_of(root))
    calm = check_page(report(fixtures / "calm.log"), "no survey")
    check("air lines" in text_of(section(calm, "unknown")), "nothing says how to sweep")


def test_causes_by_distance():
    """With --switch the causes know the distances, as airleash causes does."""
    walked = work / "walk.cap"
    walked.write_bytes(run("simulate", "--lines", "--fast", "--scene", "walk").stdout)
    told = json.loads(run("causes", walked, "--switch", 6, "--json").stdout)
    distance = [c for c in told["causes"] if c["name"] == "distance"]
    check(distance and not any(c["missing"] for c in distance), distance)
    root = check_page(report(walked, "--switch", 6), "causes")
    check("stops marked" not in text_of(section(root, "unknown")), "the distance is unknown")
    shown = any(c["shown"] for c in distance)
    why = answers_of(root)["Why did it drop?"]
    check(shown and "Shown: distance" in why, distance, why)


def test_walk():
    root = check_page(report(fixtures / "reduced.log", *WALK), "walk")
    told = json.loads(run("walk", fixtures / "reduced.log", "--json", *WALK).stdout)
    rows = [row for row in rows_of(root, "walk")]
    check(len(rows) == len(told["stops"]), len(rows), len(told["stops"]))
    for row, stop in zip(rows, told["stops"]):
        check(float(row[0].split()[0]) == stop["distance_m"], row, stop)
        check(abs(float(row[3].split()[0]) - 100 * stop["loss"]["rate"]) <= 0.005001, row, stop)
        check(row[7].startswith(stop["verdict"]), row, stop["verdict"])
    check("reduced" in text_of(section(root, "walk")), "says nothing of the reduced power")
    check(close(numbers(answers_of(root)["How far does it reach?"]), told["range"]["planned_m"], 0.1),
          "another plan", told["range"])
    lax = [*WALK, "--max-loss", 50, "--max-turned", 50, "--max-gap", 5000]
    far = json.loads(run("walk", fixtures / "reduced.log", "--json", *lax).stdout)["range"]
    check(far["low_m"] < far["first_failed_m"], far)
    check(abs(far["planned_m"] - far["low_m"] / 4) < 1e-9, far)
    plan = answers_of(check_page(report(fixtures / "reduced.log", *lax), "lax"))[
        "How far does it reach?"]
    check("lower end" in plan and close(numbers(plan), far["low_m"] / 4, 0.01), plan, far)
    check("1 stop of the plan unmarked" in text_of(section(check_page(report(
        fixtures / "reduced.log", *WALK[:-1], WALK[-1] + ",25"), "unmarked"), "walk")), "unmarked")


# The failsafe scene as a person would have gone along with it: report number, row.
TRIAL = [(20, "begin"), (25, "answer=yes"), (25, "step=which"), (30, "answer=channel 2"),
         (30, "step=low"), (60, "step=raise"), (160, "step=off"), (255, "step=stay"),
         (365, "step=on"), (490, "step=lower"), (550, "end")]


def table_of(path):
    plain = work / "plain.csv"
    plain.unlink(missing_ok=True)
    run("record", path, "--out", plain)
    with open(plain, newline="") as file:
        return list(csv.reader(file))


def other_row(table, kind, note, **more):
    row = dict.fromkeys(table[0], "")
    row.update(kind=kind, note=note, **more)
    return list(row.values())


def write_table(path, rows):
    with open(path, "w", newline="", encoding="utf-8", errors="surrogateescape") as file:
        csv.writer(file).writerows(rows)


def test_trials():
    table = table_of(fixtures / "failsafe.log")
    rows, due = [], list(TRIAL)
    for row in table:
        rows.append(row)
        while due and row[0] == "rx" and int(row[3]) >= due[0][0]:
            rows.append(other_row(table, "trial", "failsafe " + due.pop(0)[1]))
    out = work / "trial.csv"
    write_table(out, rows)
    root = check_page(report(out), "trial")
    done = run("judge", out, "--json")
    told = json.loads(done.stdout)["trials"][0]
    shown = section(root, "trials")
    answers = text_of(section(root, "answers"))
    check(told["verdict"].replace("_", " ") in answers, told["verdict"], answers)
    for finding in told["findings"]:
        check(finding["text"] in text_of(shown), finding)
    stands = rows_of(root, "trials")
    check(any("not tried" in row[1] for row in stands), "every trial was tried?", stands)
    check_limits(out)


def check_limits(trial):
    """Limits by the model file and by --limit are those of judge, on the page and in the picture."""
    strict = work / "strict.ini"
    strict.write_text("[trials]\nthrottle_low_ms = 100\n")
    for more, verdict in (([], "passed"), (["--model", strict], "failed"),
                          (["--model", strict, "--limit", "throttle_low_ms=900"], "passed")):
        judged = json.loads(run("judge", trial, "--json", *more).stdout)["trials"][0]
        found = {f["name"]: f for f in judged["findings"]}["throttle_low"]
        check(found["verdict"] == verdict, more, found)
        page = text_of(section(check_page(report(trial, *more), "limit"), "trials"))
        picture = run("chart", trial, "--what", "trials", "--ascii", *more).stdout.decode()
        for text in (page, re.sub(r"\s+", " ", picture)):
            check(found["text"] in text, more, found["text"], "isn't in", text)


def test_other():
    """The transmitter's own id line, out of another file."""
    other = work / "other.log"
    line = next(l for l in (fixtures / "calm.log").read_bytes().splitlines()
                if l.startswith(b"id "))
    other.write_bytes(line.split(b" *")[0].replace(b"end=rx", b"end=tx").replace(
        b"mhz=2450", b"mhz=2476") + b"\n")
    page = text_of(section(check_page(report(fixtures / "calm.log", "--other", other), "other"),
                           "recording"))
    check("What both ends say of themselves" in page and "2476" in page and "differs" in page, page)
    expect(TROUBLE, "none.log", "report", fixtures / "calm.log", "--out", work / "n.html",
           "--other", work / "none.log")


def test_supply_by_usb():
    model = work / "usb.ini"
    model.write_text("[supply]\nfrom = usb\n")
    told = answers_of(check_page(report(fixtures / "calm.log", "--model", model), "usb"))
    supply = told["Did the supply hold?"]
    check("USB" in supply and "Yes" not in supply, supply)


# Nothing of these may be markup, steer a screen, or break the page.
HOSTILE = ["<script>alert(1)</script>", "\"><img src=x onerror=alert(1)>", "' onload='x",
           "</title></style></main><h1>mine</h1>", "]]>&lt;b&gt;", "a\u202eb\u0007c\x1b[31m",
           "Möwe \U0001f6a4", "\udcff\udcc3( broken", "--> <!-- &#60;script&#62;"]


def test_hostile():
    table = table_of(fixtures / "failsafe.log")
    rows, texts = [table[0]], list(HOSTILE)
    rows += [other_row(table, "about", f"card.channels.{i + 1}={t}") for i, t in enumerate(texts)]
    rows += [other_row(table, "about", f"{t}={t}") for t in texts]
    reports = 0
    for row in table[1:]:
        if row[0] == "about" and row[-1].startswith(("begun", "port")):
            row[-1] = row[-1].split("=")[0] + "=" + texts[0]
        if row[0] == "id":
            row[-1] = row[-1].replace("fw=tug-rx-1", "fw=<b>\"&'")
        rows.append(row)
        if row[0] == "rx":
            reports += 1
            if reports % 60 == 0:
                text = texts[reports // 60 % len(texts)]
                rows += [other_row(table, "mark", "stop", distance_m=str(reports // 12)),
                         other_row(table, "mark", "facing: " + text),
                         other_row(table, "mark", "text: " + text),
                         other_row(table, "say", text)]
    out = work / "<b>&\"'\u202e.csv"
    write_table(out, rows)
    data = report(out)
    root = check_page(data, "hostile")
    plain = [e.tag for e in check_page(report(work / "plain.csv"), "plain").iter()]
    check(not set(e.tag for e in root.iter()) - set(plain) -
          {HTML + "section", SVG + "circle", SVG + "rect", SVG + "path"}, "new elements")
    text = whole_text(root)
    check("<script>alert(1)</script>" in text, "a text is missing")
    check("<b>&\"'" in text and "Möwe" in text, "a text is changed")
    check(not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", data.decode()),
          "a character steers")
    check(text.count("\ufffd") > 5, "nothing was replaced")
    check("walk" in sections(root), sections(root))


def head(root):
    """The page's heading, which is its title too."""
    text = whole_text(next(root.iter(HTML + "h1")))
    check(text == whole_text(next(root.iter(HTML + "title"))), "the title isn't the heading")
    return text


def test_model():
    model = work / "tug.ini"
    model.write_bytes(b"[channels]\n1 = <i>rudder\n2 = gas\xc3\n3 = \xe2\x80\xaewinch\n")
    root = check_page(report(fixtures / "failsafe.log", "--model", model), "model")
    check("<i>rudder" in whole_text(section(root, "channels")), "no name")
    check(head(root) == "Bench report: failsafe.log", head(root))
    # What the model is called heads the page, by the model file or the one in the recording.
    model.write_text("[model]\nname = <b>Ida</b> & Co\n")
    root = check_page(report(fixtures / "failsafe.log", "--model", model), "named")
    check(head(root) == "Bench report: <b>Ida</b> & Co, failsafe.log", head(root))
    out = work / "named.csv"
    run("record", fixtures / "failsafe.log", "--out", out, "--model", model)
    root = check_page(report(out), "named")
    check(head(root) == "Bench report: <b>Ida</b> & Co, named.csv", head(root))


def test_roads():
    """A capture and its recording tell the same, but for the facts and the kind."""
    (work / "a").mkdir()
    (work / "b").mkdir()
    shutil.copy(fixtures / "failsafe.log", work / "a" / "pond")
    run("record", fixtures / "failsafe.log", "--out", work / "b" / "pond")
    a, b = (check_page(report(work / f / "pond"), f) for f in "ab")
    for name in ("answers", "pictures", "causes", "figures", "channels", "cautions"):
        if name != "figures":
            check(tree.tostring(section(a, name)) == tree.tostring(section(b, name)), name,
                  "differs by the road")
    rows = ([r for r in rows_of(x, "figures") if "clock" not in r[0]] for x in (a, b))
    check(next(rows) == next(rows), "figures differ by the road")


def test_next_to_nothing():
    """Pages of recordings without a report, and with one: short, and nothing made up."""
    table = table_of(fixtures / "calm.log")
    about = [row for row in table[1:] if row[0] in ("about", "id")]
    one = next(row for row in table if row[0] == "rx")
    for name, rows in (("header", []), ("about", about), ("one", about + [one])):
        path = work / f"{name}.csv"
        write_table(path, [table[0]] + rows)
        root = check_page(report(path), name)
        told = answers_of(root)
        check(("How much was lost?" in told) == (name == "one"), name, list(told))
        check(("figures" in sections(root)) == (name == "one"), name, sections(root))
        check("Is there a link?" in told and "Why did it drop?" not in told, name, list(told))
        words = "not a packet came" if name == "one" else "no report of the receiver came"
        check(words in told["Is there a link?"], name, told)
        check(len(rows_of(root, "unknown")) >= 4, name, rows_of(root, "unknown"))


def test_refusals():
    log = fixtures / "calm.log"
    out = work / "kept.html"
    out.write_text("mine")
    expect(TROUBLE, "--force", "report", log, "--out", out)
    check(out.read_text() == "mine", "an existing file was touched")
    expect(ANSWER, "", "report", log, "--out", out, "--force")
    check(out.read_text().startswith("<!DOCTYPE"), "--force didn't overwrite")
    expect(USAGE, "--out", "report", log)
    expect(TROUBLE, "folder", "report", log, "--out", work / "none" / "x.html")
    expect(TROUBLE, "there is no", "report", work / "none.csv", "--out", work / "y.html")
    check(not (work / "y.html").exists(), "a page of nothing was written")
    empty = work / "empty.log"
    empty.write_bytes(b"")
    expect(TROUBLE, "", "report", empty, "--out", work / "z.html")
    check(not (work / "z.html").exists(), "a page of an empty file")
    check(run("report", log, "--out", "-").stdout == report(log), "standard output differs")
    check(not list(work.glob("*.part")), "something was left behind")
    full = subprocess.run([airleash, "report", log, "--out", "-"], stdout=open("/dev/full", "wb"),
                          stderr=subprocess.PIPE, timeout=60)
    check(full.returncode == TROUBLE and full.stderr, "a full disk went unsaid", full.returncode)
    fed = subprocess.run([airleash, "report", "-", "--out", "-"], input=log.read_bytes(),
                         capture_output=True, timeout=60)
    check(fed.returncode == ANSWER, fed.stderr.decode())
    check_page(fed.stdout, "standard input")


def main():
    for test in [test_fixtures, test_scenes, test_causes_by_distance, test_walk, test_paper,
                 test_band, test_trials, test_other, test_supply_by_usb, test_next_to_nothing,
                 test_hostile, test_model, test_roads, test_refusals]:
        test()
        print("ok", test.__name__)
    shutil.rmtree(work)


airleash, fixtures = (pathlib.Path(sys.argv[i]).resolve() for i in (1, 2))
main()
