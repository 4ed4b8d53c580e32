"""A case: a receiver, its model file, its cable, and what good receivers have in common."""
import dataclasses

from receiver import EVERY_KEY, Plan, Receiver


@dataclasses.dataclass
class Case:
    plan: Plan
    receiver: type = Receiver
    named: tuple = None          # motors that the model file names; None: all of them
    idle: str = "low"            # as in the model file; None: left out
    wanted: dict = dataclasses.field(default_factory=dict)  # its section failsafe
    cable: dict = dataclasses.field(default_factory=dict)   # for Cable
    faults: tuple = ()
    hole: tuple = None           # no line: (step, which time, from s after it began, for s)

    def model(self):
        """The model file."""
        named = self.plan.motors if self.named is None else self.named
        lines = ["[channels]"]
        if named:
            lines.append("throttle = " + ", ".join(str(i + 1) for i in named))
            lines += [f"idle = {self.idle}"] if self.idle is not None else []
        lines += ["[failsafe]"] + [f"{i + 1} = {value}" for i, value in self.wanted.items()]
        return "\n".join(lines) + "\n"


def common(rng, motors=1, **more):
    """A good receiver with seeded habits."""
    channels = rng.randint(max(4, motors + 2), 8)
    chosen = tuple(sorted(rng.sample(range(min(channels, 5)), motors)))
    rest = {i: 1000 + rng.choice((0, 0, 3, 8)) for i in chosen}
    safe = {}
    for i in range(channels):
        safe[i] = rest[i] if i in chosen else rng.choice(("hold", 1500, 1000, "hold", 1400))
    start = {"n": rng.choice((0, 40, 65530, rng.randrange(10**6))),
             "got": rng.choice((0, 250, 65500, rng.randrange(10**7))),
             "t": rng.choice((3000, 60000, 65000, 4_000_000, rng.randrange(10**8))),
             "lost": rng.choice((0, 3, rng.randrange(10**4))), "seq": rng.randrange(256)}
    report_hz = rng.uniform(10, 50)
    plan = dict(
        channels=channels, motors=chosen, rest=rest, full={i: 2000 for i in chosen}, safe=safe,
        reversed_servos=frozenset(i for i in range(channels)
                                  if i not in chosen and rng.random() < 0.3),
        # Builders choose 0.3 to 1 s; what can be shown is up to three reports' periods longer.
        delay_s=rng.uniform(0.3, min(0.7, 0.9 - 3 / report_hz)), low_for_s=rng.uniform(0.1, 0.8),
        packet_hz=rng.uniform(20, 100), report_hz=report_hz, checksum=rng.random() < 0.6,
        clock=rng.uniform(0.995, 1.005),  # a ceramic resonator
        start=start, motor_starts=rng.uniform(0.03, 0.06), motor_slowing_s=rng.uniform(0.1, 0.4),
        without_pulses=rng.choice(("stops", "keeps")), boot_s=rng.uniform(0.1, 1.5))
    return Plan(**(plan | more))


def adapter(rng):
    """USB adapters hand bytes over in lumps: of 1 ms, or of up to 16 ms with one chip's default.
    The speed leaves room for 50 reports of 300 bytes a second."""
    return {"baud": rng.choice((230400, 250000, 500000)),
            "lump_s": rng.choice((0.001, 0.004, 0.016))}


def without(*names):
    return tuple(k for k in EVERY_KEY if k not in names)


def only(*names):
    return tuple(k for k in EVERY_KEY if k in names)


def case(rng, receiver=Receiver, motors=1, named=None, idle="low", wanted=None, cable=None,
         faults=(), hole=None, **plan):
    return Case(common(rng, motors, **plan), receiver, named, idle, wanted or {},
                adapter(rng) | (cable or {}), faults, hole)
