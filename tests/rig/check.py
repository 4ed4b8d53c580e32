#!/usr/bin/env python3
"""The console against what really happened, with both firmwares in emulated hardware.

usage: check.py RIG AIRLEASH AVR_NM FOLDER NAME ELF [NAME ELF]...

ELFs: receiver, receiver-full, transmitter, transmitter-address and so on: what `rig --list` asks
for.  Each scene is run, `airleash record` makes a recording of what the receiver printed, `airleash
figures --json` says what the link did, and that is compared with the rig's own truth: frames on the
virtual air, payloads read out of the virtual chip, pulses on the pins, resets.  All times of the
truth are emulated cycles of 62.5 ns.  FOLDER keeps the files of the last run.

RIG_SCENES="calm outage" in the environment runs these alone ("chance" for those made up by chance,
"round" only so); RIG_CHANCE="4 5 6" takes other seeds for what chance makes up.
"""
import bisect
import collections
import concurrent.futures
import json
import os
import pathlib
import signal
import subprocess
import sys
import time

sys.dont_write_bytecode = True
from truth import SETTLED_MS, TICKS_MS, TICKS_US, Recording, Truth  # noqa: E402

FRAME_MS = 20 + 8 * 2.2  # a servo frame, and all pulses of one: outputs follow a command so late
HOLD_MS = 500           # what the firmware's settings promise
WATCHED = ("lines_report_begin", "lines_report_step")
MODEL = "[channels]\nthrottle = 3\nidle = low\n"


def stick_us(count):
    """Both ends at 1000 and 2000, the middle at 512: the firmware's settings."""
    return 1000 + 500 * count / 512 if count <= 512 else 1500 + 500 * (count - 512) / 511


class Scene:
    def __init__(self, world, facts):
        self.__dict__.update(facts)
        self.world, self.faults, self.compared = world, [], 0
        self.path = world.folder / self.name

    def expect(self, what, is_, should):
        if is_ != should:
            self.faults.append(f"{what}: {is_}, should be {should}")

    def expect_within(self, what, low, is_, high):
        if None in (low, is_, high) or not low <= is_ <= high:
            self.faults.append(f"{what}: {is_}, should be in {low} to {high}")

    def run(self):
        elf = self.world.elf
        receiver = "receiver" + ("-" + self.receiver if self.receiver else "")
        transmitter = "transmitter" + ("-" + self.transmitter if self.transmitter else "")
        command = [self.world.rig, self.name, elf[receiver], elf[transmitter], self.world.folder]
        if self.name in ("calm", "full"):
            for address in self.world.watched(elf[receiver]).values():
                command += ["--watch", str(address)]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, timeout=400)
        self.read()

    def read(self):
        program = self.world.airleash
        csv_path = self.path.with_suffix(".csv")
        subprocess.run([program, "record", self.path.with_suffix(".log"), "--out", csv_path,
                        "--force"], check=True, capture_output=True, timeout=60)
        done = subprocess.run([program, "figures", "--json", "--model", self.world.model, csv_path],
                              check=True, capture_output=True, timeout=60)
        self.figures = json.loads(done.stdout)
        self.truth = Truth(self.path.with_suffix(".truth"))
        self.recording = Recording(csv_path)

    def check(self):
        self.check_packets()
        self.check_restarts()
        self.check_failsafes()
        self.check_sticks()
        self.check_pulses()
        self.check_radio()
        self.check_lines()
        self.check_identity()
        extra = getattr(self, "check_" + self.name, None)
        if extra:
            extra()
        return self.faults

    def check_packets(self):
        packets = self.figures["packets"]
        self.count_packets()
        if self.refused and not self.heard:
            self.expect("refused", packets["refused"], len(self.truth.reads))
            self.packets = 0, 0
        got, lost = self.packets
        self.expect("got", packets["got"], got)
        self.expect("lost", packets["lost"], lost if self.heard else None) # before the first: unknown
        self.expect("heard at all", packets["got"] > 0, bool(self.heard))
        self.expect("refused at all", packets["refused"] > 0, bool(self.refused))
        self.expect("loss at all", (packets["lost"] or 0) > 0, bool(self.loss))
        if self.heard:
            self.expect("evidence", packets["evidence"], "pattern")

    def count_packets(self):
        """Also holds the order of the outcomes against the reports' own, where each had room."""
        outcomes = self.truth.packets()
        told = [row["pat"] for row in self.recording.reports]
        if not self.refused and max(map(len, told)) < 64 and "".join(told) != outcomes:
            self.faults.append("the order of what arrived and what didn't is another")
        self.packets = outcomes.count("o"), outcomes.count("x")

    def check_restarts(self):
        restarts = self.figures["restarts"]
        causes = {self.cause: self.restarts} if self.restarts else {}
        starts = [cause for _, cause in self.truth.starts("rx")]
        self.expect("starts of the receiver, as run", starts, ["power"] + [self.cause] * self.restarts)
        self.expect("restarts", restarts["receiver"], self.restarts)
        self.expect("causes", restarts["causes"], causes)
        self.expect("starts of the transmitter", restarts["transmitter"],
                    self.tx_starts if self.heard else None)

    def outages(self):
        """Outages of the truth that call for failsafe: last packet before, first one after."""
        times = [at for at, _ in self.truth.reads]
        times += [self.ms * TICKS_MS] if times else []
        for before, after in zip(times, times[1:]):
            if after - before > (HOLD_MS + 1) * TICKS_MS and \
                    self.truth.era("rx", before) == self.truth.era("rx", after):
                yield before, after

    def check_failsafes(self):
        failsafe, outages = self.figures["failsafe"], list(self.outages())
        outages = outages if self.heard else []
        self.expect("failsafes", failsafe["entries"], self.failsafes)
        self.expect("outages, as run", len(outages), self.failsafes)
        self.delays = []
        for event, (before, after) in zip(failsafe["events"], outages):
            if [w for at, w in self.truth.pulses[3] if at < before][-1] == TICKS_MS:
                continue  # low before: nothing to see
            safe = next(at - width for at, width in self.truth.pulses[3]
                        if at > before and width == TICKS_MS)
            delay = (safe - before) / TICKS_MS
            self.delays.append((event["delay_low_ms"], delay, event["delay_high_ms"]))
            self.expect_within("failsafe at the throttle's pin, ms", event["delay_low_ms"], delay,
                               event["delay_high_ms"] + FRAME_MS)
            self.expect_within("failsafe as the settings promise, ms", HOLD_MS, delay,
                               HOLD_MS + 1 + FRAME_MS)
            self.expect_within("throttle low, ms", event["throttle_low_ms"], delay,
                               (event["throttle_high_ms"] or 0) + FRAME_MS)
            self.expect_within("throttle low, lower bound", HOLD_MS - 50, event["throttle_low_ms"],
                               delay)
            late = [width for at, width in self.truth.pulses[3] if before < at - width < after
                    and at - width >= safe]
            self.expect("throttle's pulses in failsafe", set(late), {TICKS_MS})

    def check_sticks(self):
        for at, row in self.recording.timed(self.truth):
            if row["age_ms"] == "" or int(row["age_ms"]) > 100:
                continue
            for channel in range(1, 7):
                count = self.truth.stick(channel, at)
                if count is None:
                    continue
                self.compared += 1
                self.expect_within(f"stick {channel}, report {row['report_no']}, us",
                                   stick_us(count) - 1, int(row[f"in{channel}"]),
                                   stick_us(count) + 1)
                if row["failsafe"] == "0" and row["lock"] == "0":
                    self.expect(f"output {channel}", row[f"ch{channel}"], row[f"in{channel}"])
        if self.packets[0] > 200:
            self.expect_within("sticks compared", 100, self.compared, 1 << 30)

    def steady(self, channel):
        """Stretches in which all reports command the same: begin, end, us.  Failsafe may have come and
        gone between two reports: its count tells."""
        run, before = None, None
        for at, row in self.recording.timed(self.truth):
            now = row[f"ch{channel}"], row["failsafe"], row["failsafe_entries"], row["lock"]
            if run and now == before and 0 < at - run[1] < 200 * TICKS_MS:
                run[1] = at
                continue
            if run:
                yield run
            run, before = [at, at, now[0]], now
        if run:
            yield run

    def check_pulses(self):
        """There the pulses have that width, from a frame or two after the first of those reports."""
        self.deviation, self.pulses = 0, 0
        for channel in range(1, 9):
            pulses = self.truth.pulses[channel]
            for begin, end, us in self.steady(channel):
                first = bisect.bisect(pulses, (begin + 2 * FRAME_MS * TICKS_MS, 0))
                widths = [w for _, w in pulses[first:bisect.bisect(pulses, (end, 0))]]
                worst = max((abs(width - TICKS_US * int(us)) for width in widths), default=0)
                self.deviation = max(self.deviation, worst)
                self.pulses += len(widths)
        self.check_whole_pulses()
        self.expect_within("pulses measured", 500, self.pulses, 1 << 30)
        self.expect_within("worst deviation of a pulse, us", 0, self.deviation / TICKS_US, 1)

    def check_whole_pulses(self):
        """All others too, those aside that a reset cut: whole microseconds, and frames of 20 ms."""
        boots = [at for at, _ in self.truth.starts("rx")]
        odd = [width / TICKS_US for pulses in self.truth.pulses.values() for at, width in pulses
               if width % TICKS_US and at not in boots]
        self.expect("pulses that are no whole number of us", odd[:5], [])
        rises = [at - width for at, width in self.truth.pulses[1] if at not in boots]
        frames = {b - a for a, b in zip(rises, rises[1:])
                  if self.truth.era("rx", a) == self.truth.era("rx", b)}
        self.expect("frames, ms", {frame / TICKS_MS for frame in frames} - {20.0}, set())

    def check_radio(self):
        states = {row["reg"] for row in self.recording.reports} - {"ok"}
        self.expect("registers", states, set(self.reg.split(",")) - {"ok"})
        # One attempt may come while the chip is on its way down, another when it is back.
        self.expect_within("re-initialisations", self.reinits,
                           int(self.recording.reports[-1]["reinit"]), 2 * self.reinits)
        # What comes in the 100 ms after the radio alone lost its supply the firmware can't know of.
        known = {("rx", "reset-spi")} if self.name in ("forgot", "late", "torn") else set()
        self.expect("breaches of the chip's specification",
                    {key: n for key, n in self.truth.faults.items() if key not in known}, {})
        self.expect("programs that the emulator gave up", self.truth.crashes, 0)

    def check_lines(self):
        """Nothing torn but by a restart and by the end of the run."""
        lines = self.figures["lines"]
        torn = {"torn at the end", "cut by restart", "boot text"}
        self.expect("damage", set(lines["reasons"]) - torn, set())
        self.expect_within("damaged lines", 0, lines["damaged"], 2 + 2 * self.restarts)
        self.expect("lines missing", lines["missing"], 0)

    def check_identity(self):
        """What the transmitter says of itself is what its frames were."""
        said = self.identity("tx")
        if self.name not in ("size", "byte", "shorter"):
            self.expect("on the air", self.truth.on_the_air,
                        {tuple(said.get(key) for key in ("addr", "mhz", "kbps", "size", "crc"))})

    def check_calm(self):
        supplies = {int(row["supply_mv"]) for row in self.recording.reports}
        self.expect_within("supply, mV", 4950, min(supplies), 5050)
        self.expect_within("supply, mV", 4950, max(supplies), 5050)
        self.expect("carrier with packets, all", self.carrier("heard")[2], 1.0)
        self.expect("carrier without packets, never", self.carrier("noise")[0], 0)
        self.expect_within("looks at an idle air", 100, self.carrier("noise")[1], 1 << 30)

    def carrier(self, which, begin_ms=0, end_ms=1 << 30):
        rows = [row for at, row in self.recording.timed(self.truth)
                if begin_ms <= at / TICKS_MS <= end_ms]
        hits = sum(int(row[which + "_hits"] or 0) for row in rows)
        looks = sum(int(row[which + "_looks"] or 0) for row in rows)
        return hits, looks, hits / looks if looks else None

    def check_random(self):
        sent = len(self.truth.outcome)
        self.expect_within("dropped share", 0.08, self.packets[1] / sent, 0.12)

    def check_outage(self):
        """The throttle, raised when the link came back, stays low until it was seen low."""
        for begin, end, widths in ((6000, 7500, {1000}), (8300, 9000, {1880}), (10000, 11500, {1000})):
            self.expect(f"throttle from {begin} ms",
                        {width / TICKS_US for at, width in self.truth.pulses[3]
                         if begin * TICKS_MS < at < end * TICKS_MS}, widths)
        self.expect("lock", self.values("lock", 6000, 7500), {"1"})
        self.expect("raised stick", self.values("in3", 6000, 7500), {"1684"})

    def check_dip(self):
        low = [int(row["supply_min_mv"]) for at, row in self.recording.timed(self.truth)
               if 2450 < at / TICKS_MS < 2700]
        self.expect_within("dip seen, mV", 4400 * 0.98, min(low), 4400 * 1.02)

    def check_carrier(self):
        self.expect_within("carrier seen while none is expected", 0.15,
                           self.carrier("noise", 2200, 8800)[2], 0.35)

    def check_stranger(self):
        outcomes = collections.Counter(self.truth.outcome.values())
        self.expect_within("collisions", 5, outcomes["collided"], 1 << 30)

    def identity(self, end):
        text = (self.path.with_suffix(".tx.log" if end == "tx" else ".log")).read_text(
            errors="replace")
        lines = [line for line in text.splitlines() if line.startswith(f"id end={end}")
                 and "mhz=" in line]
        pairs = lines[-1].split()[1:] if lines else []
        return dict(pair.split("=", 1) for pair in pairs if "=" in pair)

    def differ(self):
        """What both ends must agree on, and say otherwise in their id lines."""
        rx, tx = self.identity("rx"), self.identity("tx")
        keys = ("mhz", "hop", "kbps", "addr", "aw", "crc", "size", "ack", "retries")
        return {key for key in keys if rx.get(key) != tx.get(key)}

    def check_forgot(self):
        self.expect("radio forgot, times", self.figures["radio"]["settings_lost"], 2)

    def check_torn(self):
        self.expect("radio forgot, times", self.figures["radio"]["settings_lost"], 4)
        self.expect("refused", self.figures["packets"]["refused"], 4)

    def check_shorter(self):
        """As with `byte`: the last byte is the CRC's, and noise of eight zeros follows by chance."""
        self.expect_within("got through the chip", 1, len(self.truth.reads),
                           len(self.truth.outcome) / 64)

    def check_byte(self):
        """A CRC that stands one byte further on fits by chance once in 256 packets: over a message
        that is followed by its CRC's high byte, the CRC is its low byte and 0."""
        self.expect_within("heard share", 1 / 1000, self.packets[0] / len(self.truth.outcome),
                           1 / 64)

    def values(self, key, begin_ms, end_ms):
        return {row[key] for at, row in self.recording.timed(self.truth)
                if begin_ms + SETTLED_MS < at / TICKS_MS < end_ms}

    def check_switches(self):
        """Values as the firmware's pins.h has them; -18 dB takes the packets below -64 dBm, the
        threshold of the carrier bit (nRF24L01+ Product Specification v1.0, 6.4)."""
        for begin, end, ch7, ch8 in ((500, 1000, "1500", "1000"), (1000, 2000, "1000", "1000"),
                                     (2000, 3000, "2000", "1000"), (3000, 5000, "1500", "2000")):
            self.expect(f"channel 7 from {begin} ms", self.values("in7", begin, end), {ch7})
            self.expect(f"channel 8 from {begin} ms", self.values("in8", begin, end), {ch8})
        for begin, end, step, seen in ((500, 5000, "4/4", 1.0), (5000, 7000, "1/4", 0.0),
                                       (7000, 8700, "4/4", 1.0)):
            self.expect(f"power step from {begin} ms", self.values("tx_step", begin, end), {step})
            self.expect(f"carrier with packets from {begin} ms",
                        self.carrier("heard", begin + SETTLED_MS, end - SETTLED_MS)[2], seen)

        weak = [int(mv) for mv in self.values("tx_mv", 4000, 4700)]
        self.expect_within("transmitter's supply, mV", 4300 * 0.98, min(weak, default=0),
                           4300 * 1.02)
        self.expect_within("transmitter's supply, mV", 4300 * 0.98, max(weak, default=0),
                           4300 * 1.02)

    def check_sweep(self):
        hits = {}
        for row in self.recording.rows:
            if row["kind"] == "air":
                pairs = dict(pair.split("=", 1) for pair in row["note"].split())
                for i, count in enumerate(pairs["hits"].split(",")):
                    hits[int(pairs["from"]) + i * int(pairs["step"])] = int(count), int(pairs["per"])
        self.expect("carriers looked at", sorted(hits), list(range(2400, 2484)))
        self.expect("carriers heard: it and the transmitter",
                    {mhz for mhz, (count, _) in hits.items() if count}, {2440, 2478})
        self.expect("heard each time", hits.get(2440, (0, 1))[0], hits.get(2440, (0, 0))[1])
        self.expect_within("transmitter heard", 1, hits.get(2478, (0, 0))[0], 25)
        air = self.figures["air"]
        self.expect("carriers in the figures",
                    {one["mhz"]: (one["hits"], one["looks"]) for one in air["carriers"]}, hits)
        self.expect("the receiver's own carrier", air["now"]["mhz"], 2478)
        for spot in (air["quietest"], air["runner_up"]):
            self.expect("heard where it is quietest", spot["hits"], 0)
            self.expect_within("and inside the band", 2401, spot["mhz"], 2482)

    def check_older(self):
        self.expect("bind", self.bind_trial(self.LOOK + ((5.4, "end"),)), ["radio_differs"])
        self.expect("ids differ in", self.differ(), {"kbps"})

    def judge(self, kind, rows):
        """The recording with a trial's rows put among its reports, each (second, text), as judged:
        exit status and the trial."""
        lines = self.path.with_suffix(".csv").read_bytes().decode().split("\r\n")
        commas = lines[0].count(",")
        out, first = lines[:1], None
        rows = list(rows)
        for line in lines[1:]:
            fields = line.split(",")
            if fields[0] == "rx":
                first = first if first is not None else int(fields[2])
                while rows and int(fields[2]) - first >= rows[0][0] * 1000:
                    out.append("trial" + "," * commas + kind + " " + rows.pop(0)[1])
            out.append(line)
        judged = self.world.folder / f"{self.name}-{kind}.csv"
        judged.write_bytes("\r\n".join(out).encode())
        done = subprocess.run([self.world.airleash, "judge", "--json", "--model", self.world.model,
                               judged], timeout=60, capture_output=True)
        self.expect("trial rows left", rows, [])
        return done.returncode, json.loads(done.stdout)["trials"][0]

    def bind_trial(self, rows):
        """What the bind trial finds to be wrong."""
        status, trial = self.judge("bind", rows)
        self.expect("exit of judge", status, 1)
        return [f["name"] for f in trial["findings"] if f["verdict"] == "failed"]

    def check_trial(self):
        """The failsafe trial, done well, passes; its bounds hold what the pulses show."""
        rows = [(0.1, "begin"), (0.2, "answer=yes"), (0.3, "step=low"), (1.7, "step=still"),
                (1.8, "answer=yes"), (1.9, "step=raise"), (3.6, "step=runs"), (3.7, "answer=yes")]
        for off, on in ((4.0, 11.0), (22.5, 29.5), (41.0, 116.5)):
            rows += [(off, "step=off"), (off + 1.7, "step=stay")]
            if on - off > 70:
                rows += [(off + 7, "step=long")]
            rows += [(on - 0.4, "step=stopped"), (on - 0.3, "answer=yes")]
            if off == 4.0:
                rows += [(on - 0.2, "step=servos"), (on - 0.15, "answer=yes")]
            rows += [(on - 0.1, "step=on"), (on + 7.1, "step=lower"), (on + 9.1, "step=quiet"),
                     (on + 9.2, "answer=yes"), (on + 9.3, "step=raise")]
        rows[-1] = (126.0, "step=start")
        for at, name in ((126.1, "skip"), (126.2, "step=pull"), (126.3, "skip"),
                         (126.4, "step=fade"), (126.5, "skip"), (126.6, "end")):
            rows.append((at, name))
        status, trial = self.judge("failsafe", rows)
        self.expect("exit of judge", status, 0)
        self.expect("verdict", trial["verdict"], "passed")
        found = {f["name"]: f for f in trial["findings"]}
        low, high = found["throttle_low"]["low"], found["throttle_low"]["high"]
        self.expect("switch-offs in the truth", len(self.delays), 3)
        for _, idle, _ in self.delays:
            self.expect_within("throttle low after the last packet", low, idle, high + FRAME_MS)

    LOOK = ((0.1, "begin"), (0.2, "answer=yes"), (0.3, "step=look"))
    SWITCHED = LOOK + ((2.6, "step=on"), (2.7, "answer=ready"), (7.4, "step=off"),
                       (8.6, "answer=ready"), (13.4, "step=again"), (14.8, "answer=ready"),
                       (20.4, "end"))

    def check_absent(self):
        self.expect("bind", self.bind_trial(self.LOOK + ((3.5, "end"),)), ["radio_absent"])

    def check_unbound(self):
        self.expect("bind", self.bind_trial(self.SWITCHED), ["mismatch"])

    def check_elsewhere(self):
        self.expect("bind", self.bind_trial(self.SWITCHED), ["no_energy"])

    def check_full(self):
        load = len(self.path.with_suffix(".log").read_bytes()) / (self.ms / 1000) / (2e6 / 17 / 10)
        self.expect_within("load of the serial port", 0.65, load, 1)

    def check_address(self):
        self.expect("ids differ in", self.differ(), {"addr"})

    def check_frequency(self):
        self.expect("ids differ in", self.differ(), {"mhz"})

    def check_owner(self):
        self.expect("ids differ in", self.differ(), set())

    def row(self):
        got, lost = self.packets
        text = f"{self.name:10} {got:5} got {lost:4} lost {self.figures['packets']['refused']:4} refused"
        text += f"  {self.restarts} restarts  {self.compared:5} stick values"
        text += f"  {self.pulses:5} pulses, worst {self.deviation / 16:.4f} us"
        for low, delay, high in self.delays:
            text += f"  failsafe {delay:.1f} ms in {low}..{high}"
        return text


class ByChance(Scene):
    """A run that chance made up: what has to come of it is counted from the truth alone."""

    def __init__(self, world, seed):
        super().__init__(world, {"name": f"chance-{seed}", "receiver": "", "transmitter": "",
                                 "ms": 18000, "refused": 0, "heard": 1})
        self.delays = []

    def check_packets(self):
        self.count_packets()
        self.expect("got and lost", (self.figures["packets"]["got"], self.figures["packets"]["lost"]),
                    self.packets)

    def check_restarts(self):
        causes = [cause for _, cause in self.truth.starts("rx")][1:]
        self.restarts = len(causes)
        self.expect("restarts", self.figures["restarts"]["receiver"], self.restarts)
        self.expect("causes", self.figures["restarts"]["causes"], dict(collections.Counter(causes)))
        heard = [self.truth.era("tx", self.truth.begin[tag]) for _, tag in self.truth.reads]
        self.expect("starts of the transmitter", self.figures["restarts"]["transmitter"],
                    sum(a != b for a, b in zip(heard, heard[1:])))

    def check_failsafes(self):
        """Those that must have come, and those that may have: an outage of the very limit, or one
        that the receiver's stop ended before it could report."""
        must = may = 0
        ends = sorted([at for at, _ in self.truth.reads] + self.truth.stops + [self.ms * TICKS_MS])
        for at, _ in self.truth.reads:
            end = ends[bisect.bisect_right(ends, at)]
            silent = (end - at) / TICKS_MS
            may += silent > HOLD_MS - 2
            must += silent > HOLD_MS + 2 + (100 if end in self.truth.stops else 0)
        self.expect_within("failsafes", must, self.figures["failsafe"]["entries"], may)

    def check_radio(self):
        self.expect("breaches of the chip's specification",
                    {key: n for key, n in self.truth.faults.items() if key[1] != "reset-spi"}, {})
        self.expect("programs that the emulator gave up", self.truth.crashes, 0)


class World:
    def __init__(self, rig, airleash, nm, folder, elves):
        self.rig, self.airleash, self.nm = rig, airleash, nm
        self.folder = pathlib.Path(folder)
        self.folder.mkdir(parents=True, exist_ok=True)
        self.elf = dict(zip(elves[::2], elves[1::2]))
        self.model = self.folder / "card.ini"
        self.model.write_text(MODEL)

    def watched(self, elf):
        """Addresses of the firmware's functions that make a report."""
        done = subprocess.run([self.nm, elf], check=True, capture_output=True, text=True)
        symbols = {line.split()[2]: int(line.split()[0], 16) for line in done.stdout.splitlines()
                   if len(line.split()) == 3}
        return {name: symbols[name] for name in WATCHED if name in symbols}

    def scenes(self):
        done = subprocess.run([self.rig, "--list"], check=True, capture_output=True, text=True)
        scenes = [Scene(self, json.loads(line)) for line in done.stdout.splitlines()]
        chance = [ByChance(self, seed) for seed in os.environ.get("RIG_CHANCE", "1 10 12").split()]
        only = os.environ.get("RIG_SCENES", "").split()
        return [scene for scene in scenes if scene.name in only or not (only or scene.by_hand)] + \
            [scene for scene in chance if not only or "chance" in only]


def check_terminal(world, scene):
    """The same through a pseudo-terminal in real time: what the real program records there gives
    the same figures as what the rig wrote to a file."""
    log, out = scene.path.with_suffix(".log"), world.folder / "terminal.csv"
    out.unlink(missing_ok=True)
    rig = subprocess.Popen([world.rig, scene.name, world.elf["receiver"], world.elf["transmitter"],
                            world.folder, "--pty"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                           text=True)
    name = next(line.strip() for line in rig.stdout if line.startswith("/dev/"))
    console = subprocess.Popen([world.airleash, "record", name, "--out", out, "--yes"],
                               stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                               stderr=subprocess.STDOUT, text=True)
    deadline = time.monotonic() + 10
    while not out.exists() and time.monotonic() < deadline:
        time.sleep(0.01)
    rig.stdin.write("go\n")
    rig.stdin.flush()
    assert rig.stdout.readline() == "done\n"
    time.sleep(0.3)  # the last bytes are on their way
    console.send_signal(signal.SIGINT)
    said = console.communicate(timeout=10)[0]
    rig.stdin.write("end\n")
    rig.stdin.close()
    rig.wait(10)
    faults = []
    if console.returncode != 0:
        faults.append(f"record ended with {console.returncode}: {said}")
    figures = []
    for path in (log, out):
        done = subprocess.run([world.airleash, "figures", "--json", path], check=True,
                              capture_output=True)
        figures.append(json.loads(done.stdout))
    for key in ("packets", "restarts", "failsafe", "channels"):
        if figures[0][key] != figures[1][key]:
            faults.append(f"{key}: {figures[1][key]} on the terminal, {figures[0][key]} in the file")
    if figures[0]["packets"]["got"] < 50:
        faults.append("hardly a packet came")
    return faults


def report_cost(world, scene):
    elf = world.elf["receiver" + ("-" + scene.receiver if scene.receiver else "")]
    lines = int(scene.recording.reports[-1]["report_no"])
    names = world.watched(elf)
    took = {name: scene.truth.watches[address] for name, address in names.items()}
    total = sum(w[1] for w in took.values()) / lines
    longest = max(w[2] for w in took.values())
    text = scene.path.with_suffix(".log").read_bytes()
    rate = sum(len(line) + 1 for line in text.split(b"\n")) / (scene.ms / 1000)
    return (f"{scene.name}: a report takes {total:.0f} cycles ({total / 16000:.2f} ms), interrupts "
            f"included, in pieces of at most {longest} ({longest / 16:.0f} us); longest pause "
            f"between two looks at the radio {scene.truth.pause / 16:.0f} us; "
            f"{lines} reports, {rate:.0f} bytes/s")


def main():
    world = World(*sys.argv[1:5], sys.argv[5:])
    scenes, bad = world.scenes(), 0
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(Scene.run, scenes))
    for scene in scenes:
        faults = scene.check()
        print(scene.row())
        for fault in faults[:8]:
            print(f"    WRONG: {fault}")
        if len(faults) > 8:
            print(f"    and {len(faults) - 8} more")
        bad += len(faults)
    worst = max(scene.deviation for scene in scenes)
    print(f"worst deviation of {sum(s.pulses for s in scenes)} servo pulses: {worst / 16:.4f} us")
    for scene in scenes:
        if scene.truth.watches:
            print(report_cost(world, scene))
    live = next((scene for scene in scenes if scene.name == "seventh"), None)
    if live:
        faults = check_terminal(world, live)
        print(f"terminal   {live.ms / 1000} s in real time: {'wrong' if faults else 'alike'}")
        for fault in faults:
            print(f"    WRONG: {fault}")
        bad += len(faults)
    return 1 if bad or not scenes else 0


if __name__ == "__main__":
    sys.exit(main())
