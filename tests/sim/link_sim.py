"""A stick transmitter and a servo receiver on the bench or the lake, as the receiver's lines tell of them.

Written from airleash-telemetry(5) and facts of the trade; it shares no code with the program.  One run has at
most one trouble, which stands in `Run.truth`.  Values marked "common practice" are what builders commonly see;
the rest of the figures are choices within what modules of this sort do:
  a micro servo pulls a weak supply down by 0.1 to 0.4 V when it starts (common practice)
  the carrier detector answers above -64 dBm, the link ends at -94, -85 or -82 dBm at 250, 1000, 2000 kbps
  (nRF24L01+ specification, sections 6.4 and 5.4), so `heard` tells of strength only 30, 21 or 18 dB above the end
  a Wi-Fi beacon comes every 102.4 ms (IEEE 802.11, 100 time units)
  free space costs 20 log10(4 pi d / wavelength), a dipole gains 2.15 dB (textbooks), hand and hull cost 3 to 8 dB
  (common practice); a walk's stops differ by some dB more, since ground and banks reflect
  failsafe after 0.5 s, a boot loader of 0.3 to 1.5 s (common practice)
"""
import binascii
import bisect
import math
import random

KEY_SETS = {
    'all': None,
    'typical': {'n', 't', 'ch', 'seq', 'got', 'lost', 'age', 'fs', 'mv', 'mvmin'},
    'few': {'t', 'ch', 'seq', 'got'},
}
TICKS_A_REPORT_MS = (50, 100)
MHZ, SENSITIVITY_DBM = 2476, {250: -94, 1000: -85, 2000: -82}
STOPS_M = (3, 5, 10, 15, 20, 30, 45, 60, 80, 100)
STAY_S, ON_THE_WAY_S = 15.0, 6.0
# Columns of a recording, from airleash-recording(5), and the key that each is of.
COLUMNS = ([('kind', None), ('host_us', None), ('rx_ms', 't'), ('report_no', 'n'), ('seq', 'seq'), ('got', 'got'),
            ('lost', 'lost'), ('refused', 'refused'), ('pat', 'pat'), ('age_ms', 'age'), ('gap_ms', 'gap'), ('failsafe', 'fs'),
            ('failsafe_entries', 'fsn'), ('lock', 'lock'), ('supply_mv', 'mv'), ('supply_min_mv', 'mvmin'),
            ('heard_hits', 'heard'), ('heard_looks', 'heard'), ('noise_hits', 'noise'), ('noise_looks', 'noise'),
            ('rssi_dbm', 'rssi'), ('reg', 'reg'), ('reinit', 'reinit'), ('tx_boot', 'tboot'), ('tx_mv', 'tmv'), ('tx_step', 'tstep'),
            ('bytes', None)] + [(f'ch{i}', 'ch') for i in range(1, 17)] + [(f'in{i}', None) for i in range(1, 17)] +
           [('distance_m', None), ('note', None)])


class Stick:
    """One output as a person steers it: rests, then goes somewhere within 0.15 to 0.8 s."""

    def __init__(self, dice, rest, low, high, wait_s, noise_us):
        self.dice, self.low, self.high, self.wait_s, self.noise = dice, low, high, wait_s, noise_us
        self.at = self.goal = self.rest = rest
        self.speed = 0.0
        self.next_s = dice.expovariate(1 / wait_s) if wait_s else math.inf
        self.force = False

    def step(self, now_s, dt):
        if now_s >= self.next_s or self.force:
            self.force = False
            back = self.dice.random() < 0.4 and abs(self.at - self.rest) > 30
            self.goal = self.rest if back else self.dice.uniform(self.low, self.high)
            self.speed = max(abs(self.goal - self.at) / self.dice.uniform(0.15, 0.8), 1.0)
            self.next_s = now_s + self.dice.expovariate(1 / self.wait_s) if self.wait_s else math.inf
        way = self.goal - self.at
        step = max(-self.speed * dt, min(self.speed * dt, way))
        self.at += step
        return abs(step)

    def shown(self):
        return round(self.at + self.dice.gauss(0, self.noise))


class Fading:
    """Margin over the link's end in dB: a mean, slow shadowing, and Rice's fast fading."""

    def __init__(self, dice, margin_db, shadow_db, shadow_s, k_db, coherence_s, dt):
        self.dice, self.margin = dice, margin_db
        self.shadow_db, self.a = shadow_db, math.exp(-dt / shadow_s)
        k = 10 ** (k_db / 10)
        self.los = math.sqrt(k / (k + 1))
        self.sd = math.sqrt(1 / (2 * (k + 1)))
        self.b = math.exp(-dt / coherence_s)
        self.shadow = dice.gauss(0, shadow_db)
        self.x, self.y = dice.gauss(0, self.sd), dice.gauss(0, self.sd)

    def step(self):
        gauss = self.dice.gauss
        self.shadow = self.a * self.shadow + math.sqrt(1 - self.a ** 2) * gauss(0, self.shadow_db)
        c = math.sqrt(1 - self.b ** 2) * self.sd
        self.x = self.b * self.x + gauss(0, c)
        self.y = self.b * self.y + gauss(0, c)
        power = (self.los + self.x) ** 2 + self.y ** 2
        return self.margin + self.shadow + 10 * math.log10(power + 1e-9)


class Spells:
    """Something that comes and goes: on for about on_s, off for about off_s."""

    def __init__(self, dice, on_s, off_s):
        self.dice, self.on_s, self.off_s = dice, on_s, off_s
        self.on = False
        self.next_s = dice.expovariate(1 / off_s)

    def step(self, now_s):
        if now_s >= self.next_s:
            self.on = not self.on
            self.next_s = now_s + self.dice.expovariate(1 / (self.on_s if self.on else self.off_s))
        return self.on


class Run:
    def __init__(self, seed, situation='clean', depth=None):
        self.dice = dice = random.Random(f'{seed} {situation} {depth}')
        self.situation = situation
        self.rate = dice.choice((40, 50, 50, 66.7, 100))
        self.report_ms = dice.choice(TICKS_A_REPORT_MS)
        self.kbps = dice.choice((250, 1000, 2000))
        self.heard_db = {250: 30, 1000: 21, 2000: 18}[self.kbps]
        self.seqmod = dice.choice((256, 65536, 65536))
        self.dt = 1 / self.rate
        noise = dice.uniform(0.4, 2.5)
        moving = 0 if dice.random() < 0.25 else dice.uniform(1.5, 8)
        self.sticks = [Stick(dice, 1500, 1050, 1950, moving and moving * dice.uniform(0.7, 3), noise)
                       for _ in range(dice.choice((4, 5, 6)))]
        self.sticks[2] = Stick(dice, 1000, 1000, 1900, moving and moving * 2, noise)
        self.throttle = 2
        depth = depth or 'none'
        margins = {'none': 35, 'shallow': dice.uniform(11, 15), 'middle': dice.uniform(5, 9), 'deep': dice.uniform(-1, 4)}
        self.fading = Fading(dice, margins[depth], dice.uniform(1, 4), dice.uniform(2, 15), dice.uniform(-3, 6),
                             dice.uniform(0.05, 1.0), self.dt)
        self.together = 0.4 if dice.random() < 0.4 else 0.0  # a thumb moves two at once
        self.ack, self.hop, self.truth, self.partly = 0, 0, set(), set()
        self.sag = dice.uniform(60, 250)    # mV that a moving servo costs
        self.base_mv = dice.choice((5000, 4900, 6000))
        self.drift = dice.uniform(-0.1, 0)  # mV/s: a battery
        self.lines_lost = dice.choice((0, 0, 0, 0.002))
        self.lines = []
        self.boot_state()
        self.seq = dice.randrange(self.seqmod)
        self.tboot, self.tboot_other = dice.randrange(1, 200), dice.randrange(200, 250)
        self.tmv = dice.uniform(3700, 4200)
        self.restart_cause, self.dead_until, self.silent_until = None, 0.0, 0.0
        self.pause_until = self.deaf_until = self.tx_dead_until = 0.0
        self.outputs = [s.shown() for s in self.sticks]
        self.kick = 0.0
        self.options, self.walks, self.rssi, self.level = [], False, False, None
        getattr(self, 'begin_' + situation)()

    # --- situations: what begins each, and what its `at_` does at each packet's time ------------------

    def need_moves(self, channel, wait_s):
        self.culprit = channel
        rest = self.sticks[channel].rest
        low = 1000 if channel == self.throttle else 1050
        self.sticks[channel] = Stick(self.dice, rest, low, 1950, wait_s, self.sticks[channel].noise)

    def begin_clean(self):
        pass

    def begin_brownout(self):
        self.need_moves(self.dice.choice((0, 1, 3)), self.dice.uniform(4, 9))
        self.truth = {f'channel moves {self.culprit + 1}', 'supply dips', 'receiver browned out'}
        self.partly = {'receiver restarted'}

    def begin_brownout_any(self):
        """Whichever servo moves far."""
        for k in (0, 1, 3):
            self.need_moves(k, self.dice.uniform(8, 16))
        self.truth = {'channel moves 1', 'channel moves 2', 'channel moves 4', 'supply dips', 'receiver browned out'}
        self.partly = {'receiver restarted'}

    def begin_radio_rail(self):
        self.need_moves(self.dice.choice((0, 1, 3)), self.dice.uniform(4, 9))
        self.truth = {f'channel moves {self.culprit + 1}', 'supply dips', 'radio lost its settings'}

    def begin_servo_noise(self):
        self.need_moves(self.dice.choice((0, 1, 3)), self.dice.uniform(3, 7))
        self.truth = {f'channel moves {self.culprit + 1}'}
        self.partly = {'supply dips', 'noise on the air'}

    def begin_motor(self):
        self.need_moves(self.throttle, self.dice.uniform(5, 10))
        self.truth = {'throttle up', 'channel moves 3', 'noise on the air'}

    def begin_watchdog(self):
        self.wait_s = self.dice.uniform(6, 15)
        self.truth, self.partly = {"receiver's watchdog"}, {'receiver restarted'}

    def begin_reset(self):
        self.wait_s = self.dice.uniform(6, 15)
        self.truth, self.partly = {'receiver was reset'}, {'receiver restarted'}

    def begin_plug(self):
        self.spells = Spells(self.dice, 4, 15)
        self.truth, self.partly = {'receiver lost its power'}, {'receiver restarted'}

    def begin_transmitter(self):
        self.wait_s = self.dice.uniform(8, 20)
        self.truth = {'transmitter restarted', "transmitter's supply low"}

    def begin_pauses(self):
        self.every_s, self.next_s = self.dice.uniform(3, 8), 2.0
        self.truth = {'transmitter pauses', 'losses in a rhythm'}

    def begin_pauses_random(self):
        self.wait_s = self.dice.uniform(4, 10)
        self.truth = {'transmitter pauses'}

    def begin_stalls(self):
        self.wait_s = self.dice.uniform(4, 12)
        self.truth = {"receiver's loop stalls"}

    def begin_interference(self):
        self.spells = Spells(self.dice, self.dice.uniform(0.5, 4), self.dice.uniform(4, 12))
        self.truth = {'noise on the air'}

    def begin_beacon(self):
        self.window_s = self.dice.uniform(0.004, 0.009)
        self.truth, self.partly = {'losses in a rhythm'}, {'noise on the air'}

    def begin_hop(self):
        self.hop = self.dice.choice((5, 8, 12))
        self.truth = {'losses in a rhythm'}

    def begin_stranger(self):
        self.spells = Spells(self.dice, self.dice.uniform(3, 10), self.dice.uniform(5, 15))
        self.truth, self.partly = {'second transmitter'}, {'transmitter restarted'}

    def begin_stranger_noisy(self):
        """Its carrier is heard as noise, which is no other cause."""
        self.begin_stranger()

    def begin_stranger_servo(self):
        """And a servo that disturbs the receiver: both are there."""
        self.begin_stranger()
        self.begin_servo_noise()
        self.truth, self.partly = self.truth | {'second transmitter'}, self.partly | {'transmitter restarted'}

    def begin_retries(self):
        self.ack = 1
        self.truth = {'acknowledgements'}

    def begin_body(self):
        """Somebody stands in the way now and then; strong otherwise."""
        self.spells = Spells(self.dice, self.dice.uniform(1, 4), self.dice.uniform(6, 15))
        self.kbps, self.heard_db = 2000, 18
        self.fading.margin = 28
        self.truth = {'signal weak before'}

    def begin_lead(self):
        """Lines are lost on the serial lead, nothing on the air: there is no cause to find."""
        self.lines_lost = 0.08

    def begin_walk(self, below_db, end_db):
        """Out over STOPS_M and back, and so on: below_db less arrives than the budget has; the mean margin at the
        farthest stop is end_db, by the power."""
        dice = self.dice
        self.walks, self.rssi = True, dice.random() < 0.7
        self.stops = list(STOPS_M) + list(reversed(STOPS_M))
        self.places = {m: dice.gauss(0, 2.5) for m in STOPS_M}
        self.below_db = below_db + dice.uniform(3, 8)
        power = SENSITIVITY_DBM[self.kbps] + end_db - self.arrives(STOPS_M[-1], 0)
        self.power_dbm = max(-18, min(20, round(power)))
        self.options = ['--power-dbm', str(self.power_dbm)]
        self.stop, self.mark, self.next_mark_s = -1, 'leave', 3.0
        self.metres = STOPS_M[0]
        self.level = self.arrives(self.metres, self.power_dbm)

    def arrives(self, metres, power_dbm):
        lost = 20 * math.log10(4 * math.pi * metres * MHZ * 1e6 / 299792458)
        return power_dbm + 2 * 2.15 - lost - self.below_db + self.places.get(metres, 0)

    def walk(self, now):
        """Stops, and the ways between them."""
        if now >= self.next_mark_s:
            if self.mark == 'stop' and len(self.stops) > 1:
                self.mark, self.next_mark_s = 'leave', now + ON_THE_WAY_S
                self.say(now, ('leave', None))
            else:
                self.mark, self.next_mark_s = 'stop', now + STAY_S
                self.stop += 1
                self.metres = self.stops[self.stop % len(self.stops)]
                self.say(now, ('stop', self.metres))
        goal = self.arrives(self.metres, self.power_dbm)
        self.level += max(-30 * self.dt, min(30 * self.dt, goal - self.level))

    def begin_distance(self):
        self.begin_walk(0, self.dice.uniform(-1, 3))
        self.truth = {'distance', 'signal weak before'}

    def begin_antenna(self):
        """A connector that came off, at either end: weak at every distance."""
        self.begin_walk(self.dice.uniform(18, 30), self.dice.uniform(1, 6))
        self.truth, self.partly = {'weak at every distance'}, {'distance', 'signal weak before'}

    def begin_near(self):
        """Too strong near by: the receiver's input saturates."""
        self.begin_walk(0, 25)
        self.reach_m = self.dice.uniform(4, 12)
        self.truth = {'too strong near by'}

    def begin_heading(self):
        """At one place, turned by a quarter each time; from behind, the hull is in the way."""
        self.begin_walk(0, 25)
        self.headings, self.bad, self.shade_db = ('0', '90', '180', '270'), self.dice.randrange(1, 4), self.dice.uniform(20, 27)
        self.turn, self.next_turn_s = 0, 3.0 + self.dice.uniform(8, 15)
        self.stops = [45]
        self.truth, self.partly = {"the model's heading"}, {'signal weak before'}

    def begin_strolled(self):
        """No trouble: a walk with a good signal, and losses that have nothing to do with it."""
        self.begin_walk(0, self.dice.uniform(12, 25))

    def begin_drift(self):
        """Something gets warm: the receiver hears less and less."""
        self.fading.margin = self.dice.uniform(9, 15)
        self.falls_db_s = self.dice.uniform(10, 15) / 600
        self.truth = {'slow drift'}

    def begin_battery(self):
        """The receiver's battery runs down, and with it goes its radio."""
        self.drift = -self.dice.uniform(0.8, 1.6)
        self.truth, self.partly = {'slow drift'}, {'supply dips'}

    def often(self, wait_s):
        return self.dice.random() < self.dt / wait_s

    def disturb(self, now, moved):
        """Loss by the trouble at this packet's time: a probability; other effects by the way."""
        s, dice = self.situation, self.dice
        if s in ('brownout', 'brownout_any', 'radio_rail', 'servo_noise', 'stranger_servo'):
            channels = (0, 1, 3) if s == 'brownout_any' else (self.culprit,)
            far = sum(moved[k] for k in channels) / self.dt  # us a second
            if s in ('servo_noise', 'stranger_servo'):
                return 0.45 if far > 300 else 0
            if far > 700:
                self.kick = max(self.kick, dice.uniform(500, 1100))
                if self.often(0.6):
                    if s == 'radio_rail':
                        self.forget(now, dice.uniform(0.25, 0.8))
                    else:
                        self.restart(now, 'brownout')
        elif s == 'motor':
            share = max(0, self.outputs[self.throttle] - 1200) / 800
            self.noise_p = 0.25 * share
            return 0.25 * share
        elif s == 'watchdog' and self.often(self.wait_s):
            self.restart(now, 'watchdog', hang=dice.uniform(0.25, 1.0))
        elif s == 'reset' and self.often(self.wait_s):
            self.restart(now, 'reset')
        elif s == 'plug' and self.spells.step(now) and self.often(1.5):
            self.restart(now, 'power', hang=dice.uniform(0.02, 0.5))
        elif s == 'transmitter':
            if self.often(self.wait_s):
                self.tx_dead_until = now + dice.uniform(0.6, 2.0)
                self.seq, self.tboot = 0, self.tboot % 199 + 1
        elif s == 'pauses' and now >= self.next_s:
            self.pause_until = now + dice.uniform(0.25, 0.45)
            self.next_s += self.every_s
        elif s == 'pauses_random' and now > self.pause_until and self.often(self.wait_s):
            self.pause_until = now + dice.uniform(0.25, 1.2)
        elif s == 'stalls' and now > self.silent_until and self.often(self.wait_s):
            self.silent_until = now + dice.uniform(0.3, 1.2)
        elif s == 'interference':
            on = self.spells.step(now)
            self.noise_p = 0.5 if on else 0.0
            return 0.5 if on else 0
        elif s == 'beacon':
            return 0.9 if now % 0.1024 < self.window_s else 0
        elif s == 'hop':
            return 0.85 if self.sent % self.hop == 3 else 0
        elif s == 'drift':
            self.fading.margin -= self.falls_db_s * self.dt
        elif s == 'battery':
            return min(0.5, max(0, -self.drift * now - 60) / 3000)
        elif s == 'heading':
            if now >= self.next_turn_s:
                self.turn, self.next_turn_s = self.turn + 1, now + dice.uniform(8, 15)
                self.say(now, ('facing', self.headings[self.turn % 4]))
        elif s == 'near':
            self.walk(now)
            return 0.5 * math.exp(-self.metres / self.reach_m) if self.mark == 'stop' else 0
        elif s == 'body':
            self.fading.margin += ((4 if self.spells.step(now) else 28) - self.fading.margin) * self.dt / 0.4
        return 0

    # --- the receiver ---------------------------------------------------------------------------------

    def boot_state(self):
        self.n = self.got = self.lost = self.fsn = self.reinit = 0
        self.boot_s, self.last_s, self.failsafe = 0.0, None, True
        self.pat, self.gap_ms, self.heard, self.looks, self.hits, self.noise_looks = '', 0, 0, 0, 0, 0
        self.low_mv, self.reg, self.noise_p = 99999, 'ok', 0.0
        self.have_seq, self.seen_seq = False, 0

    def restart(self, now, cause, hang=0.0):
        self.restart_cause = cause
        self.dead_until = now + hang + self.dice.uniform(0.05, 1.2)

    def forget(self, now, away_s):
        self.deaf_until = max(self.deaf_until, now + away_s)
        self.reg, self.reinit = 'default', self.reinit + 1

    def say(self, now, text):
        self.lines.append((now, text))

    def boot(self, now):
        self.boot_state()
        self.boot_s = now - 0.02
        self.say(now, f'boot cause={self.restart_cause}')
        self.identify(now)
        self.restart_cause = None
        self.kick = max(self.kick, self.dice.uniform(100, 400))  # servos leap

    def identify(self, now):
        hop = f' hop={self.hop}' if self.hop else ''
        self.say(now, f'id end=rx rate={self.rate:g} chans={len(self.sticks)} unit=us seqmod={self.seqmod} mhz=2476 '
                      f'kbps={self.kbps} ack={self.ack}{hop}')

    def take(self, now, seq, tboot):
        """A packet came."""
        if self.have_seq and tboot == self.seen_tboot:
            missing = (seq - self.seen_seq) % self.seqmod - 1
            self.lost += missing
            self.pat += 'x' * missing
        self.have_seq, self.seen_seq, self.seen_tboot = True, seq, tboot
        self.got += 1
        self.pat += 'o'
        if self.last_s is not None:
            self.gap_ms = max(self.gap_ms, round(1000 * (now - self.last_s)))
        jump = sum(abs(s.at - o) for s, o in zip(self.sticks, self.outputs))
        if jump > 150:  # outputs catch up
            self.kick = max(self.kick, self.dice.uniform(0.3, 1) * self.sag)
        self.outputs = [s.shown() for s in self.sticks]
        self.last_s, self.failsafe = now, False

    def supply(self, now, moved):
        busy = sum(1 for m in moved if m / self.dt > 150)
        if busy and self.dice.random() < 0.5:
            self.kick = max(self.kick, self.sag * self.dice.uniform(0.3, 1) * math.sqrt(busy))
        mv = self.base_mv + self.drift * now + self.dice.gauss(0, 6)
        self.mv = mv - 0.3 * self.kick
        self.low_mv = min(self.low_mv, mv - self.kick - abs(self.dice.gauss(0, 12)))
        self.kick *= 0.5 if self.kick > 5 else 0

    def report(self, now):
        age = None if self.last_s is None else int(1000 * (now - self.last_s))
        if age is not None and age > 500 and not self.failsafe:
            self.failsafe, self.fsn = True, self.fsn + 1
        if self.failsafe:
            self.outputs = [round(s.rest + self.dice.gauss(0, 0.3)) for s in self.sticks]
        self.n += 1
        ch = ','.join(map(str, self.outputs))
        pairs = [('n', self.n), ('t', int(1000 * (now - self.boot_s))), ('ch', ch)]
        if self.have_seq:
            pairs.append(('seq', self.seen_seq))
        pairs += [('got', self.got), ('lost', self.lost)]
        if self.pat:
            pairs.append(('pat', self.pat[-64:]))
        if age is not None:
            pairs += [('age', age), ('gap', max(self.gap_ms, age))]
        pairs += [('fs', int(self.failsafe)), ('fsn', self.fsn), ('mv', round(self.mv)), ('mvmin', round(self.low_mv)),
                  ('reg', self.reg), ('reinit', self.reinit)]
        if self.looks:
            pairs.append(('heard', f'{self.heard}/{self.looks}'))
        if self.rssi and self.have_seq:
            pairs.append(('rssi', self.dbm))
        pairs.append(('noise', f'{self.hits}/{self.noise_looks}'))
        if self.have_seq:
            pairs += [('tmv', round(self.tmv + self.dice.gauss(0, 5))), ('tboot', self.seen_tboot)]
        self.pat, self.gap_ms, self.heard, self.looks, self.hits, self.noise_looks = '', 0, 0, 0, 0, 0
        self.low_mv, self.reg = 99999, 'ok'
        if self.dice.random() >= self.lines_lost:
            self.say(now, pairs)

    def packet(self, now, moved):
        """What becomes of the packet that is due now."""
        dice = self.dice
        trouble = self.disturb(now, moved)
        if self.walks and self.situation != 'near':
            self.walk(now)
        if self.walks and self.situation != 'strolled':
            shade = self.shade_db if self.situation == 'heading' and self.turn % 4 == self.bad else 0
            self.fading.margin = self.level - shade - SENSITIVITY_DBM[self.kbps]
        sends = now >= self.pause_until and now >= self.tx_dead_until
        margin = self.fading.step()
        if sends:
            self.sent += 1
            self.seq = (self.seq + 1) % self.seqmod
        listens = now >= self.dead_until and now >= self.deaf_until and now >= self.silent_until
        if not listens:
            return
        whole = dice.random() * 1.2 < 1 / (1 + math.exp(-2 * margin)) * 1.2 and dice.random() >= trouble
        if sends and self.situation == 'retries' and dice.random() < 0.35:
            self.seq = (self.seq - 1) % self.seqmod  # the transmitter still repeats the one before
            return
        if self.situation.startswith('stranger') and self.spells.step(now):
            self.noise_p = 0.3 if self.situation == 'stranger_noisy' else 0.0
            if dice.random() < 0.5:
                self.other_seq = (getattr(self, 'other_seq', 7) + 1) % self.seqmod
                self.take(now, self.other_seq, self.tboot_other)
                return
            whole = whole and dice.random() < 0.7
        elif self.situation == 'stranger_noisy':
            self.noise_p = 0.0
        if sends and whole:
            self.take(now, self.seq, self.tboot)
        self.looks += 1
        if self.situation == 'strolled':
            margin += self.level - SENSITIVITY_DBM[self.kbps] - self.fading.margin
        self.heard += sends and margin > self.heard_db
        self.dbm = round(SENSITIVITY_DBM[self.kbps] + margin)
        for _ in range(2):
            self.noise_looks += 1
            self.hits += dice.random() < self.noise_p + 0.0005

    def play(self, seconds):
        self.sent, self.mv, self.seen_tboot = 0, self.base_mv, self.tboot
        self.restart_cause = 'power'
        self.boot(0.0)
        now, report_s = 0.0, self.report_ms / 1000
        next_report, next_id, was = report_s, 5.0, False
        while now < seconds:
            now += self.dt
            moved = [s.step(now, self.dt) for s in self.sticks]
            if moved[0] > 0 and not was and self.dice.random() < self.together:
                self.sticks[1].force = True
            was = moved[0] > 0
            self.supply(now, moved)
            while self.restart_cause is None and next_report <= now:
                if next_report >= self.silent_until:
                    self.report(next_report)
                next_report += report_s
            self.packet(now, moved)
            if self.restart_cause is not None:
                if now < self.dead_until:
                    continue
                self.boot(now)
                next_report = now + report_s
            if now >= next_id and now >= self.silent_until:
                self.identify(now)
                next_id += 5.0
        self.times, self.texts = [at for at, _ in self.lines], {}
        return self

    def text(self, keys, seconds):
        """The lines of the first seconds with a key set's keys, as a raw capture; a walk as a recording, for its
        marks."""
        if keys not in self.texts:
            row = self.row if self.walks else lambda _, line, keys: self.line(line, keys)
            self.texts[keys] = [row(at, line, keys) for at, line in self.lines]
        head = ','.join(name for name, _ in COLUMNS) + '\r\n' if self.walks else ''
        return head + ''.join(self.texts[keys][:bisect.bisect_right(self.times, seconds)])

    def plain(self, keys, seconds):
        """The same without checksums."""
        lines = (self.line(line, keys) for at, line in self.lines if at <= seconds)
        return ''.join(line.rsplit(' *', 1)[0] + '\n' if keys == 'all' else line for line in lines)

    @staticmethod
    def row(at, line, keys):
        """A row of a recording."""
        told = {'host_us': round(at * 1e6)}
        if isinstance(line, tuple):
            what, value = line
            told |= {'kind': 'mark', 'note': f'facing={value}' if what == 'facing' else what}
            if what == 'stop':
                told['distance_m'] = value
        elif isinstance(line, str):
            told['kind'], _, told['note'] = line.partition(' ')
            if keys == 'few' and told['kind'] == 'boot':
                told['note'] = ''
        else:
            told['kind'] = 'rx'
            wanted, pairs = KEY_SETS[keys], dict(line)
            for name, key in COLUMNS:
                if key in pairs and (wanted is None or key in wanted):
                    told[name] = pairs[key]
            for key in ('heard', 'noise'):
                if f'{key}_hits' in told:
                    told[f'{key}_hits'], told[f'{key}_looks'] = pairs[key].split('/')
            for i, value in enumerate(pairs['ch'].split(','), 1):
                told[f'ch{i}'] = value
            for i in range(len(pairs['ch'].split(',')) + 1, 17):
                told.pop(f'ch{i}', None)
        return ','.join(str(told.get(name, '')) for name, _ in COLUMNS) + '\r\n'

    @staticmethod
    def line(line, keys):
        wanted = KEY_SETS[keys]
        if not isinstance(line, str):
            line = 'rx ' + ' '.join(f'{k}={v}' for k, v in line if wanted is None or k in wanted)
        elif keys == 'few' and line.startswith('boot'):
            line = 'boot'
        return f'{line} *{binascii.crc_hqx(line.encode(), 0xFFFF):04X}\n' if keys == 'all' else line + '\n'


SITUATIONS = sorted(name[6:] for name in dir(Run) if name.startswith('begin_') and
                    name not in ('begin_clean', 'begin_strolled', 'begin_walk'))
