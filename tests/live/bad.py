"""Bad receivers: dangerous ones, each a good one with a fault."""
import dataclasses
import math

from case import case, without
from good import pulses_off, reversing
from receiver import EVERY_FACT, EVERY_KEY, Receiver


class Hooked(Receiver):
    """Where a fault begins and ends."""

    def half(self, i):
        return round((self.plan.rest[i] + self.plan.full[i]) / 2)

    def off_s(self, now):
        """Seconds without a packet, in failsafe or not."""
        return self.silent_s(now)


# --- the lock

def lock_by_time(rng):
    """The lock opens 1 to 4 s after the link is back, the stick still up; no `in`."""
    return lock_by_time_in(rng, keys=without("in"))


def lock_by_time_in(rng, seconds=(1, 4), **plan):
    """The same with `in`."""
    opens = rng.uniform(*seconds)

    class Bad(Receiver):
        def lock_opens(self, now):
            return super().lock_opens(now) or (
                self.back_since is not None and now - self.back_since > opens)
    return case(rng, Bad, **plan)


def no_lock(rng):
    """No lock: the motor starts with the first packet."""
    class Bad(Receiver):
        def lock_opens(self, now):
            return True
    return case(rng, Bad)


def lock_by_time_edge(rng):
    """The lock opens 4.5 to 6.4 s after the link is back."""
    return lock_by_time_in(rng, (4.5, 6.4))


def lock_forgotten(rng):
    """An outage of more than 20 to 60 s leaves the lock open."""
    after = rng.uniform(20, 60)

    class Bad(Receiver):
        def lock_opens(self, now):
            return super().lock_opens(now) or self.forgets

        forgets = False

        def hear(self, packet, now):
            self.forgets = self.silent_s(now) > after and self.outages > 0 or (
                self.forgets and self.silent_s(now) < 1)
            super().hear(packet, now)
    return case(rng, Bad)


def lock_opens_at_forty(rng):
    """The lock takes any stick below 40 % for low, and lets the motor run at what it says."""
    class Bad(Receiver):
        def lock_opens(self, now):
            return self.is_low(self.plan.motors[0], 0.4)
    return case(rng, Bad)


def lock_opens_by_movement(rng):
    """The lock opens as soon as the stick moves by 3 %: the motor runs while it is pulled down."""
    class Bad(Receiver):
        def lock_opens(self, now):
            value = self.newest.values[self.plan.motors[0]]
            if self.low_since is None:
                self.low_since = value
            return abs(value - self.low_since) > 0.03 * self.plan.travel()
    return case(rng, Bad)


def transmitter_begins_low(rng):
    """The transmitter's filter starts from zero: it sends the throttle low for its first 0.15 to
    0.5 s, which opens the lock."""
    first = rng.uniform(0.15, 0.5)
    return case(rng, first_low_s=first, low_for_s=first / 3)


def glimpse_at_return(rng):
    """As the link returns the sticks reach the outputs for 60 to 250 ms before the lock closes."""
    length = rng.uniform(0.06, 0.25)

    class Bad(Receiver):
        def locked_output(self, i):
            if self.back_since is not None and self.clock_at - self.back_since < length:
                return self.follow(i)
            return super().locked_output(i)
    return case(rng, Bad)


def second_motor_unlocked(rng):
    """Two motors, both named; the lock holds the first one only."""
    class Bad(Receiver):
        def locked_output(self, i):
            return super().locked_output(i) if i == self.plan.motors[0] else self.follow(i)
    return case(rng, Bad, motors=2)


# --- too late, and clocks that hide it

def late(rng, low=1.3, high=4.0, receiver=Receiver, **plan):
    return case(rng, receiver, **({"delay_s": rng.uniform(low, high)} | plan))


def late_age_capped(rng):
    """The throttle is low after 1.3 to 4 s; `age` stops at 500 or 999."""
    cap = rng.choice((500, 999))

    class Bad(Receiver):
        def age_ms(self, now):
            return min(cap, super().age_ms(now))
    return late(rng, receiver=Bad)


def late_age_wraps(rng):
    """The same; `age` has 8 bits."""
    class Bad(Receiver):
        def age_ms(self, now):
            return super().age_ms(now) & 255
    return late(rng, receiver=Bad)


def late_slow_clock(rng):
    """The receiver's clock runs at 0.4 to 0.6 of its speed (a board set for another crystal); the
    throttle is low after 1.4 to 2.2 s."""
    return late(rng, 1.4, 2.2, clock=rng.uniform(0.4, 0.6))


def late_clock_slow_in_outage(rng):
    """The clock loses ticks only while no packet comes (a loop that waits with interrupts off)."""
    speed = rng.uniform(0.4, 0.6)

    class Bad(Receiver):
        def clock_speed(self, now):
            return speed if self.silent_s(now) > 0.1 else 1.0
    return late(rng, 1.4, 2.2, receiver=Bad)


def late_clock_catches_up(rng):
    """The clock stands nearly still until failsafe, then is set right: t leaps."""
    class Bad(Receiver):
        behind = 0.0

        def keep_time(self, now):
            before = self.clock_at
            super().keep_time(now)
            if self.silent_s(now) > 0.1 and not self.failsafe and now > before:
                lag = (now - before) * 1000 * 0.75
                self.clock_ms -= lag
                self.behind += lag

        def enter_failsafe(self, now):
            super().enter_failsafe(now)
            self.leap_at = now + 0.3

        leap_at = math.inf

        def work(self, now):
            if now > self.leap_at:
                self.clock_ms += self.behind
                self.behind, self.leap_at = 0.0, math.inf
            super().work(now)
    return late(rng, 1.4, 2.6, receiver=Bad)


def late_a_little(rng):
    """The throttle is low after 1.02 to 1.25 s; the limit is 1 s."""
    return late(rng, 1.02, 1.25)


def late_a_little_slow_clock(rng):
    """Low after 1.03 to 1.08 s, by a clock that runs 4 to 9 % slow."""
    return late(rng, 1.03, 1.08, clock=rng.uniform(0.91, 0.96))


def late_and_mute(rng):
    """The loop waits for the radio: for 1.3 to 3 s the outputs hold, no line comes, and, in half
    of the seeds, the clock stands (interrupts off); then all goes on."""
    length, speed = rng.uniform(1.3, 3), rng.choice((0.0, 1.0))

    class Bad(Receiver):
        waits_until = 0.0

        def enter_failsafe(self, now):
            if self.waits_until < self.last_packet:
                self.waits_until = now + length
            if now >= self.waits_until:
                super().enter_failsafe(now)

        def waits(self, now):
            return now < self.waits_until

        def clock_speed(self, now):
            return speed if self.waits(now) else self.plan.clock

        def quiet(self, now):
            return self.waits(now)
    return late(rng, 0.1, 0.3, receiver=Bad)


def late_stale_packets(rng):
    """The radio's queue is read again and again: got runs on for 1.5 to 4 s with the same old
    packet."""
    length = rng.uniform(1.5, 4)

    class Bad(Receiver):
        truly_heard, next_stale = 0.0, 0.0

        def hear(self, packet, now):
            self.truly_heard, self.next_stale = now, now + 3 / self.plan.packet_hz
            super().hear(packet, now)

        def work(self, now):
            while self.next_stale <= now and self.linked(now) and (
                    self.next_stale - self.truly_heard < length):
                at, self.next_stale = self.next_stale, self.next_stale + 1 / self.plan.packet_hz
                self.last_packet, self.packet_ms = at, self.clock_ms
                self.got += 1
                self.pattern = (self.pattern + "o")[-64:]
            super().work(now)
    return case(rng, Bad)


def late_second_motor(rng):
    """Two motors, both named; the second one stops 1 to 3 s after the first."""
    after = rng.uniform(1, 3)

    class Bad(Hooked):
        def safe_output(self, i, now):
            if i == self.plan.motors[1] and self.failsafe_since is not None and (
                    now - self.failsafe_since < after):
                return self.held[i]
            return super().safe_output(i, now)
    return case(rng, Bad, motors=2)


def late_real_output(rng):
    """A slow ramp behind the printed values: the real output follows 2 to 4 s later."""
    after = rng.uniform(2, 4)

    class Bad(Hooked):
        def pins(self, now):
            since = self.failsafe_since if self.failsafe else None
            return self.held if since is not None and now - since < after else self.output
    return case(rng, Bad)


# --- no failsafe, or only the look of one

def no_failsafe(rng):
    """The last values stay."""
    class Bad(Receiver):
        def wants_failsafe(self, now):
            return False
    return case(rng, Bad)


def prints_presets(rng):
    """It prints its presets and outputs the last values."""
    class Bad(Receiver):
        def pins(self, now):
            return self.held if self.failsafe else self.output
    return case(rng, Bad)


def prints_rest_at_return(rng):
    """It prints the locked throttle, but outputs the stick as soon as the link is back."""
    class Bad(Receiver):
        def pins(self, now):
            if self.failsafe or not self.locked or self.newest is None:
                return self.output
            return [self.follow(i) for i in range(self.outputs_count)]
    return case(rng, Bad)


def works_once(rng):
    """Failsafe comes once or twice since the start, then never again."""
    times = rng.choice((1, 2))

    class Bad(Receiver):
        def wants_failsafe(self, now):
            return self.outages < times and super().wants_failsafe(now)
    return case(rng, Bad)


def arms_late(rng):
    """Failsafe works once the link has lasted 20 to 40 s; before, the last values stay."""
    after = rng.uniform(20, 40)

    class Bad(Receiver):
        linked_since = -math.inf

        def hear(self, packet, now):
            if 2 < self.silent_s(now) < math.inf:
                self.linked_since = now
            super().hear(packet, now)

        def wants_failsafe(self, now):
            return super().wants_failsafe(now) and self.last_packet - self.linked_since > after
    return case(rng, Bad)


def dying_transmitter(rng, **plan):
    """No failsafe. The transmitter sends the throttle low for 0.1 to 0.4 s as its supply dies;
    the receiver holds that, and prints fs=1 and a lock."""
    class Bad(Receiver):
        def safe_output(self, i, now):
            return self.held[i]
    return case(rng, Bad, dying_low_s=rng.uniform(0.1, 0.4), **plan)


def dying_transmitter_no_in(rng):
    """The same without `in`."""
    return dying_transmitter(rng, keys=without("in"))


def dying_transmitter_held(rng):
    """The same with `in`; every other channel is to be held, which it does."""
    built = dying_transmitter(rng)
    for i in range(built.plan.channels):
        if i not in built.plan.motors:
            built.plan.safe[i] = "hold"
    return built


def phantom(rng):
    """A data line floats: with the transmitter off packets seem to come on, with the last
    values."""
    class Bad(Receiver):
        next_one = 0.0

        def hear(self, packet, now):
            self.next_one = now + 1.5 / self.plan.packet_hz
            super().hear(packet, now)

        def work(self, now):
            while self.newest is not None and self.next_one <= now:
                self.next_one += 1 / self.plan.packet_hz
                self.last_packet, self.packet_ms = now, self.clock_ms
                self.got += 1
                self.pattern = (self.pattern + "o")[-64:]
            super().work(now)
    return case(rng, Bad)


def preset_off_idle(rng, share=(0.08, 0.12)):
    """The preset is 8 to 12 % of the throttle where idle is 0 %."""
    built = case(rng)
    plan = built.plan
    for i in plan.motors:
        plan.safe[i] = round(plan.rest[i] + rng.uniform(*share) * plan.travel())
    return built


def preset_a_little_off_idle(rng):
    """The preset is 4 to 7 % where the motor turns from 3 %."""
    built = preset_off_idle(rng, (0.04, 0.07))
    built.plan.motor_starts = 0.03
    return built


def reversing_preset_low(rng):
    """A controller that reverses; the preset is full reverse."""
    built = reversing(rng)
    for i in built.plan.motors:
        built.plan.safe[i] = 1000
    return built


def pulses_stop(rng):
    """The throttle's pulses stop. The motor runs on or, in half of the seeds, stops; the model
    file doesn't say off."""
    built = case(rng, without_pulses=rng.choice(("keeps", "stops")))
    for i in built.plan.motors:
        built.plan.safe[i] = "off"
    return built


def pulses_stop_motor_keeps(rng):
    """The same, the model file says off, and the motor runs on."""
    return pulses_off(rng, "keeps")


def fewer_values(rng):
    """In failsafe the line ends before the throttle, whose output holds."""
    class Bad(Receiver):
        def safe_output(self, i, now):
            return self.held[i]

        def shown(self, now):
            shown = super().shown(now)
            return shown[:max(1, self.plan.motors[0])] if self.failsafe else shown
    built = case(rng, Bad)
    while built.plan.motors[0] == 0:
        built = case(rng, Bad)
    return built


def servos_elsewhere(rng):
    """The lines tell the presets of the servos, which really go to an end."""
    class Bad(Receiver):
        def pins(self, now):
            return [self.plan.high if self.failsafe and i not in self.plan.motors else value
                    for i, value in enumerate(self.output)]
    return case(rng, Bad)


# --- a motor that nobody named

def second_motor(rng):
    """A second motor keeps its value. The model file names one and no `safe` is told, or, in half
    of the seeds, it names both."""
    class Bad(Receiver):
        def safe_output(self, i, now):
            return self.held[i] if i == self.plan.motors[1] else super().safe_output(i, now)
    built = case(rng, Bad, motors=2, facts=tuple(f for f in EVERY_FACT if f != "safe"))
    if rng.random() < 0.5:
        built.named = built.plan.motors[:1]
    return built


def second_motor_wanted(rng):
    """A second motor that nobody named keeps its value, and `safe` or the model file says hold."""
    class Bad(Receiver):
        def safe_output(self, i, now):
            return self.held[i] if i == self.plan.motors[1] else super().safe_output(i, now)
    built = case(rng, Bad, motors=2)
    built.named = built.plan.motors[:1]
    built.plan.safe[built.plan.motors[1]] = "hold"
    if rng.random() < 0.5:
        built.wanted = {built.plan.motors[1]: "hold"}
    return built


def hidden_motor(rng):
    """A second motor on an output that no line tells, mixed from the last channel, keeps its
    value."""
    class Bad(Receiver):
        def follow(self, i):
            return super().follow(self.plan.motors[0] if i >= self.plan.channels else i)

        def safe_output(self, i, now):
            return self.held[i] if i >= self.plan.channels else super().safe_output(i, now)
    built = case(rng, Bad, hidden=1)
    plan, extra = built.plan, built.plan.channels
    built.named = plan.motors
    plan.rest[extra], plan.full[extra] = plan.rest[plan.motors[0]], 2000
    plan.motors += (extra,)
    return built


# --- the motor comes back

class Returns(Hooked):
    """In failsafe the throttle has `returned(now)` a value."""

    def returned(self, i, now):
        return None

    def safe_output(self, i, now):
        value = None
        if i in self.plan.motors and self.failsafe_since is not None:
            value = self.returned(i, now)
        return super().safe_output(i, now) if value is None else value


def returns_after_seconds(rng, low=20, high=60):
    """The throttle returns 20 to 60 s after the last packet."""
    after = rng.uniform(low, high)

    class Bad(Returns):
        def returned(self, i, now):
            return self.held[i] if self.off_s(now) > after else None
    return case(rng, Bad)


def returns_at_wrap(rng):
    """The age is counted in 16 bits of ms: after 65.536 s it is 0 again, and failsafe is left
    until the delay has passed once more."""
    class Bad(Receiver):
        def wants_failsafe(self, now):
            return self.silent_s(now) % 65.536 > self.plan.delay_s

        def work(self, now):
            if self.failsafe and self.last_packet is not None and self.silent_s(now) > 60 and (
                    not self.wants_failsafe(now)):
                self.failsafe = self.locked = False
            super().work(now)
    return case(rng, Bad)


def creeps(rng):
    """The throttle creeps up from 3 s on, by 1 to 5 % a second."""
    speed = rng.uniform(10, 50)

    class Bad(Returns):
        def returned(self, i, now):
            rest, full = self.plan.rest[i], self.plan.full[i]
            return min(full, round(rest + speed * max(0, self.off_s(now) - 3)))
    return case(rng, Bad)


def creeps_a_little(rng):
    """The throttle creeps up from 10 s on, to 3.5 to 7 % at 60 s; the motor turns from 2.5 %."""
    top = rng.uniform(35, 70)

    class Bad(Returns):
        def returned(self, i, now):
            share = min(1, max(0, (self.off_s(now) - 10) / 50))
            return round(self.plan.rest[i] + share * top)
    return case(rng, Bad, motor_starts=0.025)


def kick(rng):
    """Once in each switch-off, after 1.5 to 4 s, the motor kicks for 0.3 to 0.6 s."""
    return kicking(rng, rng.uniform(1.5, 4), rng.uniform(0.3, 0.6))


def kick_between_reports(rng):
    """The same for 50 to 75 ms, between two reports, at 10 reports a second."""
    return kicking(rng, rng.uniform(1.5, 4), rng.uniform(0.05, 0.075), report_hz=rng.uniform(9, 10),
                   delay_s=0.4, hides=True)


def kicking(rng, when, length, hides=False, **plan):
    class Bad(Returns):
        kicks_until, kicked, reported = 0.0, None, 0.0

        def returned(self, i, now):
            if self.kicked != self.failsafe_since and now - self.failsafe_since > when and (
                    not hides or now - self.reported < 0.02):
                self.kicked, self.kicks_until = self.failsafe_since, now + length
            if now < self.kicks_until:
                return self.half(i)
            return None

        def report(self, now):
            line = super().report(now)
            self.reported = now
            return line
    return case(rng, Bad, **plan)


def flickers(rng):
    """In failsafe every tenth to fifteenth pulse is the old one, for a frame alone."""
    every = rng.uniform(0.2, 0.3)

    class Bad(Returns):
        def returned(self, i, now):
            return self.held[i] if (now - self.failsafe_since) % every < 0.021 else None
    return case(rng, Bad, motor_starts=0.03)


def stray_packets(rng):
    """Noise passes for a packet every 3 to 10 s, which leaves failsafe and opens the lock."""
    class Bad(Receiver):
        next_stray = math.inf

        def enter_failsafe(self, now):
            super().enter_failsafe(now)
            self.next_stray = now + self.rng.uniform(3, 10)

        def work(self, now):
            if now > self.next_stray and self.failsafe:
                self.next_stray = math.inf
                values = [self.rng.randint(1200, 1800) for _ in self.newest.values]
                stray = dataclasses.replace(self.newest, values=values,
                                            seq=self.rng.randrange(256))
                self.locked = False
                self.hear(stray, now)
            super().work(now)
    return case(rng, Bad)


def reinit_moves(rng):
    """In failsafe the radio is set up anew every 2 to 5 s; for those 0.15 to 1 s the outputs
    stand in the middle and no line is printed."""
    every, length = rng.uniform(2, 5), rng.uniform(0.15, 1)

    class Bad(Returns):
        def busy(self, now):
            return self.failsafe and self.failsafe_since is not None and (
                now - self.failsafe_since > 1) and (now - self.failsafe_since - 1) % every < length

        def returned(self, i, now):
            return self.half(i) if self.busy(now) else None

        def quiet(self, now):
            return self.busy(now)
    return case(rng, Bad)


def reinit_moves_at_return(rng):
    """The same once, as the link returns: the outputs stand in the middle for 0.2 to 0.6 s,
    unprinted."""
    length = rng.uniform(0.2, 0.6)

    class Bad(Hooked):
        def busy(self, now):
            return not self.failsafe and self.back_since is not None and (
                now - self.back_since < length)

        def locked_output(self, i):
            return self.half(i) if self.busy(self.clock_at) else super().locked_output(i)

        def quiet(self, now):
            return self.busy(now)
    return case(rng, Bad)


def garbled_while_it_runs(rng):
    """The motor returns for 0.5 to 5 s every 8 to 14 s of failsafe; whenever it runs, its sparks
    garble 60 to 95 % of the lines."""
    every, length = rng.uniform(8, 14), rng.uniform(0.5, 5)

    class Bad(Returns):
        def returned(self, i, now):
            after = now - self.failsafe_since - 3
            return self.held[i] if after > 0 and after % every < length else None
    return case(rng, Bad, cable={"sparks": rng.uniform(0.6, 0.95)}, checksum=True)


# --- restarts

def restarted(rng, receiver, when, **more):
    return case(rng, receiver, faults=(when,), **more)


class Restarts(Hooked):
    """After a restart that was a fault, the outputs stand at half until `half_until`."""
    half_until = 0.0

    def safe_output(self, i, now):
        if i in self.plan.motors and now < self.half_until:
            return self.half(i)
        return super().safe_output(i, now)

    def locked_output(self, i):
        if self.clock_at < self.half_until:
            return self.half(i)
        return super().locked_output(i)


def watchdog_in_outage(rng):
    """A watchdog restarts it 1 to 4 s into each switch-off; the throttle then stands at half for
    2 s."""
    after = rng.uniform(1, 4)
    state = {"done": None}

    def fault(world, now, lines):
        receiver = world.receiver
        if receiver.failsafe and receiver.failsafe_since is not None and (
                now - receiver.failsafe_since > after):
            receiver.restart(now, lines, "watchdog")
            receiver.half_until = receiver.up_at + 2
            state["done"] = now
    return restarted(rng, Restarts, fault)


def watchdog_at_loss(rng):
    """The loop hangs 0.1 to 0.3 s after the last packet until the watchdog bites; neither pulses
    nor lines until it is up again, no boot line; the controller keeps its last command
    meanwhile."""
    after = rng.uniform(0.1, 0.3)

    def fault(world, now, lines):
        receiver = world.receiver
        if receiver.last_packet is not None and now - receiver.last_packet > after:
            receiver.restart(now, lines, "watchdog", tell=False)
    return case(rng, Restarts, faults=(fault,), without_pulses="keeps",
                boot_s=rng.uniform(0.3, 1.5))


def brownout_at_return(rng):
    """The servos leap as the link returns and the supply falls: a restart, then the throttle
    stands at half for 2 s. With a boot line, or, in half of the seeds, without one."""
    tell, state = rng.random() < 0.5, {"for": None}

    def fault(world, now, lines):
        receiver = world.receiver
        back = receiver.back_since
        if back is not None and receiver.outages and state["for"] != world.switched_on_at and (
                now - back > 0.03):
            state["for"] = world.switched_on_at
            receiver.restart(now, lines, "brownout", tell)
            receiver.half_until = receiver.up_at + 2
    return restarted(rng, Restarts, fault)


# --- with less to see

def any_bad(rng):
    """One of the bad kinds that need no key to be bad."""
    return rng.choice((lock_by_time_in, no_lock, late_age_capped, late_slow_clock, late_a_little,
                       no_failsafe, preset_off_idle, second_motor_unlocked, late_second_motor,
                       returns_after_seconds, returns_at_wrap, creeps, kick, watchdog_in_outage,
                       brownout_at_return, glimpse_at_return, works_once, dying_transmitter))(rng)


def any_bad_few_keys(rng):
    """Any bad receiver that prints a random part of the keys and facts."""
    built = any_bad(rng)
    built.plan.keys = ("ch",) + tuple(k for k in EVERY_KEY[1:] if rng.random() < 0.6)
    built.plan.facts = tuple(f for f in EVERY_FACT if rng.random() < 0.7) or ("fw",)
    return built


def any_bad_bad_cable(rng):
    """Any bad receiver on a cable that loses, damages, and is out for some seconds."""
    built = any_bad(rng)
    built.cable = {"lost": rng.uniform(0, 0.08), "damaged": rng.uniform(0, 0.03)}
    built.plan.checksum = rng.random() < 0.7
    built.hole = (*rng.choice((("off", 2), ("on", 2), ("long", 1))), rng.uniform(0, 2),
                  rng.uniform(1, 5))
    return built


# --- beyond what a trial of some minutes can see

def returns_after_two_minutes(rng):
    """The throttle returns 80 to 120 s after the last packet."""
    return returns_after_seconds(rng, 80, 120)


def lock_by_time_late(rng):
    """The lock opens 8 to 12 s after the link is back."""
    return lock_by_time_in(rng, (8, 12))


def one_in_three(rng):
    """Failsafe fails in one outage of three, by chance."""
    class Bad(Receiver):
        drawn = None, True

        def wants_failsafe(self, now):
            if self.drawn[0] != self.last_packet:
                self.drawn = self.last_packet, self.rng.random() > 1 / 3
            return self.drawn[1] and super().wants_failsafe(now)
    return case(rng, Bad)


def goodbye(rng):
    """No failsafe; as its soft switch goes off the transmitter sends a last packet that says so,
    and the receiver puts out its presets and locks."""
    class Bad(Receiver):
        told = False

        def hear(self, packet, now):
            self.told = False
            super().hear(packet, now)

        def wants_failsafe(self, now):
            return self.told

    def fault(world, now, lines):
        world.receiver.told = not world.transmitter.on
    return case(rng, Bad, faults=(fault,))
