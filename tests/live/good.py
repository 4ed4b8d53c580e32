"""Good receivers: those that print every key, and those with few keys or on a bad cable."""
import dataclasses

from case import case, only, without
from receiver import EVERY_FACT, EVERY_KEY


# --- every key

def clean(rng):
    """Good."""
    return case(rng)


def fading(rng):
    """Good; 1 to 10 % of the packets are lost while linked, in bursts of up to 200 ms."""
    return case(rng, loss=rng.uniform(0.01, 0.1))


def trimmed_idle(rng):
    """Good; idle and preset stand at 1020 to 1070 where the span is 1000,2000."""
    built = case(rng)
    plan = built.plan
    for i in plan.motors:
        plan.rest[i] = rng.randint(1020, 1070)
        plan.safe[i] = plan.rest[i]
    return built


def reversing(rng):
    """Good; a controller that reverses: idle = middle, 1500."""
    built = case(rng, idle="middle", motor_starts=0.08)
    plan = built.plan
    for i in plan.motors:
        plan.rest[i] = plan.safe[i] = 1500
    return built


def two_motors(rng):
    """Good; two motors, both named, the second one reversing in half of the seeds."""
    built = case(rng, motors=2)
    if rng.random() < 0.5:
        built.idle = "low, middle"
        second = built.plan.motors[1]
        built.plan.rest[second] = built.plan.safe[second] = 1500
        built.plan.motor_starts = 0.08
    return built


def idle_high(rng):
    """Good; the motor rests at the high end."""
    built = case(rng, idle="high")
    for i in built.plan.motors:
        built.plan.rest[i] = built.plan.safe[i] = 2000
        built.plan.full[i] = 1000
    return built


def raw_unit(rng):
    """Good; raw values from 0 to 1023."""
    built = case(rng)
    plan = built.plan
    plan.low, plan.high, plan.unit = 0, 1023, "raw"
    for i in range(plan.channels):
        if isinstance(plan.safe[i], int):
            plan.safe[i] = rng.choice((512, 0, 400))
    for i in plan.motors:
        plan.rest[i], plan.full[i], plan.safe[i] = 0, 1023, 0
    return built


def pulses_stop_and_motor(rng):
    """Good; the throttle's pulses stop, the controller stops its motor then, and the model file
    says off."""
    return pulses_off(rng, "stops")


def pulses_off(rng, without_pulses):
    built = case(rng, without_pulses=without_pulses)
    for i in built.plan.motors:
        built.plan.safe[i] = "off"
    built.wanted = {i: "off" for i in built.plan.motors}
    return built


def no_throttle_named(rng):
    """Good; the model file names no throttle, the person chooses it."""
    return dataclasses.replace(case(rng), named=())


def counters_wrap(rng):
    """Good; t goes round at 2^32 during the trial."""
    built = case(rng)
    built.plan.start["t"] = 2**32 - rng.randint(20_000, 50_000)
    return built


# --- with few keys

def spare(keys, **more):
    def build(rng):
        return case(rng, keys=only(*keys), **more)
    build.__doc__ = "Good; prints " + ", ".join(keys) + " only."
    return build


few_ch = spare(("ch",), facts=())
few_ch_t = spare(("ch", "t"), facts=("rate", "span"))
few_ch_got_t = spare(("ch", "t", "got"), facts=("rate", "span", "safe"))
few_ch_fs_t = spare(("ch", "t", "fs"))
few_no_in = spare(without("in"))
few_no_fs = spare(without("fs", "fsn"))
few_no_packets = spare(without("got", "pat", "seq", "lost"))
few_no_t = spare(without("t"))
few_no_n = spare(without("n"))
few_no_lock = spare(without("lock"))
few_no_safe = spare(EVERY_KEY, facts=tuple(f for f in EVERY_FACT if f != "safe"))
few_no_id = spare(EVERY_KEY, facts=())
for made, text in ((few_no_in, "in"), (few_no_fs, "fs, fsn"),
                   (few_no_packets, "got, pat, seq, lost"), (few_no_t, "t"), (few_no_n, "n"),
                   (few_no_lock, "lock")):
    made.__doc__ = f"Good; prints all but {text}."
few_no_safe.__doc__, few_no_id.__doc__ = "Good; no safe in the id line.", "Good; no id line."


def few_by_chance(rng):
    """Good; prints a random part of the keys."""
    built = case(rng)
    built.plan.keys = ("ch",) + tuple(k for k in EVERY_KEY[1:] if rng.random() < 0.6)
    return built


def numbers_only(rng):
    """Good; bare numbers."""
    return case(rng, numbers_only=True)


# --- on a bad cable

def cable_loses(rng):
    """Good; the cable loses 2 to 10 % of the lines."""
    return case(rng, cable={"lost": rng.uniform(0.02, 0.1)})


def cable_damages(rng):
    """Good; 1 to 5 % of the lines are damaged, with a checksum."""
    return case(rng, cable={"damaged": rng.uniform(0.01, 0.05)}, checksum=True)


def cable_damages_unseen(rng):
    """Good; 1 to 5 % of the lines are damaged, without a checksum."""
    return case(rng, cable={"damaged": rng.uniform(0.01, 0.05)}, checksum=False)


def cable_hole(rng):
    """Good; the cable is out for 2 to 8 s at a random moment."""
    step = rng.choice(("raise", "stay", "stopped", "long", "on", "lower", "quiet"))
    times = 1 if step in ("stopped", "long") else rng.randint(1, 3)
    return case(rng, hole=(step, times, rng.uniform(0, 3), rng.uniform(2, 8)))


def cable_hole_decisive(rng):
    """Good; the cable is out for 2 to 8 s as the transmitter goes off or on."""
    return case(rng, hole=(rng.choice(("off", "on")), rng.randint(1, 3), rng.uniform(0, 1.8),
                           rng.uniform(2, 8)))


def cable_stalls(rng):
    """Good; a bridge (Bluetooth, a busy computer) holds lines up for 0.1 to 1.5 s now and then."""
    return case(rng, cable={"stall": 0.01})


# --- in other ways

def slow_clock_good(rng):
    """Good within 0.25 to 0.4 s; the receiver's clock runs at 0.5 to 0.9."""
    return case(rng, clock=rng.uniform(0.5, 0.9), delay_s=rng.uniform(0.25, 0.4))


def barely_in_time(rng):
    """Good after 0.85 to 0.97 s."""
    return case(rng, delay_s=rng.uniform(0.85, 0.97))


def preset_below_idle(rng):
    """Good; the stick's idle is trimmed to 1030 to 1070, the preset is 1000."""
    built = trimmed_idle(rng)
    for i in built.plan.motors:
        built.plan.rest[i] = rng.randint(1030, 1070)
        built.plan.safe[i] = 1000
    return built


def transmitter_waits(rng):
    """Good; the transmitter sends nothing after its start until its throttle is low (common
    practice)."""
    return case(rng, transmitter_waits=True)


def restarts_safely(rng):
    """Good; a reset line picks up noise: it restarts once in a switch-off, motors at rest
    throughout."""
    state = {"done": False}

    def fault(world, now, lines):
        receiver = world.receiver
        if not state["done"] and receiver.failsafe and receiver.outages == 2 and (
                now - receiver.failsafe_since > 2):
            state["done"] = True
            receiver.restart(now, lines, "reset")
    built = case(rng, faults=(fault,))
    for i, value in built.plan.safe.items():  # what to hold it forgets as it restarts
        built.plan.safe[i] = 1500 if value == "hold" else value
    return built
