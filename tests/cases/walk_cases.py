"""Range walks whose truth is known: what text, JSON, picture and report say of each.

usage: walk_cases.py AIRLEASH CASES_FOLDER
"""
import html
import json
import pathlib
import re
import subprocess
import sys

program, cases = sys.argv[1], pathlib.Path(sys.argv[2])
faults = 0


def run(*args):
    return subprocess.run([program, *map(str, args)], capture_output=True, check=True).stdout.decode()


def check(good, *said):
    global faults
    if not good:
        faults += 1
        print("FAILED", *said)


def flat(text):
    return re.sub(r"\s+", " ", text.replace("\u202f", " ").replace("\u00a0", " "))


def page_of(path):
    """The report's words, without pictures and style."""
    page = run("report", path, "--out", "-")
    for element in ("style", "svg"):
        page = re.sub(rf"<{element}.*?</{element}>", " ", page, flags=re.S)
    return flat(html.unescape(re.sub(r"<[^>]+>", " ", page)))


class Case:
    def __init__(self, name):
        self.path = cases / f"walk-{name}.csv"
        self.json = json.loads(run("walk", self.path, "--json"))
        self.text, self.page = flat(run("walk", self.path)), page_of(self.path)
        self.picture = flat(run("chart", self.path, "--what", "walk"))
        self.range, self.verdicts = self.json["range"], {
            s["distance_m"]: s["verdict"] for s in self.json["stops"]}

    def says(self, *words):
        for where, said in (("text", self.text), ("report", self.page)):
            for word in words:
                check(word in said, self.path.name, where, "doesn't say", word, "\n", said)

    def never_says(self, *words):
        for where, said in (("text", self.text), ("report", self.page), ("picture", self.picture)):
            for word in words:
                check(word not in said, self.path.name, where, "says", word, "\n", said)

    def has_no(self, *keys):
        for key in keys:
            check(self.range[key] is None and self.json["unknown_because"]["range." + key],
                  self.path.name, key, self.range)


def nobody_saw_a_packet():
    c = Case("bare")
    check(set(c.verdicts.values()) == {"not shown"} and len(c.verdicts) == 5, c.verdicts)
    c.has_no("first_failed_m", "held_to_m", "planned_m", "m", "at_least_m", "at_most_m")
    check(c.range["planned_at_least"] is False, c.range)
    c.says("o stop is shown to hold, so no distance is planned")
    c.never_says("no farther than", "held to", "at least 4")


def an_empty_stop_is_not_counted():
    c = Case("empty-stop")
    check(c.verdicts == {10: "held", 20: "held", 50: "held", 200: "not counted"}, c.verdicts)
    check(c.range["held_to_m"] == 50 and c.range["planned_m"] == 12.5, c.range)
    check(c.range["at_least_m"] is None or c.range["at_least_m"] <= 50, c.range)
    check(c.json["fit"]["farthest_m"] == 50, c.json["fit"])
    c.says("to 50 m", "no farther than 12.5 m", "not counted: it lasted no time")
    c.never_says("to 200 m")


def a_falling_loss_gives_no_range():
    c = Case("falling")
    check(c.json["fit"]["verdict"] == "loss falls with distance", c.json["fit"])
    c.has_no("m", "low_m", "high_m", "at_least_m", "at_most_m", "held_to_m", "planned_m")
    check(c.range["first_failed_m"] == 10 and "held" not in c.verdicts.values(), c.verdicts)
    c.says("loss falls with the distance: too strong near by", "overloaded near the transmitter",
           "lower the power", "no distance is planned")
    check("loss falls with distance" in c.picture, c.picture)
    c.never_says("no farther than", "comes and goes")


nobody_saw_a_packet()
an_empty_stop_is_not_counted()
a_falling_loss_gives_no_range()
print(faults, "faults")
sys.exit(1 if faults else 0)
