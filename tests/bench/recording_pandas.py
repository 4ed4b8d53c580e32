"""Loss and ends of a recording with pandas: recording_pandas.py FILE.csv"""
import sys

import pandas

CHANNELS = [f"ch{i}" for i in range(1, 9)]


def main(path):
    rows = pandas.read_csv(path, usecols=["kind", "report_no", "got", "lost"] + CHANNELS,
                           na_values=["off"])
    rows = rows[rows.kind == "rx"]
    restarted = rows.report_no.diff() < 0
    for name, label in (("got", "got"), ("lost", "lost")):
        growth = rows[name].diff().where(~restarted, rows[name]).fillna(0)
        print(int(growth.sum()), label)
    for name in CHANNELS:
        print(name, int(rows[name].min()), int(rows[name].max()))


main(sys.argv[1])
