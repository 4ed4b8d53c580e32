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
SCENES = ("walk", "stranger", "beacon", "forgot", "mute", "wires", "bind")
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
        shown = [float(n) for n in re.findall(r"\d+\.\d+", rows["loss"][1])]
        wanted = [100 * v for v in (low, high) if v is not None]
        if wanted:
            check(len(shown) == len(wanted) and
                  all(abs(a - b) <= 0.005001 for a, b in zip(shown, wanted)), what, shown, wanted)
    unknown = " ".join(row[1] for row in rows_of(root, "unknown"))
    for figure, why in told["unknown_because"].items():
        if figure.split(".")[0] in ("supply", "failsafe", "lines", "restarts", "packets"):
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


def test_scenes():
    for scene in SCENES:
        capture = work / f"{scene}.cap"
        capture.write_bytes(run("pretend", "--lines", "--fast", "--scene", scene).stdout)
        more = ["--switch", "6"] if scene == "walk" else []
        root = check_page(report(capture, *more), scene)
        check_figures(root, capture, scene)


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


def test_card():
    card = work / "tug.ini"
    card.write_bytes(b"[channels]\n1 = <i>rudder\n2 = gas\xc3\n3 = \xe2\x80\xaewinch\n")
    root = check_page(report(fixtures / "failsafe.log", "--card", card), "card")
    check("<i>rudder" in whole_text(section(root, "channels")), "no name")


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
    for test in [test_fixtures, test_scenes, test_walk, test_trials, test_hostile, test_card,
                 test_roads, test_refusals]:
        test()
        print("ok", test.__name__)
    shutil.rmtree(work)


airleash, fixtures = (pathlib.Path(sys.argv[i]).resolve() for i in (1, 2))
main()
