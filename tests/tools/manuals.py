#!/usr/bin/env python3
"""Fails when the manual pages and the program drift apart.

Commands, options, console keys, telemetry keys, CSV columns, kinds of rows, damage reasons, JSON
keys and the like are taken from the program where it can be asked and from its tables where it
can't, and compared with the lists in the pages, both ways.  Every page must render without a
warning, and every example that needs no person must run.

usage: manuals.py AIRLEASH SOURCE
"""
import binascii
import json
import os
import pathlib
import re
import shlex
import subprocess
import sys
import tempfile

PAGES = ("airleash.1", "airleash-telemetry.5", "airleash-recording.5", "airleash-json.5",
         "airleash-board.7", "airleash-baseline.5",
         "airleash-failsafe.7")
MACROS = {"Cm", "Va", "Ev", "Pa", "Ar", "Fl", "Ns"}

failures = []


def fail(what):
    failures.append(what)


def equal(what, program, page):
    """Both ways; an empty side means that this test looked in the wrong place."""
    program, page = set(program), set(page)
    if not program or not page:
        fail(f"{what}: nothing found (program {len(program)}, page {len(page)})")
    for name in sorted(program - page):
        fail(f"{what}: the page lacks {name}")
    for name in sorted(page - program):
        fail(f"{what}: the program lacks {name}")


# ---- pages ------------------------------------------------------------------------------------


def plain(text):
    return text.replace("\\&", "").replace("\\-", "-").replace("\\e", "\\")


def words(arguments):
    """The arguments of a macro as text: "Fl o , Fl -out Ar FILE" becomes "-o, --out FILE"."""
    text, glue, dash = "", True, False
    for word in shlex.split(arguments.replace("\\", "\\\\").replace("'", "\\'")):
        if word == "Ns":
            glue = True
        elif word == "Fl":
            dash = True
        elif word not in MACROS:
            word = ("-" if dash else "") + plain(word)
            text += word if glue or word == "," else " " + word
            glue = dash = False
    return text


class Page:
    def __init__(self, path):
        self.lines = path.read_text(encoding="ascii").splitlines()

    def part(self, section, subsection=None):
        """The lines of a section, or of one of its subsections."""
        inside, sub, out = False, None, []
        for line in self.lines:
            if line.startswith(".Sh "):
                inside, sub = plain(line[4:]) == section, None
            elif line.startswith(".Ss "):
                sub = plain(line[4:])
            elif inside and subsection in (None, sub):
                out.append(line)
        return out

    def items(self, section, subsection=None):
        """What its lists explain; "a , b" are two."""
        out = []
        for line in self.part(section, subsection):
            if line.startswith(".It "):
                out += words(line[4:]).split(", ")
        return out

    def examples(self):
        """The literal blocks of the whole page."""
        block = None
        for line in self.lines:
            if line.startswith(".Bd -literal"):
                block = []
            elif line == ".Ed":
                yield [plain(one) for one in block]
                block = None
            elif block is not None:
                block.append(line)


def check_rendering(path):
    for command in (["groff", "-ww", "-mandoc", "-Tutf8", path],
                    ["mandoc", "-Tlint", "-W", "warning", path],
                    ["man", "--warnings", "-l", path]):
        run = subprocess.run(command, capture_output=True, timeout=60,
                             env=dict(os.environ, LC_ALL="C.UTF-8", MANWIDTH="80", PAGER="cat"))
        complaint = run.stdout if command[0] == "mandoc" else run.stderr
        if run.returncode != 0 or complaint or (command[0] != "mandoc" and len(run.stdout) < 1000):
            fail(f"{' '.join(map(str, command))}: exit {run.returncode}: {complaint.decode()}")


def check_rendered(path, page):
    """Headings and lists as meant: a word such as In is a macro of its own where nothing guards it.
    """
    run = subprocess.run(["groff", "-mandoc", "-Tascii", "-P-cbou", "-rLL=200n", path],
                         capture_output=True, timeout=60)
    seen = [line.strip() for line in run.stdout.decode().splitlines()]
    for line in page.lines:
        if line.startswith((".Sh ", ".Ss ")) and plain(line[4:]) not in seen:
            fail(f"{path.name}: the heading {line} isn't rendered as it stands")
        elif line.startswith(".It ") and " Ta " not in line:
            if not any(one.startswith(words(line[4:])) for one in seen):
                fail(f"{path.name}: {line} isn't rendered as it stands")


# ---- the program's tables ------------------------------------------------------------------------


class Source:
    def __init__(self, root):
        self.root = root

    def block(self, path, head):
        """The text between the braces that follow `head`."""
        text = (self.root / path).read_text(encoding="utf-8")
        at = text.find(head)
        if at < 0:
            fail(f"{path}: no {head}")
            return ""
        start = text.index("{", at)
        return text[start + 1 : text.index("};", start)]

    def strings(self, path, head):
        return re.findall(r'"([^"]*)"', self.block(path, head))

    def firsts(self, path, head):
        """The first string of each row that is written as [INDEX] = {"...", ...}."""
        return re.findall(r'\[\w+\] =\s*\{\s*"([^"]*)"', self.block(path, head))

    def count(self, path, head):
        """Members of an enum but its last, which counts them."""
        text = re.sub(r"/\*.*?\*/", "", self.block(path, head), flags=re.S)
        return len(re.findall(r"\b[A-Z]\w*\b", text)) - 1


class Program:
    def __init__(self, path):
        self.path = path

    def run(self, *arguments, stdin=b""):
        run = subprocess.run([self.path, *map(str, arguments)], capture_output=True, input=stdin,
                             timeout=60)
        if run.returncode != 0:
            fail(f"airleash {' '.join(map(str, arguments))}: exit {run.returncode}: "
                 f"{run.stderr.decode()}")
        return run.stdout

    def text(self, *arguments):
        return self.run(*arguments).decode()


# ---- airleash.1 ------------------------------------------------------------------------------


def options_of(program, command):
    """(letter, "--name ARGUMENT") of each option in a command's help."""
    rows = re.findall(r"^ +(?:-(\w), )? *--([\w-]+)(?: (\S+))? +\S.*$",
                      program.text("help", command), re.M)
    return [(letter, f"--{name}" + (f" {argument}" if argument else ""))
            for letter, name, argument in rows]


def synopses(page):
    """By command, the options and operands of its synopsis, "[...]" where they are optional."""
    out, command = {}, None
    for line in page.part("SYNOPSIS"):
        if line == ".Nm":
            command = None
        elif line.startswith(".Cm "):
            command = line[4:]
            out[command] = []
        elif command:
            optional = line.startswith(".Op ")
            text = words(line[4:] if optional else line[1:])
            out[command].append(f"[{text}]" if optional else text)
    return out


def check_commands(page, program, source):
    commands = source.firsts("src/app/commands.c", "const struct command commands[COMMANDS]")
    if len(commands) != source.count("src/app/options.h", "enum command_id"):
        fail(f"commands: {len(commands)} rows found")
    equal("commands", commands, page.items("COMMANDS"))
    forms, explained = synopses(page), set()
    equal("commands of the synopsis", commands, forms)
    for command in commands:
        options = options_of(program, command)
        if ("h", "--help") not in options:
            fail(f"help {command}: its options can't be read")
        for letter, name in options:
            explained |= {name} | ({f"-{letter}"} if letter else set())
        usage = re.match(r"usage: airleash \S+ ?(.*) \[OPTIONS\]", program.text("help", command))
        operand = [usage.group(1)] if usage and usage.group(1) else []
        among = usage.group(1).split() if usage else []  # an option that parts operands
        wanted = [name for _, name in options if name != "--help" and name not in among] + operand
        seen = [form if form in operand else form.strip("[]") for form in forms.get(command, [])]
        if wanted or seen:
            equal(f"synopsis of {command}", wanted, seen)
    equal("options", explained, page.items("OPTIONS"))


def check_keys(page, source):
    table = source.block("src/view/keys.c", "const struct key_row key_rows[]")
    rows = re.findall(r"\{\s*('.'|PRESS_\w+),\s*('.'|PRESS_\w+|0),\s*(ACTION_\w+),\s*([A-Z_| ]+),",
                      table)
    if len(rows) != table.count("ACTION_"):
        fail(f"keys: {len(rows)} of {table.count('ACTION_')} rows read")
    text = (source.root / "src/view/keys.c").read_text()
    named = dict(re.findall(r"\{('.'|PRESS_\w+), \"([^\"]+)\"\}", text))
    places = {"ALWAYS": "Always", "IN_LIVE": "In the live console", "IN_REPLAY": "In a replay",
              "IN_QUESTION": "In a question", "IN_HELP": "On the page of keys",
              "IN_TRIAL": "At a step of a trial", "IN_TRIALS": "In the list of trials",
              "IN_CHARTS": "On a chart"}
    for place, subsection in places.items():
        keys = [named.get(key, key.strip("'")) for row in rows for key in row[:2]
                if key != "0" and row[3].split("|")[0].strip() == place]
        equal(f"keys, {subsection}", keys, page.items("KEYS", subsection))


def check_words(page, program, source):
    equal("states", source.strings("src/link/snapshot.c", "names[LINK_STATES]"),
          page.items("THE CONSOLE", "STATES"))
    equal("alarms", source.strings("src/link/snapshot.c", "names[ALARMS]"), page.items("ALARMS"))
    equal("pictures", re.findall(r'\{"(\w+)",', source.block(
        "src/app/gallery.c", "const struct gallery_row gallery_rows[]")), page.items("PICTURES"))
    scenes = [line.split()[0] for line in program.text("simulate", "--scenes").splitlines()]
    equal("scenes", scenes, page.items("SCENES"))
    parts = re.findall(r'\[SECTION_\w+\] = \{"(\w+)"',
                       source.block("src/text/sections.c", "figures_sections[SECTIONS]"))
    equal("parts of the figures", parts, page.items("PARTS OF THE FIGURES"))
    cards = re.findall(r'\[[\w +]+\] =\s*\{"(\w+)",\s*"([^"]+)"',
                       source.block("src/model/model.c", "const struct model_key model_keys[]"))
    for section in sorted({section for section, _ in cards}):
        equal(f"model, {section}", [key for of, key in cards if of == section],
              page.items("THE MODEL FILE", f"Section {section}"))
    sections = [line[12:] for line in page.lines if line.startswith(".Ss Section ")]
    equal("sections of the model file", {section for section, _ in cards}, sections)
    speeds = re.findall(r"\d+", source.block("src/source/speed.c", "rates[]"))
    said = " ".join(page.part("OPTIONS"))
    for speed in speeds or ["no speed at all"]:
        if not re.search(rf"\b{speed}\b", said):
            fail(f"--speed auto: the page lacks {speed}")
    variables = {"NO_COLOR", "AIRLEASH_ALARM"}
    for name in variables:
        if name not in page.items("ENVIRONMENT"):
            fail(f"environment: the page lacks {name}")
        if not any(name in path.read_text() for path in (source.root / "src").rglob("*.c")):
            fail(f"environment: the program lacks {name}")


# ---- airleash-telemetry.5 ----------------------------------------------------------------------


def check_telemetry(page, source):
    table = "src/telemetry/words.c"
    rows = (source.root / "src/telemetry/keys.h").read_text()
    keys = re.findall(r'ROW\([^"]*\((?:"\w+"[, ]*)+\), "(\w+)"', rows)
    if len(keys) != rows.count("ROW("):
        fail(f"rx keys: {len(keys)} rows found")
    equal("rx keys", keys, page.items("KEYS OF THE rx LINE"))
    keys = source.firsts(table, "identity_fields[IDENTITY_KEYS]")
    if len(keys) != source.count("src/telemetry/event.h", "enum identity_key"):
        fail(f"id keys: {len(keys)} rows found")
    equal("id keys", keys, page.items("KEYS OF THE id LINE"))
    equal("words", source.strings("src/telemetry/parse.c", "words[WORDS]"), page.items("WORDS"))
    equal("air keys", source.strings("src/telemetry/parse.c", "air_keys[]"),
          page.items("KEYS OF THE air LINE"))
    equal("boot keys", ["cause"], page.items("KEYS OF THE boot LINE"))
    for array, section in (("boot_names[]", "KEYS OF THE boot LINE"),
                           ("registers_names[]", "KEYS OF THE rx LINE")):
        said = set(re.findall(r"^\.Cm (\w+)", "\n".join(page.part(section)), re.M))
        for name in source.strings(table, array) or ["nothing"]:
            if name not in said:
                fail(f"{array}: the page lacks {name}")
    reasons = source.strings(table, "damage_names[]")
    if len(reasons) != source.count("src/telemetry/event.h", "enum damage_reason"):
        fail(f"reasons: {len(reasons)} found")
    equal("reasons", reasons, page.items("REFUSED LINES"))


def checked_lines(page):
    """The example lines that end in a checksum, by block."""
    for block in page.examples():
        lines = [line for line in block if re.search(r" \*[0-9A-F]{4}$", line)]
        if lines:
            yield lines


def check_checksums(page, program):
    """binascii.crc_hqx is CPython's own CRC-16/IBM-3740 where it begins with 0xFFFF."""
    blocks = list(checked_lines(page))
    if sum(map(len, blocks)) < 5:
        fail("checksums: hardly any example line found")
    for line in (line for block in blocks for line in block):
        if f"{binascii.crc_hqx(line[:-6].encode(), 0xFFFF):04X}" != line[-4:]:
            fail(f"checksum: wrong in {line}")
    for block in blocks:
        figures = json.loads(program.run("figures", "-", "--json",
                                         stdin="\n".join(block + [""]).encode()))
        if figures["lines"]["good"] != len(block) or figures["lines"]["damaged"] != 0:
            fail(f"the program refuses an example: {figures['lines']} of {block}")


# ---- airleash-recording.5 ------------------------------------------------------------------------


def check_recording(page, program, source, folder):
    table = "src/telemetry/words.c"
    out = folder / "header.csv"
    (folder / "header.log").write_bytes(b"rx ch=1500\n")
    program.run("record", folder / "header.log", "--out", out)
    header = out.read_text().splitlines()[0].split(",")
    if page.items("COLUMNS") != header:
        equal("columns", header, page.items("COLUMNS"))
        fail("columns: not in the order of the header")
    equal("kinds", source.strings(table, "kind_names[]"), page.items("KINDS OF ROWS"))
    equal("marks", source.strings(table, "mark_names[]"), page.items("MARKS"))
    equal("port changes", source.strings(table, "port_names[]"),
          page.items("CHANGES OF THE PORT"))


# ---- airleash-json.5 -----------------------------------------------------------------------------


# Objects whose keys are names that another list has.
OPEN_KEYS = {"lines.reasons": "reason", "restarts.causes": "cause", "stands": "trial"}
# Objects with words about other keys.
WORDS_ABOUT = ("unknown_because", "conventions")


def paths(value, path=""):
    if path in WORDS_ABOUT:
        yield path
    elif isinstance(value, dict):
        if path:
            yield path
        for key, inner in value.items():
            key = OPEN_KEYS.get(path, key)
            yield from paths(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        yield path
        for inner in value:
            yield from paths(inner, path + "[]")
    else:
        yield path


def explained_paths(page, section):
    """Those of the page, with the objects and lists on the way to them."""
    out = set()
    for item in page.items(section):
        steps = item.split(".")
        for i in range(1, len(steps) + 1):
            path = ".".join(steps[:i])
            out |= {path, path[:-2]} if path.endswith("[]") else {path}
    return out


def figures_of_all(program, source, folder):
    captures = sorted((source.root / "fixtures").glob("*.log"))
    if not captures:
        fail("no fixtures")
    for line in program.text("simulate", "--scenes").splitlines():
        scene = line.split()[0]
        captures.append(folder / f"scene-{scene}.log")
        captures[-1].write_bytes(program.run("simulate", "--lines", "--fast", "--scene", scene))
    for capture in captures:
        yield json.loads(program.run("figures", capture, "--json"))


def walks_of_scenes(program, folder):
    """Walks with stops by a switch, by marks, and without any."""
    recording = folder / "walk.csv"
    capture = folder / "scene-walk.log"
    program.run("record", capture, "--out", recording)
    program.run("stops", recording, "--add", "3:5")
    yield program.run("walk", recording, "--json")
    for scene in ("walk", "reduced", "bare"):
        capture = folder / f"scene-{scene}.log"
        yield program.run("walk", capture, "--json")
        yield program.run("walk", capture, "--json", "--switch", 6, "--max-loss", 0.01)


def check_walk_json(page, program, folder, telemetry_keys):
    seen, reasons = set(), set()
    for answer in map(json.loads, walks_of_scenes(program, folder)):
        own = set(paths(answer))
        seen |= own
        reasons |= set(answer["unknown_because"].values())
        for path in answer["unknown_because"]:
            if re.sub(r"\[\d+\]", "[]", path) not in own:
                fail(f"walk: unknown_because names {path}, which isn't there")
    equal("walk --json", seen, explained_paths(page, "KEYS OF walk"))
    for reason in sorted(reasons - set(telemetry_keys) - set(page.items("UNKNOWN VALUES"))):
        fail(f"walk: unknown_because: the page lacks '{reason}'")


def judged_trial(program, folder):
    """A recording of the failsafe scene, with a trial around most of it that proves nothing."""
    scene, recording = folder / "trial.log", folder / "trial.csv"
    scene.write_bytes(program.run("simulate", "--lines", "--fast", "--scene", "failsafe"))
    program.run("record", scene, "--out", recording)
    rows = recording.read_text().split("\n")
    empty = "," * (rows[0].count(",") - 1)
    rows.insert(len(rows) // 4, f"trial{empty},failsafe begin")
    rows.insert(len(rows) // 2, f"trial{empty},failsafe end")
    recording.write_text("\n".join(rows))
    judged = json.loads(program.run("judge", recording, "--json"))
    if len(judged["trials"]) != 1 or not judged["trials"][0]["ended"]:
        fail(f"judge: not the one trial: {judged}")
    return judged


def check_json(page, program, source, folder, telemetry_keys):
    seen, reasons = set(), set()
    for answer in figures_of_all(program, source, folder):
        own = set(paths(answer))
        seen |= own
        reasons |= set(answer["unknown_because"].values())
        for path in answer["unknown_because"]:
            if re.sub(r"\[\d+\]", "[]", path) not in own:
                fail(f"unknown_because names {path}, which isn't there")
    listed = explained_paths(page, "KEYS OF figures")
    equal("figures --json", seen | {path + "[]" for path in ("channels", "failsafe.events")},
          listed)
    unexplained = reasons - set(telemetry_keys) - set(page.items("UNKNOWN VALUES"))
    for reason in sorted(unexplained):
        fail(f"unknown_because: the page lacks '{reason}'")
    check_budget_json(page, program, folder)
    check_causes_json(page, program, folder)
    judged = judged_trial(program, folder)
    listed = explained_paths(page, "KEYS OF judge")
    equal("judge --json", set(paths(judged)) | {"trials[]", "trials[].findings[]"}, listed)
    ports = json.loads(program.run("ports", "--json"))
    table = (source.root / "src/app/command_ports.c").read_text()
    keys = re.findall(r'"(\w+)",\s*(?:usb_id\()?ports\[i\]\.', table)
    listed = explained_paths(page, "KEYS OF ports")
    equal("ports --json", {"format", "ports", "ports[]"} | {f"ports[].{key}" for key in keys},
          listed)
    for path in sorted(set(paths(ports)) - listed - {"ports[]"}):
        fail(f"ports --json: the page lacks {path}")


def check_budget_json(page, program, folder):
    keys = set()
    for extra in ((), ("--angle", "90"), ("--angle", "circular", "--edge", "1", "--rate", "50"),
                  ("--walked", "60", "--level-dbm", "-80"),
                  ("--walk", folder / "scene-walk.log", "--switch", "6"),
                  ("--walk", folder / "scene-bare.log")):
        answer = json.loads(program.run("budget", "--json", *extra))
        keys |= set(paths(answer))
        for name in ("conventions", "unknown_because"):
            for key in set(answer[name]) - set(answer):
                fail(f"budget --json: {name} names {key}, which isn't there")
        nulls = {key for key, value in answer.items() if value is None}
        if nulls != set(answer["unknown_because"]):
            fail(f"budget --json: {nulls} are null, {answer['unknown_because']} tells why")
        said = set(re.findall(r"^\.Cm (?:\"([^\"]+)\"|(\w+))", "\n".join(page.part("KEYS OF budget")),
                              re.M))
        for why in set(answer["unknown_because"].values()) - {a or b for a, b in said}:
            fail(f"budget --json: the page lacks the reason '{why}'")
    keys -= {"wifi_channels[]", "wifi_channels_22_mhz[]"}
    equal("budget --json", keys, explained_paths(page, "KEYS OF budget"))
def with_twitches(program, folder):
    """A recording with six twitch marks, each after a dip of the supply."""
    made = folder / "twitches.csv"
    program.run("record", "-", "--out", str(made), stdin=b"rx n=5 t=100 ch=1500\n")
    head = made.read_bytes().split(b"\r\n")[0].decode().split(",")
    rows = [",".join(head)]
    for n in range(800):
        low = 4300 if n % 120 == 60 else 4950
        facts = {"kind": "rx", "host_us": n * 100000, "rx_ms": n * 100 + 1000, "report_no": n + 9,
                 "supply_mv": 5000, "supply_min_mv": low, "ch1": 1500}
        rows.append(",".join(str(facts.get(name, "")) for name in head))
        if n % 120 == 68:
            facts = {"kind": "mark", "host_us": n * 100000 + 1, "note": "twitch"}
            rows.append(",".join(str(facts.get(name, "")) for name in head))
    made.write_bytes("".join(row + "\r\n" for row in rows).encode())
    return made


def check_causes_json(page, program, folder):
    keys, names = set(), set()
    captures = [with_twitches(program, folder)]
    for scene in ("weak", "busy"):
        captures.append(folder / f"causes-{scene}.log")
        captures[-1].write_bytes(program.run("simulate", "--lines", "--fast", "--scene", scene,
                                             "--for", "300"))
    model = folder / "throttle.ini"
    model.write_text("[channels]\nthrottle = 2\n")
    for capture in captures:
        answer = json.loads(program.run("causes", capture, "--model", model, "--json"))
        keys |= set(paths(answer))
        for cause in answer["causes"] + (answer["twitches"] or {"causes": []})["causes"]:
            if (cause["shown"] is None) != (cause["missing"] is not None):
                fail(f"causes --json: {cause['name']}: shown and missing contradict each other")
    if not any(key.startswith("twitches.causes[].") for key in keys):
        fail("causes --json: no twitch was looked at")
    listed = explained_paths(page, "KEYS OF causes")
    listed |= {"twitches." + path for path in listed if path.startswith("causes[]")}
    listed |= {"chains[]", "twitches.chains[]"} & keys
    equal("causes --json", keys, listed)


def one_of_each(path):
    """The keys of side b are those of a, and each figure of a comparison has the same."""
    return re.sub(r"^figures\.\w+", "figures.outages", re.sub(r"^b\b", "a", path))


def check_compare(page, program, source, folder, telemetry_keys):
    """Every pair of scenes, one of each and two; and captures of single lines."""
    names = ("calm", "busy", "bare", "weak", "mismatch")
    seen, reasons, verdicts = set(), set(), set()
    pairs = [([a], [b]) for a in names for b in names]
    pairs += [(["busy", "busy2"], ["calm", "calm2"]), (["retries"], ["calm"])]
    for name in ("busy", "calm"):
        (folder / f"scene-{name}2.log").write_bytes(
            program.run("simulate", "--lines", "--fast", "--scene", name, "--seed", "2"))
    (folder / "scene-retries.log").write_bytes(b"id end=rx rate=50 ack=1\nrx t=1 ch=1500\n")
    walked = ["--walk", folder / "scene-walk.log", "--switch", "6"]
    pairs += [(["busy"], ["weak"], *walked), (["busy"], ["calm"], *walked),
              (["busy"], ["weak"], "--walk", folder / "scene-calm.log")]
    for a, b, *more in pairs:
        files = [[folder / f"scene-{name}.log" for name in side] for side in (a, b)]
        answer = json.loads(program.run("compare", *files[0], "--with", *files[1], "--json",
                                        *more))
        own = set(paths(answer))
        seen |= {one_of_each(path) for path in own}
        reasons |= set(answer["unknown_because"].values())
        verdicts.add(answer["verdict"])
        for path in answer["unknown_because"]:
            if path not in own:
                fail(f"compare: unknown_because names {path}, which isn't there")
    equal("compare --json", seen, explained_paths(page, "KEYS OF compare"))
    for reason in sorted(reasons - set(telemetry_keys) - set(page.items("UNKNOWN VALUES"))):
        fail(f"compare: unknown_because: the page lacks '{reason}'")
    said = " ".join(page.part("KEYS OF compare"))
    words = source.strings("src/text/compare_words.c", "names[] = {\n        [COMPARE_HELPED]")
    for word in set(words) | verdicts:
        if f".Ql {word}" not in said:
            fail(f"compare: the page lacks the verdict '{word}'")


def check_baseline(page, source):
    equal("keys of a baseline",
          re.findall(r'FIELD\("(\w+)"', source.block("src/study/baseline.c", "struct field fields[]"))
          + ["block"], page.items("KEYS"))


# ---- airleash-failsafe.7 ----


def check_failsafe(path, source):
    """Each claim is a finding of the judge, each finding a claim; limits as the code has them."""
    text = path.read_text()
    named = [name.strip() for group in re.findall(r"\[([a-z_0-9, .\n]+)\]", text)
             for name in re.split(r"[,\n]", group) if name.strip()]
    listed = {re.sub(r" \.\.\.$", "", name) for name in named}
    judge = (source.root / "src/judge/failsafe_judge.c").read_text()
    found = set(re.findall(r'(?:trial_find\(\s*out|not_shown\(\s*out), "(\w+)"', judge))
    found |= set(re.findall(r'static const char name\[\] = "(\w+)"', judge))
    found |= set(re.findall(r'(?:START|HOW)_\w+, "(\w+)"', judge)) | {"channel_1", "outage_1"}
    equal("claims of airleash-failsafe(7)", found, listed)
    rules = (source.root / "src/trial/verdict.c").read_text()
    for key, unit in (("throttle_low_ms", 1), ("recover_ms", 1), ("ride_ms", 1), ("stay_ms", 1000)):
        value = int(re.search(rf"\.{key} = (\d+)", rules).group(1)) // unit
        if not re.search(rf"\b{value} (ms|s)\b", text):
            fail(f"airleash-failsafe.7 doesn't name {key}, {value}")


# ---- airleash-board.7 ----------------------------------------------------------------------------


def wired(page, heading):
    """{first column: pins of the chip} of the table after the line `heading`."""
    lines = page.part("WIRING")
    out = {}
    for line in lines[lines.index(heading) + 3:]:
        if line == ".El":
            break
        what, chip = line[4:].split(" Ta ")[:2]
        out[what] = re.findall(r"P[BCD]\d", chip)
    return out


def check_board(page, source):
    """The wiring tables against pins.h, and the settings that are named against settings.h."""
    pins = (source.root / "src/board/pins.h").read_text()
    number = dict(re.findall(r"#define (\w+) +(\d+) /\*", pins))
    bits = re.findall(r"\d", re.search(r"SERVO_BITS +([\d, ]+)", pins).group(1))
    ports = re.findall(r"'(\w)'", re.search(r"SERVO_PORTS +(.+)", pins).group(1))
    radio = wired(page, "The same at both ends:")
    for name in ("CE", "CSN", "MOSI", "MISO", "SCK", "IRQ"):
        port = "D" if name == "IRQ" else "B"
        equal(f"wiring of {name}", [f"P{port}{number['RADIO_' + name]}"], radio.get(name, []))
    receiver = wired(page, "The receiver:")
    for i, (port, bit) in enumerate(zip(ports, bits), 1):
        equal(f"wiring of channel {i}", [f"P{port}{bit}"], receiver.get(f"channel {i}", []))
    equal("wiring of sweep", ["PC" + number["RX_SWEEP_JUMPER"]], receiver.get("sweep", []))
    sender = wired(page, "The transmitter:")
    for what, names in (("channel 7", ("TX_SWITCH7_LOW", "TX_SWITCH7_HIGH")),
                        ("channel 8", ("TX_SWITCH8",)), ("power", ("TX_REDUCED",))):
        equal(f"wiring of {what}", ["PD" + number[name] for name in names], sender.get(what, []))
    settings = (source.root / "src/board/settings.h").read_text()
    settings += (source.root / "src/board/guard.c").read_text()
    named = set(re.findall(r"BOARD_\w+", "\n".join(page.lines)))
    for name in sorted(named):
        if not re.search(rf"#(define|ifdef) {name}\b", settings):
            fail(f"settings: the program lacks {name}")
    hold = re.search(r"BOARD_HOLD_MS +(\d+)", settings).group(1)
    if len(named) < 5 or f"After {hold} ms without" not in "\n".join(page.lines):
        fail("settings: the page doesn't tell them")


# What the sketch on the page takes from its board: a minute of it, 5 ms a turn.
SKETCH_HOST = """
#include <stdint.h>
#include <stdio.h>
static uint32_t now;
static uint32_t millis() { return now; }
static struct {
  void begin(long) {}
  int availableForWrite() { return 63; }
  void write(uint8_t byte) { putchar(byte); }
} Serial;
#include "sketch.ino"
int main() {
  for (setup(); now < 60000; now += 5)
    loop();
}
"""


def check_sketch(page, program, source, folder):
    """The sketch on the page, with the files that the program prints: compiled as C++ like on its
    board, run, and what it prints read by the program."""
    sketch = [block for block in page.examples() if block[0] == '#include "emit.h"']
    if len(sketch) != 1:
        fail("airleash-board.7: no sketch")
        return
    place = folder / "sketch"
    place.mkdir()
    (place / "sketch.ino").write_text("\n".join(sketch[0]) + "\n")
    (place / "host.cpp").write_text(SKETCH_HOST)
    for name in ("emit.h", "emit.c"):
        text = program.text("sketch", name)
        (place / name).write_text(text)
        original = (source.root / "src/emit" / name).read_text()
        if text != original.replace('"emit/emit.h"', '"emit.h"'):
            fail(f"sketch {name} isn't src/emit/{name}")
    warnings = ["-Wall", "-Wextra", "-Wpedantic", "-Werror"]
    for command in (["gcc", "-std=c99", "-ffreestanding", *warnings, "-c", "emit.c"],
                    ["g++", "-std=c++11", *warnings, "host.cpp", "emit.o", "-o", "sketch"]):
        run = subprocess.run(command, cwd=place, capture_output=True, timeout=60)
        if run.returncode != 0:
            fail(f"the sketch: {' '.join(command)}: {run.stderr.decode()}")
            return
    lines = subprocess.run([place / "sketch"], capture_output=True, timeout=60).stdout
    figures = json.loads(program.run("figures", "-", "--json", stdin=lines))
    # a minute at 20 reports a second, and the boot line
    if figures["lines"]["damaged"] != 0 or figures["lines"]["good"] not in (1200, 1201):
        fail(f"the sketch: {figures['lines']}")


# ---- examples ------------------------------------------------------------------------------------


def needs_person(block):
    """A screen, a port, or a change of the machine."""
    return any(re.search(r"\b(demo|watch|replay|ports|sudo)\b|/dev/|pond", line)
               or re.search(r"simulate(?! --lines --fast)", line) for line in block)


def command_of(block, folder):
    if block[0].startswith("import "):
        return ["python3", "-c", "\n".join(block)]
    if block[0].startswith("["):
        (folder / "tug.ini").write_text("\n".join(block) + "\n")
        return ["bash", "-ec", "airleash figures tug.log --model tug.ini"]
    if block[0].startswith(("airleash ", "awk ")) and not needs_person(block):
        return ["bash", "-ec", "\n".join(block)]
    return None


def check_examples(name, page, airleash, folder, least):
    environment = dict(os.environ, PATH=f"{pathlib.Path(airleash).parent}:{os.environ['PATH']}")
    ran = 0
    for block in page.examples():
        command = command_of(block, folder)
        if command is None:
            continue
        ran += 1
        run = subprocess.run(command, cwd=folder, env=environment, capture_output=True, timeout=60)
        if run.returncode != 0 or run.stderr:
            fail(f"{name}: example fails ({run.returncode}): {block}: {run.stderr.decode()}")
    if ran < least:
        fail(f"{name}: only {ran} examples ran")


def main():
    airleash, root = os.path.abspath(sys.argv[1]), pathlib.Path(sys.argv[2])
    program, source = Program(airleash), Source(root)
    pages = {name: Page(root / "man" / name) for name in PAGES}
    equal("pages", {path.name for path in (root / "man").glob("*.[0-9]")}, PAGES)
    for name in PAGES:
        check_rendering(root / "man" / name)
        check_rendered(root / "man" / name, pages[name])
    check_commands(pages["airleash.1"], program, source)
    check_keys(pages["airleash.1"], source)
    check_words(pages["airleash.1"], program, source)
    telemetry = pages["airleash-telemetry.5"]
    check_telemetry(telemetry, source)
    check_checksums(telemetry, program)
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        check_recording(pages["airleash-recording.5"], program, source, folder)
        check_failsafe(root / "man" / "airleash-failsafe.7", source)
        check_board(pages["airleash-board.7"], source)
        check_sketch(pages["airleash-board.7"], program, source, folder)
        check_json(pages["airleash-json.5"], program, source, folder,
                   telemetry.items("KEYS OF THE rx LINE"))
        check_walk_json(pages["airleash-json.5"], program, folder,
                        telemetry.items("KEYS OF THE rx LINE"))
        check_compare(pages["airleash-json.5"], program, source, folder,
                      telemetry.items("KEYS OF THE rx LINE") + telemetry.items("KEYS OF THE id LINE"))
        check_baseline(pages["airleash-baseline.5"], source)
        longest = max(checked_lines(telemetry), key=len)
        (folder / "tug.log").write_text("\n".join(longest) + "\n")
        for page, least in zip(PAGES, (2, 1, 3, 2, 1, 1)):
            check_examples(page, pages[page], airleash, folder, least)
    for failure in failures:
        print(failure)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
