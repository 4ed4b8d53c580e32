"""A radio-control link as physical things: transmitter, air, receiver, motors, servos, cable.

Nothing here knows the program under test. The lines are written from airleash-telemetry(5); the
times and habits of boards, motors and servos are facts of the trade (common practice) unless a
comment says otherwise. All times are true seconds; `unit` is a microsecond of pulse, or the raw
unit of a receiver that prints raw values.

The receiver here is a good one. `kinds.py` makes bad ones of it by overriding single methods.
"""
import binascii
import dataclasses
import heapq
import math
import random

FRAME_S = 0.02  # analogue servos and most speed controllers get a pulse every 20 ms
PAT_MOST = 64
WORD = 1 << 32

EVERY_KEY = ("ch", "in", "lock", "n", "t", "got", "seq", "lost", "pat", "age", "gap", "refused",
             "tboot", "fs", "fsn", "mv", "mvmin", "reg", "reinit", "rssi", "heard", "noise", "tmv",
             "tstep")
EVERY_FACT = ("end", "fw", "rate", "chans", "unit", "span", "safe", "seqmod", "mhz", "hop", "kbps",
              "crc", "size", "ack")


@dataclasses.dataclass
class Plan:
    """What a builder decided. Channels are counted from 0 here, from 1 in files."""
    channels: int = 6
    low: int = 1000
    high: int = 2000
    unit: str = "us"
    motors: tuple = (2,)
    rest: dict = dataclasses.field(default_factory=lambda: {2: 1000})  # stick value, motor at rest
    full: dict = dataclasses.field(default_factory=lambda: {2: 2000})  # motor at full power
    safe: dict = dataclasses.field(default_factory=dict)  # channel: value, "hold" or "off"
    reversed_servos: frozenset = frozenset()
    delay_s: float = 0.5          # from the last packet to failsafe
    low_for_s: float = 0.3        # the stick is low for so long before the lock opens
    packet_hz: float = 50.0
    report_hz: float = 20.0
    keys: tuple = EVERY_KEY
    facts: tuple = EVERY_FACT
    numbers_only: bool = False    # 1500,1320,... instead of rx lines
    checksum: bool = True
    clock: float = 1.0            # speed of the receiver's own clock
    start: dict = dataclasses.field(default_factory=dict)  # n, t, got, ... when the run begins
    motor_starts: float = 0.04    # share of full power at which a motor begins to turn
    motor_slowing_s: float = 0.25
    without_pulses: str = "stops"  # or "keeps": what a speed controller does
    loss: float = 0.0             # share of packets lost on the air, in bursts
    transmitter_waits: bool = False  # sends nothing after its start until the throttle is low
    first_low_s: float = 0.0      # after its start the transmitter sends the throttle low so long
    dying_low_s: float = 0.0      # switched off, it sends the throttle low for so long
    boot_s: float = 0.8
    hidden: int = 0               # outputs at the end that no line tells

    def travel(self):
        return self.high - self.low


@dataclasses.dataclass
class Packet:
    seq: int
    boot: int
    values: list
    mv: int


class Stick:
    def __init__(self, value):
        self.begin, self.goal, self.since, self.takes = value, value, 0.0, 0.0

    def value(self, now):
        if now >= self.since + self.takes:
            return self.goal
        return self.begin + (self.goal - self.begin) * max(0, now - self.since) / self.takes

    def move(self, goal, now, takes):
        self.begin, self.goal, self.since, self.takes = self.value(now), goal, now, takes


class Transmitter:
    """Sticks, a switch, and a packet every 1/rate seconds from some time after its start."""

    def __init__(self, plan, rng):
        self.plan, self.rng = plan, rng
        middle = (plan.low + plan.high) // 2
        self.sticks = [Stick(plan.rest.get(i, middle + rng.randint(-8, 8)))
                       for i in range(plan.channels)]
        self.on, self.boot, self.seq = True, rng.randint(1, 200), plan.start.get("seq", 0)
        self.sends_from, self.started, self.dies, self.waits = 0.0, 0.0, None, False
        self.noise = plan.travel() / 1000.0

    def switch(self, on, now):
        if on and not self.on:
            self.boot, self.seq = (self.boot + 1) % 256, 0
            self.sends_from = self.started = now + self.rng.uniform(0.15, 0.9)
            self.waits = self.plan.transmitter_waits
        self.on, self.dies = on, None if on else now + self.plan.dying_low_s

    def throttles_low(self, now):
        return all(abs(self.sticks[i].value(now) - self.plan.rest[i]) < 0.05 * self.plan.travel()
                   for i in self.plan.motors if i < self.plan.channels)

    def sends(self, now):
        if self.waits and self.throttles_low(now):
            self.waits = False
        return (self.on and now >= self.sends_from and not self.waits) or (
            self.dies is not None and now < self.dies)

    def packet(self, now):
        plan = self.plan
        forced_low = not self.on or now < self.started + plan.first_low_s
        values = []
        for i, stick in enumerate(self.sticks):
            value = stick.value(now) + self.rng.uniform(-1.4, 1.4) * self.noise
            if i in plan.motors and forced_low:
                value = plan.rest[i]
            values.append(min(plan.high, max(plan.low, round(value))))
        self.seq = (self.seq + 1) % 256
        return Packet(self.seq, self.boot, values, self.rng.randint(3880, 3960))


class Air:
    """Loses packets in bursts of up to 200 ms, so that the mean share lost is as wanted."""

    def __init__(self, loss, rng):
        self.loss, self.rng, self.bad, self.until = loss, rng, False, 0.0

    def carries(self, now):
        while self.loss > 0 and now >= self.until:
            self.bad = not self.bad
            mean_bad = 0.07
            length = (self.rng.uniform(0.01, 0.13) if self.bad else
                      self.rng.expovariate(1 / (mean_bad * (1 - self.loss) / self.loss)))
            self.until = max(self.until, now - 1) + length
        return not (self.loss > 0 and self.bad)


class Receiver:
    """Firmware of a good receiver: failsafe by the age of the newest packet, a lock until the
    throttle was seen low, and a line of text per report."""

    def __init__(self, plan, rng):
        self.plan, self.rng = plan, rng
        self.order = list(plan.keys)
        rng.shuffle(self.order)
        self.outputs_count = plan.channels + plan.hidden
        self.outages, self.restarts, self.reinits = 0, 0, 0
        self.clock_at, self.clock_ms, self.up_at = 0.0, 0.0, 0.0
        self.begin_counting()
        start = plan.start
        self.n, self.got, self.lost = (start.get(k, 0) for k in ("n", "got", "lost"))
        self.clock_ms = float(start.get("t", 5000))
        self.asked_id = False

    # --- starts

    def begin_counting(self):
        self.n = self.got = self.lost = self.rejected = self.failsafes = 0
        self.clock_ms = 0.0
        self.last_packet = self.back_since = self.low_since = None
        self.newest, self.pattern, self.longest_gap_ms, self.packet_ms = None, "", 0.0, 0.0
        self.failsafe, self.locked, self.failsafe_since = True, True, None
        self.held = [self.plan.rest.get(i, (self.plan.low + self.plan.high) // 2)
                     for i in range(self.outputs_count)]
        self.output = [self.safe_output(i, 0.0) for i in range(self.outputs_count)]

    def restart(self, now, lines, cause, tell=True):
        """Starts again; there are neither lines nor pulses until it is up."""
        self.keep_time(now)
        self.restarts += 1
        self.begin_counting()
        self.up_at = now + self.plan.boot_s
        self.clock_at = self.up_at
        self.output = [None] * self.outputs_count
        if tell:
            lines.append((self.up_at, self.finish(f"boot cause={cause}")))
        self.asked_id = True

    def is_up(self, now):
        return now >= self.up_at

    # --- time

    def clock_speed(self, now):
        return self.plan.clock

    def keep_time(self, now):
        if now > self.clock_at:
            self.clock_ms += (now - self.clock_at) * 1000 * self.clock_speed(now)
            self.clock_at = now

    def since_packet_ms(self):
        return self.clock_ms - self.packet_ms

    # --- packets

    def linked(self, now):
        return self.last_packet is not None and not self.failsafe

    def hear(self, packet, now):
        if not self.is_up(now):
            return
        self.keep_time(now)
        self.count(packet, now)
        if self.failsafe and self.leaves_failsafe(now):
            self.failsafe, self.back_since, self.low_since = False, now, None
        self.newest, self.last_packet, self.packet_ms = packet, now, self.clock_ms
        self.work(now)

    def count(self, packet, now):
        missing = 0
        if self.newest is not None and packet.boot == self.newest.boot:
            missing = (packet.seq - self.newest.seq - 1) % 256
        if self.last_packet is not None:
            self.longest_gap_ms = max(self.longest_gap_ms, self.since_packet_ms())
        self.got = (self.got + 1) % WORD
        self.lost = (self.lost + missing) % WORD
        self.pattern = (self.pattern + "x" * missing + "o")[-PAT_MOST:]

    def leaves_failsafe(self, now):
        return True

    # --- failsafe, lock, outputs

    def is_low(self, i, slack=0.05):
        return abs(self.newest.values[i] - self.plan.rest[i]) <= slack * self.plan.travel()

    def throttles_low(self):
        return all(self.is_low(i) for i in self.plan.motors if i < self.plan.channels)

    def lock_opens(self, now):
        if not self.throttles_low():
            self.low_since = None
            return False
        if self.low_since is None:
            self.low_since = now
        return now - self.low_since >= self.plan.low_for_s

    def silent_s(self, now):
        return math.inf if self.last_packet is None else now - self.last_packet

    def wants_failsafe(self, now):
        return self.silent_s(now) > self.plan.delay_s

    def enter_failsafe(self, now):
        self.failsafe, self.locked, self.failsafe_since = True, True, now
        self.failsafes += 1
        self.outages += 1
        self.back_since = None

    def work(self, now):
        """What the program's loop does, over and over."""
        if not self.is_up(now):
            return
        self.keep_time(now)
        if self.last_packet is not None and not self.failsafe and self.wants_failsafe(now):
            self.enter_failsafe(now)
        if self.locked and not self.failsafe and self.lock_opens(now):
            self.locked = False
        self.output = [self.drive(i, now) for i in range(self.outputs_count)]
        if not self.failsafe:
            self.held = list(self.output)

    def drive(self, i, now):
        if self.failsafe:
            return self.safe_output(i, now)
        if i in self.plan.motors and self.locked:
            return self.locked_output(i)
        return self.follow(i)

    def follow(self, i):
        """An output that no channel has follows the channel before it (a mixer)."""
        value = self.newest.values[min(i, self.plan.channels - 1)]
        if i in self.plan.reversed_servos:
            value = self.plan.low + self.plan.high - value
        return value

    def locked_output(self, i):
        value = self.plan.safe.get(i, self.plan.rest[i])
        return self.plan.rest[i] if value in ("hold", "off") else value

    def safe_output(self, i, now):
        wanted = self.plan.safe.get(i, "hold")
        if wanted == "off":
            return None
        return self.held[i] if wanted == "hold" else wanted

    def pins(self, now):
        """The pulses that really come out: one value an output, None for no pulses."""
        return self.output

    # --- lines

    def shown(self, now):
        """The values that the report gives for the outputs."""
        return self.output[:self.plan.channels]

    def age_ms(self, now):
        return int(self.since_packet_ms())

    def quiet(self, now):
        """Whether the program is too busy to print."""
        return False

    @staticmethod
    def numbers(values):
        return ",".join("-" if v is None else str(v) for v in values)

    def fields(self, now):
        rng = self.rng
        have = {
            "ch": self.numbers(self.shown(now)), "lock": int(self.locked), "n": self.n % WORD,
            "t": int(self.clock_ms) % WORD, "got": self.got, "lost": self.lost, "refused":
            self.rejected, "fs": int(self.failsafe), "fsn": self.failsafes,
            "mv": 5000 + rng.randint(-15, 15), "mvmin": 4960 + rng.randint(-15, 15), "reg": "ok",
            "reinit": self.reinits, "noise": f"{rng.randint(0, 1)}/{rng.randint(3, 6)}",
            "pat": self.pattern,
        }
        if self.newest is not None:
            have |= {"in": self.numbers(self.newest.values), "seq": self.newest.seq,
                     "tboot": self.newest.boot, "tmv": self.newest.mv, "tstep": "4/4",
                     "rssi": rng.randint(-58, -52), "age": self.age_ms(now),
                     "gap": int(max(self.longest_gap_ms, self.since_packet_ms())),
                     "heard": f"{rng.randint(2, 3)}/{rng.randint(3, 5)}"}
        return {key: value for key, value in have.items() if value != ""}

    def report(self, now):
        """The line of a report, or None where none is printed."""
        self.work(now)
        if not self.is_up(now) or self.quiet(now):
            return None
        self.n += 1
        have = self.fields(now)
        self.pattern, self.longest_gap_ms = "", 0.0
        if self.plan.numbers_only:
            return have["ch"].replace("-", "0").encode() + b"\r\n"
        pairs = " ".join(f"{key}={have[key]}" for key in self.order if key in have)
        return self.finish("rx " + pairs)

    def id_lines(self):
        plan = self.plan
        safe = self.numbers(plan.safe.get(i, "hold") for i in range(plan.channels))
        have = {"end": "rx", "fw": "pond-rx-7", "rate": f"{plan.packet_hz:.4g}",
                "chans": plan.channels, "unit": plan.unit, "span": f"{plan.low},{plan.high}",
                "safe": safe, "seqmod": 256, "mhz": 2476, "hop": 1, "kbps": 250, "crc": 2,
                "size": 2 * plan.channels + 4, "ack": 0}
        pairs = [f"{key}={have[key]}" for key in plan.facts]
        return [self.finish("id " + " ".join(part)) for part in (pairs[:6], pairs[6:]) if part]

    def finish(self, text):
        data = text.encode()
        if self.plan.checksum:
            data += b" *%04X" % binascii.crc_hqx(data, 0xFFFF)
        return data + b"\r\n"


class Motor:
    """A speed controller and its motor: a dead band around rest, inertia, and what the controller
    does without pulses. `speed` is a share of full speed."""
    TURNS = 0.05  # what a person sees or hears

    def __init__(self, plan, i, rng):
        self.rest, self.full = plan.rest[i], plan.full[i]
        self.starts, self.without = plan.motor_starts, plan.without_pulses
        self.reverses = min(abs(self.rest - plan.low), abs(self.rest - plan.high)) > (
            0.2 * plan.travel())
        self.rises_s, self.falls_s = rng.uniform(0.1, 0.25), plan.motor_slowing_s
        self.speed, self.demand, self.last_pulse, self.turned_at = 0.0, 0.0, 0.0, -math.inf
        self.began_turning_at = -math.inf
        self.cut_at, self.powered = [], False  # when its power went off

    def step(self, now, pulse):
        if pulse is not None:
            share = (pulse - self.rest) / (self.full - self.rest)
            share = abs(share) if self.reverses else max(0.0, share)
            self.demand, self.last_pulse = (share if share >= self.starts else 0.0), now
        elif self.without == "stops" and now - self.last_pulse > 0.1:
            self.demand = 0.0
        if self.powered and self.demand == 0:
            self.cut_at.append(now)
        self.powered = self.demand > 0
        takes = self.rises_s if self.demand > self.speed else self.falls_s
        self.speed += (self.demand - self.speed) * (1 - math.exp(-FRAME_S / takes))
        if self.turns():
            if now - self.turned_at > 1.5 * FRAME_S:
                self.began_turning_at = now
            self.turned_at = now

    def turns(self):
        # A motor at 4 % power already turns; only its last coasting is called still.
        return self.speed > (0.02 if self.demand > 0 else self.TURNS)


class Servo:
    def __init__(self, position, plan, rng):
        self.position = float(position)
        self.a_frame = plan.travel() * FRAME_S / rng.uniform(0.15, 0.4)  # end to end

    def step(self, pulse):
        if pulse is not None:  # without pulses it stays where it is
            way = pulse - self.position
            self.position += max(-self.a_frame, min(self.a_frame, way))


class Cable:
    """The serial line to the computer: takes time, and may lose or damage."""

    def __init__(self, rng, baud=115200, lump_s=0.001, lost=0.0, damaged=0.0, stall=0.0,
                 sparks=0.0):
        self.rng, self.baud, self.lump_s = rng, baud, lump_s
        self.lost, self.damaged, self.stall, self.sparks = lost, damaged, stall, sparks
        self.motor_runs = False
        self.free, self.last_arrival, self.stalled_until, self.holes = 0.0, 0.0, 0.0, []

    def in_hole(self, now):
        return any(begin <= now < end for begin, end in self.holes)

    def carry(self, data, now):
        """When what arrives, or None."""
        self.free = max(self.free, now) + 10 * len(data) / self.baud
        arrives = self.free + self.rng.uniform(0.0005, 0.0005 + self.lump_s)
        if self.stall and now > self.stalled_until and self.rng.random() < self.stall:
            self.stalled_until = now + self.rng.uniform(0.1, 1.5)
        arrives = self.last_arrival = max(arrives, self.stalled_until, self.last_arrival)
        if self.in_hole(now) or self.rng.random() < self.lost:
            return None
        if self.rng.random() < (self.sparks if self.motor_runs else self.damaged):
            data = self.damage(data)
        return arrives, data

    def damage(self, data):
        data = bytearray(data)
        for _ in range(self.rng.choice((1, 1, 2, 5))):
            data[self.rng.randrange(len(data) - 2)] ^= 1 << self.rng.randrange(8)
        return bytes(data)


class World:
    """All of it in true time. `advance` plays what happened up to now; `arrived` is what came out
    of the cable meanwhile."""

    def __init__(self, plan, seed, receiver_class=Receiver, cable=None, faults=()):
        self.plan, rng = plan, random.Random(f"world {seed}")
        self.rng = rng
        self.transmitter = Transmitter(plan, rng)
        self.air = Air(plan.loss, rng)
        self.receiver = receiver_class(plan, rng)
        self.cable = Cable(rng, **(cable or {}))
        outputs = range(plan.channels + plan.hidden)
        self.motors = {i: Motor(plan, i, rng) for i in plan.motors}
        self.servos = {i: Servo((plan.low + plan.high) / 2, plan, rng) for i in outputs
                       if i not in plan.motors}
        self.arrived, self.newest_ch, self.faults = [], None, faults
        self.switched_off_at = self.switched_on_at = None
        self.ran_then = []
        self.queue, self.order = [], 0
        for first, what in ((0.0, self.send_packet), (rng.uniform(0.01, 0.1), self.print_report),
                            (0.005, self.frame), (0.05, self.print_id)):
            self.at(first, what)

    def at(self, when, what):
        self.order += 1
        heapq.heappush(self.queue, (when, self.order, what))

    def next_due(self):
        return self.queue[0][0]

    def advance(self, now):
        while self.queue[0][0] <= now:
            when, _, what = heapq.heappop(self.queue)
            what(when)

    def send_packet(self, now):
        self.at(now + 1 / self.plan.packet_hz, self.send_packet)
        if self.transmitter.sends(now):
            packet = self.transmitter.packet(now)
            if self.air.carries(now):
                self.receiver.hear(packet, now)
        self.play_faults(now)

    def play_faults(self, now):
        """Restarts and the like, which need the world and not the firmware alone."""
        lines = []
        for fault in self.faults:
            fault(self, now, lines)
        for when, data in lines:
            self.at(when, lambda at, data=data: self.put(data, at))

    def print_report(self, now):
        # Reports are paced by the receiver's loop: a millisecond or two of unevenness.
        self.at(now + 1 / self.plan.report_hz + self.rng.uniform(-0.001, 0.001), self.print_report)
        line = self.receiver.report(now)
        if self.receiver.asked_id and self.receiver.is_up(now):
            self.receiver.asked_id = False
            self.put_id(now)
        if line is not None:
            self.put(line, now, self.receiver.shown(now))

    def print_id(self, now):
        self.at(now + self.rng.uniform(3, 5), self.print_id)
        if self.receiver.is_up(now) and not self.receiver.quiet(now):
            self.put_id(now)

    def put_id(self, now):
        if not self.plan.numbers_only:
            for line in self.receiver.id_lines():
                self.put(line, now)

    def put(self, data, now, shown=None):
        carried = self.cable.carry(data, now)
        if carried is not None:
            when, what = carried
            self.at(when, lambda at: self.arrive(at, what, shown if what == data else None))

    def arrive(self, now, data, shown):
        self.arrived.append((now, data))
        if shown is not None:
            self.newest_ch = shown

    def frame(self, now):
        self.at(now + FRAME_S, self.frame)
        self.receiver.work(now)
        pins = self.receiver.pins(now)
        for i, motor in self.motors.items():
            motor.step(now, pins[i])
        self.cable.motor_runs = self.cable.sparks and not self.motors_still()
        for i, servo in self.servos.items():
            servo.step(pins[i])
        self.play_faults(now)

    # --- what a person does and sees

    def switch_transmitter(self, on, now):
        self.transmitter.switch(on, now)
        if on:
            self.switched_on_at = now
        else:
            self.switched_off_at = now
            self.ran_then = [motor for motor in self.motors.values() if motor.powered]

    def motors_still(self):
        return not any(motor.turns() for motor in self.motors.values())

    def motors_all_turn(self):
        return all(motor.turns() for motor in self.motors.values())

    def motor_slows(self):
        return any(motor.turns() and motor.demand == 0 for motor in self.motors.values())

    def cut_within(self, seconds):
        """Whether each motor that ran had its power cut so soon after the transmitter went off."""
        return all(any(0 <= at - self.switched_off_at < seconds for at in motor.cut_at)
                   for motor in self.ran_then)

    def ran_again(self):
        """Whether a motor turned again after its power was cut, the transmitter off."""
        return any(motor.began_turning_at > self.switched_off_at
                   for motor in self.motors.values())

    def turned_since(self, when):
        return any(motor.turned_at >= when for motor in self.motors.values())

    def began_turning_since(self, when):
        return any(motor.began_turning_at >= when for motor in self.motors.values())

    def servos_as_shown(self):
        """Whether each servo stands where the newest good line says, as far as one can see."""
        if self.newest_ch is None:
            return False
        slack = 0.015 * self.plan.travel()
        return all(value is None or i not in self.servos
                   or abs(self.servos[i].position - value) <= slack
                   for i, value in enumerate(self.newest_ch))
