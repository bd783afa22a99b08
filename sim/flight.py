"""One flight: a table of phases interpreted frame by frame, sticks and pilot included, and written to a record."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim import layout as L
from sim import phases as P
from sim import pilot as H
from sim.build import Plane
from sim.compiled import kernel
from sim.equations_of_motion import derivatives
from sim.frames import G, body_to_earth
from sim.integration import FRAME, leave_frame
from sim.pilot import path_error, pointing_error
from sim.recording import INDEX, ROW, STATE_AT, fill_channels, keep, turn_on
from sim.single_precision import use_single_precision
from sim.transmitter import (
    EXPONENTIAL,
    LINK_FRAMES,
    MODE,
    RATE,
    SWITCH_TIME,
    read_sticks,
    select,
    shaped,
    through_link,
    transmit,
    unshaped,
)

COMPLETED, HIT_GROUND, DIVERGED, TIMED_OUT, LOST = range(5)
GOES_ON = -1
ENDINGS = ("completed", "hit the ground", "diverged", "phase timed out", "lost control")
LOST_ANGLE, LOST_TIME = 1.2, 3.0  # rad off what the pilot aims at, for longer than so many s: he has lost the plane
MOST_RATE, MOST_SPEED = 150.0, 250.0  # rad/s, m/s: beyond any flight, so diverged

_HEIGHT, _AIRSPEED, _TRACK = INDEX["height"], INDEX["airspeed"], INDEX["track"]
_CLIMB, _HEADING, _BANK = INDEX["climb rate"], INDEX["heading"], INDEX["bank"]
_PITCH, _PATH = INDEX["pitch"], INDEX["path angle"]
TRIM_WITHIN = 0.25  # rad: a larger error is trimmed out no faster
HEIGHT_TIME = 7.0  # s over which a height error is flown off: several times slower than the path itself is steered
SPEED_TO_PITCH = 0.04  # rad of pitch for a m/s of airspeed, where a stick holds the speed
PLACE_SPEED, PLACE = 1.6, 0.35  # 1/s and 1/s2: hover drift and place, as tilt times g
MOST_TILT, MOST_CLIMB = 0.3, 0.35  # rad
STEEP = 1.2  # rad of climb from which bank is told by the wings' direction


@dataclass
class Flight:
    """A flown flight: `rows` (frames, recording.ROW), `phase_start` frame index of each phase (-1: not reached),
    `ending` one of ENDINGS, `phase` in which it ended, `bad` the first bad quantity when diverged."""

    rows: np.ndarray
    phase_start: np.ndarray
    ending: str
    phase: int
    bad: str

    def channel(self, name: str) -> np.ndarray:
        """One channel over time, shape (frames,)."""
        return self.rows[:, INDEX[name]]

    def frames_of(self, phase: int) -> slice:
        """The frames of a phase; empty when it was not reached."""
        start = int(self.phase_start[phase])
        if start < 0:
            return slice(0, 0)
        later = [int(s) for s in self.phase_start[phase + 1 :] if s >= 0]
        return slice(start, later[0] if later else len(self.rows))


@kernel
def _wrap(angle):
    return angle - 2.0 * math.pi * math.floor((angle + math.pi) / (2.0 * math.pi))


@kernel
def _toward(now, goal, step):
    return now + min(step, max(-step, goal - now))


@kernel
def _met(row, phase):
    """Whether the phase's end conditions are met: any or all of them."""
    any_met, all_met = False, True
    for i in range(P.MOST_CONDITIONS):
        at = P.CONDITIONS + 3 * i
        if phase[at + 1] != 0.0:
            met = (row[int(phase[at])] - phase[at + 2]) * phase[at + 1] >= 0.0
            any_met = any_met or met
            all_met = all_met and met
    return any_met if phase[P.JOIN] == 1.0 else all_met


@kernel
def _dead(error, band):
    """An error as the pilot sees it: nothing below `band`."""
    return error - min(band, max(-band, error))


@kernel
def _scheduled(mode, start, value, time, first, last, limit, now):
    """Where a scheduled stick stands `now` s into its phase."""
    if mode == P.MOVE:
        share = min(1.0, now / time) if time > 0.0 else 1.0
        return start + share * (value - start)
    if mode == P.DOUBLET:
        return start + (value if now < time else -value if now < 2.0 * time else 0.0)
    # a sweep: the frequency grows by the same factor each second
    growth = math.log(last / first) / limit
    turned = first * now if abs(growth) < 1e-9 else first * (math.exp(growth * now) - 1.0) / growth
    return start + value * math.sin(2.0 * math.pi * turned)


@kernel
def ended_by(x):
    """What the state `x` ends a flight by: the ground or divergence, else GOES_ON; and the index of what is bad."""
    for i in range(L.STATE):
        if not math.isfinite(x[i]):
            return DIVERGED, i
    for i in range(3):
        if abs(x[L.RATES + i]) > MOST_RATE:
            return DIVERGED, L.RATES + i
        if abs(x[L.VELOCITY + i]) > MOST_SPEED:
            return DIVERGED, L.VELOCITY + i
    return (HIT_GROUND if x[L.POSITION + 2] >= 0.0 else GOES_ON), 0


@kernel
def interpret(x, sticks, phases, m, table, chain, pilot, steps, log, phase_start):
    """Fly `x` through `phases`; fills `log` (rows) and `phase_start`; returns ending, rows written, phase, bad index.

    `sticks` (4,) are where the sticks stand at the start; `steps` per frame, 0 chooses.
    `bad` is the index of the first state that was not finite or out of all bounds.
    """
    n_phases = phases.shape[0]
    command = np.zeros(L.COMMAND)
    k = np.zeros((4, L.STATE))
    dx = k[0]  # what is evaluated for the record is the first stage of the step
    stage = np.zeros(L.STATE)
    r = np.zeros(9)
    waiting = np.zeros((H.DELAY_FRAMES, 4))  # demands on their way from eye to hand
    demand = np.zeros(4)
    effect = np.zeros(3)
    trimmed = np.zeros(4)  # what the pilot has trimmed out, per stick
    target = np.zeros(3)  # bank, pitch, heading now aimed at
    lead_in = np.zeros(3)
    from_stick = np.zeros(4)
    turned = np.zeros(3)  # about body x, body y and the vertical, since the phase began
    held = False  # the pilot was aiming in the phase before
    lost = 0.0  # s that he has been far off
    wanted_command = np.zeros(L.COMMAND)  # what the transmitter sends, before the link
    from_before = np.zeros(L.COMMAND)  # what a switch of modes has changed, and brings in evenly
    sent = np.zeros((LINK_FRAMES, L.COMMAND))
    read = np.zeros(4)
    switched, switch_time = 0, 0.0
    read_sticks(sticks, chain, read)
    transmit(read, chain, wanted_command)
    for i in range(LINK_FRAMES):  # the sticks have stood there for long
        through_link(wanted_command, sent, i, FRAME, chain, command)
    derivatives(x, command, m, table, dx)
    fill_channels(x, sticks, dx, m, 0.0, 0.0, log[0])
    target[0], target[1], target[2] = log[0, _BANK], log[0, _PITCH], log[0, _HEADING]
    home = target[2]
    start_north, start_east, start_height = x[0], x[1], -x[2]
    track = log[0, _TRACK]
    for axis in range(3):
        effect[axis] = shaped(sticks[axis], chain[EXPONENTIAL + axis])
        trimmed[axis] = effect[axis]
    trimmed[3] = sticks[3]
    drift = _wrap(home - track)  # the heading aimed at is, on a path, the track it would give
    delay = int(pilot[H.DELAY])
    frame = 0
    phase = 0
    began = 0
    phase_start[0] = 0
    goal = np.zeros(3)
    slew = 0.0
    fresh = True
    while True:
        row = log[frame]
        now = phases[phase]
        if fresh:
            for i in range(4):
                from_stick[i] = sticks[i]
            for i in range(3):
                turned[i] = 0.0
            lost = 0.0
            other_mode = now[P.FLIGHT_MODE] != chain[MODE]
            other_rates = False
            for axis in range(3):
                other_rates = other_rates or now[P.RATES + axis] != chain[RATE + axis]
            if other_mode or other_rates:
                select(chain, now[P.FLIGHT_MODE], now[P.RATES], now[P.RATES + 1], now[P.RATES + 2])
                for axis in range(3):  # the sticks stand where they stood
                    own = shaped(sticks[axis], chain[EXPONENTIAL + axis])
                    if abs(own - effect[axis]) > 1e-5:  # beyond what `unshaped` leaves
                        effect[axis] = own
            if other_mode:
                for i in range(L.COMMAND):
                    from_before[i] = wanted_command[i]
                read_sticks(sticks, chain, read)
                transmit(read, chain, wanted_command)
                for i in range(L.COMMAND):
                    from_before[i] -= wanted_command[i]
                switched, switch_time = frame, chain[SWITCH_TIME]
            aims = False
            for axis in range(3):
                aims = aims or now[P.STICKS + P.STICK_COLUMNS * axis] == P.PILOT
            if aims and not held and phase > 0:  # he takes over from where the plane is
                target[0], target[2] = row[_BANK], row[_HEADING]
                target[1] = row[_PATH] if now[P.PATH] == 2.0 else row[_PITCH]
            held = aims
            if now[P.AIM] > 0.5:
                goal[0], goal[1], goal[2] = now[P.BANK], now[P.PITCH], home + now[P.HEADING]
                slew = now[P.SLEW]
            if now[P.PATH] == 1.0 or now[P.PATH] == 3.0 or now[P.THROTTLE] == P.HOLD_HEIGHT:
                start_north, start_east = x[0], x[1]
                start_height = -x[2]
            fresh = False

        # ---- what the pilot wants: computed every frame, acted on after the delay -----------------
        old0, old1 = target[0], target[1]
        target[0] = _toward(target[0], goal[0], slew * FRAME)
        target[1] = _toward(target[1], goal[1], slew * FRAME)
        target[2] = _toward(target[2], goal[2], slew * FRAME)
        bank_rate, pitch_rate = (target[0] - old0) / FRAME, (target[1] - old1) / FRAME
        if now[P.PATH] == 1.0:  # the climb comes from the height, not from the pitch aimed at
            pitch_rate = 0.0
        speed = max(row[_AIRSPEED], 3.0)
        r[0], r[1], r[2], r[3], r[4], r[5], r[6], r[7], r[8] = body_to_earth(
            x[L.QUATERNION], x[L.QUATERNION + 1], x[L.QUATERNION + 2], x[L.QUATERNION + 3]
        )
        cb, sb = math.cos(target[0]), math.sin(target[0])
        on_path = now[P.PATH] == 1.0 or now[P.PATH] == 2.0
        if on_path:  # steer the flight path itself
            climb = target[1]
            if now[P.PATH] == 1.0:
                climb = min(MOST_CLIMB, max(-MOST_CLIMB, (start_height - row[_HEIGHT]) / (HEIGHT_TIME * speed)))
            course = target[2] - drift
            ex, ey, ez = path_error(r, dx[0], dx[1], dx[2], climb, course)
            if abs(climb) < STEEP:
                ex = _wrap(target[0] - row[_BANK])
            else:  # bank means nothing on a vertical: the wings are told by the direction they point in
                sp, ch, sh = math.sin(climb), math.cos(course), math.sin(course)
                yx, yy, yz = sb * sp * ch - cb * sh, sb * sp * sh + cb * ch, sb * math.cos(climb)
                ex = pointing_error(r, r[0], r[3], r[6], yx, yy, yz)[0]
        else:
            cp, sp = math.cos(target[1]), math.sin(target[1])
            ch, sh = math.cos(target[2]), math.sin(target[2])
            nx, ny, nz = cp * ch, cp * sh, -sp
            yx, yy, yz = sb * sp * ch - cb * sh, sb * sp * sh + cb * ch, sb * cp
            if now[P.PATH] == 3.0:
                tilt_n = -(PLACE_SPEED * dx[0] + PLACE * (x[0] - start_north)) / G
                tilt_e = -(PLACE_SPEED * dx[1] + PLACE * (x[1] - start_east)) / G
                cut = min(1.0, MOST_TILT / (math.sqrt(tilt_n * tilt_n + tilt_e * tilt_e) + 1e-9))
                nx, ny, nz = tilt_n * cut, tilt_e * cut, -1.0
            ex, ey, ez = pointing_error(r, nx, ny, nz, yx, yy, yz)
        scale = 1.0
        if pilot[H.REFERENCE_SPEED] > 0.0:
            scale = min(4.0, max(0.25, (pilot[H.REFERENCE_SPEED] / speed) ** 2))
        far = False
        for axis in range(3):
            at = P.STICKS + P.STICK_COLUMNS * axis
            mode = now[at]
            error = ex if axis == 0 else ey if axis == 1 else ez
            # a torque roll that no aileron stops loses nobody the hover
            far = far or (mode == P.PILOT and abs(error) > LOST_ANGLE and (axis > 0 or now[P.PATH] != 3.0))
            lead_rate = bank_rate if axis == 0 else pitch_rate * cb if axis == 1 else -pitch_rate * sb
            rate = x[L.RATES + axis] - lead_rate
            gain, integral = pilot[H.GAIN + axis] * scale, pilot[H.INTEGRAL + axis] * scale
            if (on_path and axis > 0 and mode == P.PILOT) or mode == P.HOLD_PATH or mode == P.STICK_HOLDS_HEIGHT:
                gain, integral = pilot[H.PATH_GAIN + axis] * scale, pilot[H.PATH_INTEGRAL + axis] * scale
            if mode >= P.HOLD_ANGLE:  # one channel with one stick
                sign, value = now[at + P.SIGN], now[at + P.VALUE]
                if sign >= P.VERTICAL:  # elevator acts along the canopy, rudder to the right
                    if (sign == P.VERTICAL) == (axis == 1):
                        sign = math.cos(row[_BANK])
                    else:
                        sign = math.sin(row[_BANK]) if axis == 1 else -math.sin(row[_BANK])
                    sign = min(1.0, max(-1.0, 1.5 * sign))
                seen_now = row[int(now[at + P.FIRST])]
                rate = x[L.RATES + axis]
                if mode == P.HOLD_RATE:  # effect per rad/s, the integral as fast as the hand can follow
                    gain = 0.5 / pilot[H.STEADY_RATE + axis] * scale
                    integral = 4.0 * gain
                    error, rate = sign * (value - seen_now), 0.0
                elif mode == P.HOLD_FLOW:  # alpha and sideslip follow the stick by themselves: mostly an integral
                    integral = 3.0 * gain
                    error = sign * (value - seen_now)
                elif mode == P.STICK_HOLDS_HEIGHT:
                    climb = (start_height - row[_HEIGHT]) / (HEIGHT_TIME * speed)
                    error = sign * (min(MOST_CLIMB, max(-MOST_CLIMB, climb)) - row[_PATH])
                elif mode == P.STICK_HOLDS_SPEED:
                    error = sign * SPEED_TO_PITCH * (value - row[_AIRSPEED])
                else:
                    error = sign * _wrap(value - seen_now)
                far = far or (mode == P.HOLD_ANGLE and abs(error) > LOST_ANGLE)
            error = _dead(error, pilot[H.DEAD_BAND])
            if (mode == P.PILOT or mode >= P.HOLD_ANGLE) and abs(effect[axis]) < 0.99:
                within = 4.0 * TRIM_WITHIN if mode == P.HOLD_RATE else TRIM_WITHIN
                limited = min(within, max(-within, error))
                trimmed[axis] += integral * limited * FRAME
                trimmed[axis] = min(1.0, max(-1.0, trimmed[axis]))
            demand[axis] = trimmed[axis] + gain * error - pilot[H.GAIN + axis] * scale * pilot[H.LEAD + axis] * rate
            lead_in[axis] = pilot[H.ANTICIPATION + axis] * scale * lead_rate  # rehearsed, so not delayed
        if now[P.THROTTLE] == P.HOLD_SPEED:
            wanted = 0.8 * (now[P.THROTTLE + 1] - row[_AIRSPEED])
        else:
            wanted = 0.35 * (start_height - row[_HEIGHT]) - 1.1 * row[_CLIMB]
        wanted *= pilot[H.THROTTLE_GAIN]
        if now[P.THROTTLE] == P.HOLD_SPEED or now[P.THROTTLE] == P.HOLD_HEIGHT:
            trimmed[3] = min(1.0, max(0.0, trimmed[3] + 0.3 * wanted * FRAME))
        demand[3] = trimmed[3] + wanted
        for i in range(4):
            waiting[frame % H.DELAY_FRAMES, i] = demand[i]

        # ---- sticks ------------------------------------------------------------------------------
        seen = waiting[max(frame - delay, 0) % H.DELAY_FRAMES]
        phase_time = (frame - began) * FRAME
        lost = lost + FRAME if far else 0.0
        for axis in range(3):
            at = P.STICKS + P.STICK_COLUMNS * axis
            mode = now[at]
            if mode == P.MOVE or mode == P.DOUBLET or mode == P.SWEEP:
                stick = _scheduled(
                    mode, from_stick[axis], now[at + P.VALUE], now[at + P.TIME], now[at + P.FIRST], now[at + P.LAST],
                    now[P.LIMIT], phase_time,
                )  # fmt: skip
                sticks[axis] = min(1.0, max(-1.0, stick))
                effect[axis] = shaped(sticks[axis], chain[EXPONENTIAL + axis])
                trimmed[axis] = effect[axis]
            elif mode == P.PILOT or mode >= P.HOLD_ANGLE:
                step = (seen[axis] + lead_in[axis] - effect[axis]) * FRAME / pilot[H.LAG]
                limit = pilot[H.STICK_SPEED] * FRAME
                effect[axis] += min(limit, max(-limit, step))
                effect[axis] = min(1.0, max(-1.0, effect[axis]))
                sticks[axis] = unshaped(effect[axis], chain[EXPONENTIAL + axis])
        at = P.THROTTLE
        if now[at] == P.MOVE:
            share = min(1.0, phase_time / now[at + 2]) if now[at + 2] > 0.0 else 1.0
            sticks[3] = from_stick[3] + share * (now[at + 1] - from_stick[3])
            trimmed[3] = sticks[3]
        elif now[at] == P.HOLD_SPEED or now[at] == P.HOLD_HEIGHT:
            sticks[3] += (min(1.0, max(0.0, seen[3])) - sticks[3]) * FRAME / pilot[H.LAG]
        read_sticks(sticks, chain, read)
        transmit(read, chain, wanted_command)
        if switch_time > 0.0:
            left = 1.0 - (frame - switched) * FRAME / switch_time
            for i in range(L.COMMAND):
                wanted_command[i] += max(0.0, left) * from_before[i]
            if left <= 0.0:
                switch_time = 0.0
        through_link(wanted_command, sent, frame, FRAME, chain, command)

        # ---- write down, look at the end conditions, advance ----------------------------------------
        derivatives(x, command, m, table, dx)
        fill_channels(x, sticks, dx, m, frame * FRAME, phase_time, row)
        if frame > began:
            turn_on(x, FRAME, turned)
        keep(x, command, turned, row)
        ending, bad = ended_by(x)
        if ending != GOES_ON:
            return ending, frame + 1, phase, bad
        if lost > LOST_TIME:
            return LOST, frame + 1, phase, 0
        met = now[P.JOIN] > 0.0 and _met(row, now)
        out_of_time = phase_time + 0.5 * FRAME >= now[P.LIMIT]
        if out_of_time and not met and now[P.NEEDS_CONDITION] > 0.5:
            return TIMED_OUT, frame + 1, phase, 0
        if met or out_of_time:
            phase += 1
            if phase == n_phases:
                return COMPLETED, frame + 1, phase - 1, 0
            began = frame + 1
            phase_start[phase] = frame + 1
            fresh = True
        if frame + 1 >= log.shape[0]:
            return TIMED_OUT, frame + 1, phase, 0
        leave_frame(x, command, m, table, steps, k, stage)
        for i in range(STATE_AT):
            log[frame + 1, i] = row[i]  # the pilot's next look is at what was just seen
        frame += 1


def fly(
    plane: Plane, x: np.ndarray, sticks: np.ndarray, phases: np.ndarray, pilot: np.ndarray, steps: int = 0
) -> Flight:
    """Fly `plane` from state `x` (STATE,) with `sticks` (4,) through `phases` (n, phases.COLUMNS) under `pilot`.

    `x`, `sticks` and the plane are left as they were.  `steps` per frame; 0 chooses.
    """
    model = plane.model.copy()
    use_single_precision(model)
    longest = int(round(float(phases[:, P.LIMIT].sum()) / FRAME)) + 2 * len(phases) + 4
    log = np.zeros((longest, ROW))
    starts = np.full(len(phases), -1, dtype=np.int64)
    ending, rows, phase, bad = interpret(
        x.copy(), sticks.copy(), phases, model, plane.table, plane.chain.copy(), pilot, steps, log, starts
    )
    return Flight(
        log[:rows].copy(), starts, ENDINGS[ending], int(phase), name_of(int(bad)) if ending == DIVERGED else ""
    )


def name_of(index: int) -> str:
    """The name of a number of the state, as messages call it."""
    names = ["north", "east", "down", "q0", "q1", "q2", "q3", "u", "v", "w", "roll rate", "pitch rate", "yaw rate"]
    names += ["rotor speed", "charge or fuel used", "acting throttle"]
    names += ["left aileron", "right aileron", "elevator", "rudder"]
    if index < len(names):
        return names[index]
    strip = index - L.CIRCULATION
    if index == L.AIR_PATH:
        return "distance through the air"
    return f"circulation of strip {strip}" if strip < L.PAD else f"separation of strip {strip - L.PAD}"
