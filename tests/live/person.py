"""The console in a pseudo-terminal, and an honest person before it.

The person reads the steps where the console writes them (rows of the kind trial in the recording,
airleash-recording(5)), acts 0.4 to 1.5 s later, and answers by what motors and servos really do,
never by what the lines say.
"""
import fcntl
import os
import pty
import re
import select
import signal
import struct
import termios
import time

ROWS, COLUMNS = 40, 100
SEQUENCE = re.compile(rb"\x1b\[([?>]?)([\d;]*)([@-~])|\x1b[()][A-Z0-9]|\x1b\][^\x07]*\x07"
                      rb"|\x1b[@-Z\\-_78=>]")


class Screen:
    """As much of a VT102 as ncurses needs to draw a page anew on TERM=xterm."""

    def __init__(self):
        self.cells = [[" "] * COLUMNS for _ in range(ROWS)]
        self.row = self.column = self.top = 0
        self.bottom, self.last = ROWS, " "

    def text(self):
        return "\n".join("".join(row).rstrip() for row in self.cells)

    def feed(self, data):
        at = 0
        for match in SEQUENCE.finditer(data):
            self.print(data[at:match.start()])
            at = match.end()
            if match[3] is not None and match[1] == b"":
                numbers = [int(n) if n else 0 for n in match[2].split(b";")]
                self.control(match[3].decode(), numbers)
        self.print(data[at:])

    def print(self, data):
        for char in data.decode("utf-8", "replace"):
            if char == "\r":
                self.column = 0
            elif char == "\n":
                self.line_down()
            elif char == "\b":
                self.column = max(0, self.column - 1)
            elif char >= " ":
                self.put(char)

    def line_down(self):
        if self.row == self.bottom - 1:
            self.shift(self.top, 1)
        else:
            self.row = min(ROWS - 1, self.row + 1)

    def shift(self, top, count):
        """Rows from `top` to the end of the scrolling region move up; down for a count below 0."""
        rows = self.cells[top:self.bottom]
        blank = [[" "] * COLUMNS for _ in range(min(abs(count), len(rows)))]
        self.cells[top:self.bottom] = (rows[count:] + blank if count > 0 else
                                       blank + rows[:len(rows) - len(blank)])

    def put(self, char):
        if self.column >= COLUMNS:
            self.row, self.column = min(ROWS - 1, self.row + 1), 0
        self.cells[self.row][self.column] = self.last = char
        self.column += 1

    def control(self, what, numbers):
        first = numbers[0]
        count = max(1, first)
        if what in "Hf":
            self.row = min(ROWS, count) - 1
            self.column = min(COLUMNS, max(1, (numbers + [1])[1])) - 1
        elif what == "d":
            self.row = min(ROWS, count) - 1
        elif what == "G":
            self.column = min(COLUMNS, count) - 1
        elif what in "ABCD":
            down, right = {"A": (-1, 0), "B": (1, 0), "C": (0, 1), "D": (0, -1)}[what]
            self.row = min(ROWS - 1, max(0, self.row + down * count))
            self.column = min(COLUMNS - 1, max(0, self.column + right * count))
        elif what == "J" and first in (0, 2):
            self.erase(0 if first == 2 else self.row, ROWS)
        elif what == "K":
            begin = self.column if first == 0 else 0
            end = self.column + 1 if first == 1 else COLUMNS
            self.cells[self.row][begin:end] = [" "] * (end - begin)
        elif what == "X":
            end = min(COLUMNS, self.column + count)
            self.cells[self.row][self.column:end] = [" "] * (end - self.column)
        elif what in "P@":
            row = self.cells[self.row]
            if what == "P":
                row[self.column:] = (row[self.column + count:]
                                     + [" "] * min(count, COLUMNS - self.column))
            else:
                row[self.column:] = ([" "] * count + row[self.column:])[:COLUMNS - self.column]
        elif what in "LMST":
            self.shift(self.row if what in "LM" else self.top, count if what in "MS" else -count)
        elif what == "r":
            self.top, self.bottom = count - 1, (numbers + [0])[1] or ROWS
            self.row = self.column = 0
        elif what == "b":
            for _ in range(count):
                self.put(self.last)

    def erase(self, begin, end):
        if begin == self.row:
            self.cells[begin][self.column:] = [" "] * (COLUMNS - self.column)
            begin += 1
        for row in range(begin, end):
            self.cells[row] = [" "] * COLUMNS


class Port:
    """A pseudo-terminal in the place of the serial port."""

    def __init__(self):
        self.master, slave = os.openpty()
        self.name = os.ttyname(slave)
        mode = termios.tcgetattr(slave)
        mode[3] &= ~(termios.ECHO | termios.ICANON)
        termios.tcsetattr(slave, termios.TCSANOW, mode)
        os.close(slave)
        os.set_blocking(self.master, False)

    def write(self, data):
        """Nobody there, or a full buffer: the bytes are lost, as on a wire."""
        try:
            return os.write(self.master, data) == len(data)
        except OSError:
            return False

    def close(self):
        os.close(self.master)


class Console:
    """`airleash watch` in a terminal. What it draws is kept since the last look only."""

    def __init__(self, program, port, arguments, folder):
        self.pid, self.terminal = pty.fork()
        if self.pid == 0:
            os.chdir(folder)
            keep = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "LC_ALL", "LANG")}
            os.execve(program, [program, "watch", port, *arguments],
                      keep | {"TERM": "xterm", "LC_ALL": "C.UTF-8", "LINES": str(ROWS),
                              "COLUMNS": str(COLUMNS)})
        fcntl.ioctl(self.terminal, termios.TIOCSWINSZ, struct.pack("4H", ROWS, COLUMNS, 0, 0))
        os.set_blocking(self.terminal, False)
        self.drawn, self.keeps, self.ended = b"", True, False

    def pump(self, timeout):
        """Waits for at most so long, reading what is drawn."""
        ready, _, _ = select.select([self.terminal], [], [], max(0, timeout))
        if ready:
            try:
                data = os.read(self.terminal, 1 << 16)
            except OSError:
                data = b""
            self.ended = self.ended or not data
            if self.keeps:
                self.drawn += data

    def press(self, keys):
        try:
            os.write(self.terminal, keys.encode())
        except OSError:
            self.ended = True

    def begin_look(self):
        """Has the page drawn anew."""
        self.drawn, self.keeps = b"", True
        self.press("\x0c")

    def end_look(self):
        screen = Screen()
        screen.feed(self.drawn)
        self.drawn, self.keeps = b"", False
        return screen.text()

    def finish(self, seconds):
        """Waits for the end; kills after so long. Whether it ended by itself."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            if os.waitpid(self.pid, os.WNOHANG)[0]:
                return True
            self.pump(0.02)
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        return False


class Rows:
    """The notes of the trial's rows, as the recording grows."""

    def __init__(self, path):
        self.path, self.rest, self.file = path, b"", None

    def news(self):
        if self.file is None:
            if not os.path.exists(self.path):
                return []
            self.file = open(self.path, "rb")
        lines = (self.rest + self.file.read()).split(b"\n")
        self.rest = lines.pop()
        return [line.rstrip(b"\r").split(b",")[-1].decode() for line in lines
                if line.startswith(b"trial,")]


class Person:
    """Does what the steps of the failsafe trial say. `think` is called all the time; `log` keeps
    what happened, `screens` what stood on the screen at each step."""
    PATIENCE_S = 40      # a step that doesn't move on
    LONG_S = 70 + 25     # the long switch-off
    MEMORY_S = 2.5       # "stand still now": a twitch so long ago still counts
    SKIPPED = ("reset", "cold", "start", "pull", "fade")
    OFF = ("off", "stay", "long", "stopped", "servos", "reset", "cold")

    def __init__(self, world, console, rows, rng):
        self.world, self.console, self.rows, self.rng = world, console, rows, rng
        # Where a motor runs on, the screen says: transmitter on, stick down. Some do so at once,
        # some wait for the question.
        self.ends_a_run = rng.random() < 0.5
        self.step, self.since, self.done, self.over = None, 0.0, False, False
        self.todo = []          # (when, function)
        self.log, self.screens, self.pressed_at, self.tries = [], [], 0.0, 0
        self.looking_until, self.then = None, None
        self.times = {}         # how often each step came
        self.at_step = None     # called with a step's name and which time it is
        self.no = 0             # answers of n
        self.todo.append((rng.uniform(0.8, 1.5), lambda at: self.look(at, self.open)))

    # --- before the trial

    def open(self, text, now):
        """The opening's caution, where it is shown; then the list of trials, and the first one."""
        if re.search(r"\by\b", text.splitlines()[-1]) or "y yes" in text:
            self.console.press("y")
        self.screens.append((now, "opening", text))
        self.todo.append((now + self.rng.uniform(2.5, 4), lambda at: self.console.press("v")))
        self.todo.append((now + 5, lambda at: self.console.press("1")))

    # --- the loop

    def think(self, now):
        for note in self.rows.news():
            self.hear(note.removeprefix("failsafe "), now)
        if self.looking_until is not None and now >= self.looking_until:
            self.looking_until, then = None, self.then
            then(self.console.end_look(), now)
        for entry in [e for e in self.todo if e[0] <= now]:
            self.todo.remove(entry)
            entry[1](now)
        if self.step is not None and not self.over:
            self.mind_the_motor(now)
            self.grow_impatient(now)

    def later(self, now, what, least=0.4, most=1.5):
        """After a person's reaction time, if the step is still the same."""
        step = (self.step, self.since)

        def act(then):
            if (self.step, self.since) == step and not self.over:
                what(then)
        self.todo.append((now + self.rng.uniform(least, most), act))

    def look(self, now, then):
        """Has `then` called with the screen's text; after the look that is under way."""
        if self.looking_until is None:
            self.console.begin_look()
            self.looking_until, self.then = now + 0.45, then
        else:
            self.todo.append((self.looking_until + 0.01, lambda at: self.look(at, then)))

    def note(self, now, text):
        self.log.append(f"{now:7.2f} {text}")

    def hear(self, note, now):
        self.note(now, note)
        if note == "begin":  # the first step begins with the trial
            self.begin_step("caution", now)
        elif note.startswith("step="):
            self.begin_step(note.removeprefix("step="), now)
        elif note in ("end", "quit"):
            self.over = True
            self.todo.append((now + 1.0, lambda at: self.look(at, self.keep_outcome)))
            self.todo.append((now + 2.5, self.leave))

    def begin_step(self, step, now):
        self.step, self.since, self.tries, self.pressed_at = step, now, 0, now
        self.times[step] = self.times.get(step, 0) + 1
        if self.at_step is not None:
            self.at_step(step, self.times[step], now)
        self.look(now, lambda text, at: self.keep_screen(text, at, step))
        act = getattr(self, "do_" + step, None)
        if step in self.SKIPPED:
            act = self.skip
        if act is not None:
            self.later(now, act)

    def keep_screen(self, text, now, step):
        self.screens.append((now, step, text))

    def keep_outcome(self, text, now):
        self.screens.append((now, "outcome", text))

    # --- what stands in the way

    def mind_the_motor(self, now):
        """A motor that runs on with the transmitter off."""
        world = self.world
        if self.ends_a_run and self.step in self.OFF and not world.transmitter.on and any(
                motor.turns() and now - max(motor.began_turning_at, world.switched_off_at) > 4
                for motor in world.motors.values()):
            self.note(now, "the motor runs on: transmitter on, stick down")
            world.switch_transmitter(True, now)
            self.pull_throttles(now)

    def grow_impatient(self, now):
        patience = self.LONG_S if self.step == "long" else self.PATIENCE_S
        if now - self.since < patience or now - self.pressed_at < 4:
            return
        self.pressed_at = now
        self.tries += 1
        key = "\r" if self.tries % 2 else "k"
        self.note(now, f"'{self.step}' doesn't move on: presses {'Enter' if key != 'k' else key}")
        self.console.press(key)
        self.look_again(now)

    def look_again(self, now):
        """What a key led to, where the step is still the same a second later."""
        step = (self.step, self.since)

        def act(at):
            if (self.step, self.since) == step and not self.over:
                self.look(at, lambda text, then: self.confirm(text, then, step))
        self.todo.append((now + 1.0, act))

    def confirm(self, text, now, step):
        """A question in the last rows that wants y."""
        self.screens.append((now, f"{self.step}, after a key", text))
        if (self.step, self.since) != step:
            return
        if re.search(r"\by\b.*\b(yes|go on)\b|\(y/n\)|\by/n\b", "\n".join(text.splitlines()[-3:])):
            self.console.press("y")
            self.note(now, "confirms with y")

    def skip(self, now):
        self.console.press("k")
        self.pressed_at = now
        self.look_again(now)

    # --- the steps

    def answer(self, yes, now):
        self.note(now, f"answers {'y' if yes else 'n'} to '{self.step}'")
        self.no += not yes
        self.console.press("y" if yes else "n")

    def do_caution(self, now):
        self.answer(True, now)

    def do_which(self, now):
        self.console.press(str(self.world.plan.motors[0] + 1))

    def pull_throttles(self, now):
        plan = self.world.plan
        for i in plan.motors:
            if i < plan.channels:
                stick = self.world.transmitter.sticks[i]
                stick.move(plan.rest[i], now, self.rng.uniform(0.25, 0.8))

    def do_low(self, now):
        self.pull_throttles(now)

    def do_lower(self, now):
        self.pull_throttles(now)
        self.later(now, self.do_on, 8, 9)

    def do_still(self, now):
        """Looks until it is clear: a motor that slows down is waited for, a twitch remembered."""
        if self.world.motor_slows() and now - self.since < 6:
            self.later(now, self.do_still, 0.3, 0.5)
            return
        twitched = self.world.began_turning_since(now - self.MEMORY_S)
        self.answer(self.world.motors_still() and not twitched, now)

    def do_raise(self, now):
        plan, world = self.world.plan, self.world
        for i in range(plan.channels):
            stick = world.transmitter.sticks[i]
            if i in plan.motors:
                goal = plan.rest[i] + self.rng.uniform(0.45, 0.6) * (plan.full[i] - plan.rest[i])
            else:
                middle, half = (plan.low + plan.high) / 2, plan.travel() / 2
                goal = middle + self.rng.choice((-1, 1)) * self.rng.uniform(0.35, 0.8) * half
            stick.move(goal, now, self.rng.uniform(0.3, 0.9))
        self.later(now, self.do_on, 8, 9)  # it dawns on a person that nothing can move without it

    def do_runs(self, now):
        self.later(now, lambda at: self.answer(self.world.motors_all_turn(), at), 0.3, 0.6)

    def do_off(self, now):
        self.world.switch_transmitter(False, now)
        self.note(now, "switches the transmitter off")

    def do_stopped(self, now):
        """As for `still`; where the screen asks about the time, whoever listens hears the power go
        off, and takes up to 1.9 s for about one. A motor may coast after that."""
        asked = self.text()
        if asked is None and now - self.since < 3:
            self.later(now, self.do_stopped, 0.3, 0.4)
        elif "about a second" in (asked or "") and not self.world.cut_within(
                self.rng.uniform(1.4, 1.9)):
            self.answer(False, now)
        else:
            self.do_still(now)

    def text(self):
        """What the screen says at this step; None where nobody has looked yet."""
        texts = [text for when, step, text in self.screens
                 if step == self.step and when >= self.since]
        return texts[-1] if texts else None

    def do_servos(self, now):
        self.later(now, lambda at: self.answer(self.world.servos_as_shown(), at), 0.8, 1.5)

    def do_on(self, now):
        if not self.world.transmitter.on:
            self.world.switch_transmitter(True, now)
            self.note(now, "switches the transmitter on")

    def do_quiet(self, now):
        self.answer(not self.world.turned_since(self.world.switched_on_at or 0), now)

    # --- the end

    def leave(self, now):
        self.console.press("q")
        self.todo.append((now + 1.0, self.leave_for_good))

    def leave_for_good(self, now):
        self.console.press("q")
        self.todo.append((now + 1.0, lambda at: self.look(at, self.confirm_leaving)))

    def confirm_leaving(self, text, now):
        self.screens.append((now, "leaving", text))
        self.console.press("y")
        self.done = True
