"""What really happened in a run of the rig, and the console's recording of it."""
import bisect
import collections
import csv

TICKS_US, TICKS_MS = 16, 16000
SETTLED_MS = 150  # a stick's step is in all reports after this
BROWN_OUT_MV = 2700


class Truth:
    """SCENE.truth, read in the order of time."""

    def __init__(self, path):
        self.outcome, self.begin, self.reads, self.boots = {}, {}, [], []
        self.on_the_air, self.stops = set(), []
        self.pulses = collections.defaultdict(list)
        self.sticks = collections.defaultdict(list)
        self.faults, self.watches, self.pause, self.crashes = {}, {}, 0, 0
        for line in path.read_text().splitlines():
            at, word, *rest = line.split()
            getattr(self, "on_" + word)(int(at), *rest)

    def on_sent(self, at, tag, address, channel, kbps, length, crc):
        self.begin[int(tag)] = at
        self.on_the_air.add((address, str(2400 + int(channel)), kbps, length, crc))

    def on_air(self, at, tag, outcome):
        self.outcome[int(tag)] = outcome

    def on_read(self, at, tag):
        self.reads.append((at, int(tag)))

    def on_boot(self, at, end, cause):
        self.boots.append((at, end, cause))

    def on_pulse(self, at, channel, width):
        self.pulses[int(channel)].append((at, int(width)))

    def on_stick(self, at, channel, count):
        self.sticks[int(channel)].append((at, int(count)))

    def on_supply(self, at, end, mv):
        if int(mv) < BROWN_OUT_MV:
            self.on_stop(at, end)

    def on_stop(self, at, end):
        if end == "rx":
            self.stops.append(at)

    def on_poll(self, at, ticks):
        self.pause = max(self.pause, int(ticks))

    def on_fault(self, at, end, name, count):
        self.faults[end, name] = int(count)

    def on_watch(self, at, address, calls, total, longest):
        self.watches[int(address)] = int(calls), int(total), int(longest)

    def on_crash(self, at, end, count):
        self.crashes = int(count)

    def starts(self, end):
        return [(at, cause) for at, which, cause in self.boots if which == end]

    def era(self, end, at):
        return bisect.bisect_right([t for t, _ in self.starts(end)], at)

    def packets(self):
        """An o for each one that the receiver read, an x for each that was missing between two of those
        that belong to the same start of both ends, which is all that a receiver can know of."""
        read = dict((tag, at) for at, tag in self.reads)
        outcomes, pending, era = [], 0, None
        for tag in sorted(self.outcome):
            if tag not in read:
                pending += 1
                continue
            now = self.era("rx", read[tag]), self.era("tx", self.begin[tag])
            if now == era:
                outcomes.append("x" * pending)
            outcomes.append("o")
            era, pending = now, 0
        return "".join(outcomes)

    def stick(self, channel, at):
        """Its count, None within SETTLED_MS of a step."""
        steps = self.sticks[channel]
        i = bisect.bisect_right(steps, (at, 1 << 30)) - 1
        recent = [s for s in steps if at - SETTLED_MS * TICKS_MS < s[0] <= at]
        if len(recent) > 1 or (recent and i > 0 and steps[i - 1][1] != steps[i][1]):
            return None
        return steps[i][1]


class Recording:
    def __init__(self, path):
        with open(path, newline="") as file:
            self.rows = list(csv.DictReader(file))
        self.reports = [row for row in self.rows if row["kind"] == "rx"]
        self.ids = [row["note"] for row in self.rows if row["kind"] == "id"]

    def timed(self, truth):
        """Reports with their place in the truth's time: the start that they belong to, and t."""
        start, last = 0, -1
        for row in self.reports:
            t = int(row["rx_ms"])
            if t < last:
                start += 1
            last = t
            yield truth.starts("rx")[start][0] + t * TICKS_MS, row
