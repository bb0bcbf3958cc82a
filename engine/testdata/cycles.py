#!/usr/bin/python3
"""Cycles of an engine with leaks, solved by SciPy: the reference of TestAgainstSciPy.

Written from the formulas of docs/model.md, not from the program: unknowns are mass
and temperature, time runs in seconds, each law is evaluated as printed there, and
the solver is LSODA or DOP853 at rtol 1e-12 with stops at every change of a law.

	/usr/bin/python3 cycles.py > cycles.json        (Debian: python3-scipy)
"""
import json
from math import pi, sin, cos, sqrt, exp

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

R, G = 287.05287, 1.4
CV = R / (G - 1)
CP = G * CV
CRIT = (2 / (G + 1)) ** (G / (G - 1))
DEG = pi / 180


def viscosity(t):
    return 1.458e-6 * t**1.5 / (t + 110.4)


def psi(r):
    r = max(r, CRIT)
    return 0.0 if r >= 1 else sqrt(2 * G / (G - 1) * (r ** (2 / G) - r ** ((G + 1) / G)))


def cd(r):
    return 0.8414 - 0.1002 * r + 0.8415 * r**2 - 3.9 * r**3 + 4.6001 * r**4 - 1.6827 * r**5


def opening(area, edge, r50, p1, p2, t1):
    r = p2 / p1
    return area * p1 / sqrt(R * t1) * psi(r) * (1 + edge * (cd(r) / cd(r50) - 1))


def seep_plain(w, h, l, p1, p2, t1):
    """The seep with slip and inertia, before its cap."""
    mu = viscosity(t1)
    lam = mu / ((p1 + p2) / 2) * sqrt(pi * R * t1 / 2)
    g = w * h**3 / (12 * l) * (1 + 6 * lam / h)
    a = 2 * mu * R * t1 / g
    # p1² - p2² = a m (1 + 2 m h/(12 L w mu)), solved for m
    b = h / (6 * l * w * mu)
    q = (p1 - p2) * (p1 + p2) / a
    return 2 * q / (1 + sqrt(1 + 4 * b * q))


def seep_most(w, h, p1, t1):
    return w * h * p1 / sqrt(R * t1) * psi(0)


def seep(w, h, l, p1, p2, t1):
    return min(seep_plain(w, h, l, p1, p2, t1), seep_most(w, h, p1, t1))


class Case:
    def __init__(self, name, **k):
        self.name, self.k = name, k
        self.__dict__.update(k)
        self.area = pi / 4 * self.bore**2
        self.swept = self.area * self.stroke
        self.vc = self.swept / (self.ratio - 1)
        self.omega = self.rpm * 2 * pi / 60
        self.th0 = -pi + self.closes * DEG
        self.th1 = pi - self.opens * DEG
        self.sp = 2 * self.stroke * self.rpm / 60
        self.flows = []  # (port pressure, function(p1, p2, t1), plain, most)
        room, temp = self.room, self.temp
        if self.rings:
            self.flows.append((room, lambda p1, p2, t, a=self.rings: opening(a, 0, 0.5, p1, p2, t), None, None))
        for lk in self.leaks:
            port = self.intake if lk.get("intake") else room
            mass = lk["flow"] * lk["room"] / (R * lk["temp"])
            down = lk["room"] - 50e3
            r50 = down / lk["room"]
            if lk["share"] > 0:
                unit = opening(1, 0, r50, lk["room"], down, lk["temp"])
                a = mass * lk["share"] / unit
                self.flows.append((port, lambda p1, p2, t, a=a, e=lk["edge"], r=r50: opening(a, e, r, p1, p2, t), None, None))
            if lk["share"] < 1:
                want = mass * (1 - lk["share"])
                w, l = self.seat, self.contact
                h = brentq(lambda h: seep(w, h, l, lk["room"], down, lk["temp"]) / want - 1, 1e-8, 1e-3, xtol=1e-22, rtol=1e-15)
                self.flows.append((port, lambda p1, p2, t, h=h: seep(w, h, l, p1, p2, t),
                                   lambda p1, p2, t, h=h: seep_plain(w, h, l, p1, p2, t), lambda p1, t, h=h: seep_most(w, h, p1, t)))
        self.burning = False
        self.pb = None

    def volume(self, th):
        a, l = self.stroke / 2, self.rod
        root = sqrt(l * l - (a * sin(th)) ** 2)
        v = self.vc + self.area * (l + a - a * cos(th) - root)
        return v, self.area * (a * sin(th) + a * a * sin(th) * cos(th) / root)

    def wall_heat(self, p, t, v):
        if self.heat == "hohenberg":
            h = 130 * v**-0.06 * (p / 1e5) ** 0.8 * t**-0.4 * (self.sp + 1.4) ** 0.8
        else:
            w = 2.28 * self.sp
            if self.pb is not None:
                pm = self.pb * (self.vb / v) ** 1.3
                w += 3.24e-3 * self.swept * self.tb / (self.pb * self.vb) * max(0.0, p - pm)
            h = 3.26 * self.bore**-0.2 * (p / 1e3) ** 0.8 * t**-0.55 * w**0.8
        return h * (2 * self.area + 4 * v / self.bore) * (t - self.twall)

    def rates(self, time, y):
        m, t = y[0], y[1]
        th = self.th0 + self.omega * time
        v, dv = self.volume(th)
        p = m * R * t / v
        dm = dh = 0.0
        for port, law, _, _ in self.flows:
            if p >= port:
                f = law(p, port, t)
                dm -= f
                dh -= f * CP * t
            else:
                f = law(port, p, self.temp)
                dm += f
                dh += f * CP * self.temp
        q = self.wall_heat(p, t, v)
        heat = 0.0
        if self.burning:
            width = (self.burn[1] - self.burn[0]) * DEG
            x = max(0.0, (th - self.burn[0] * DEG) / width)
            heat = self.energy * self.mb * 5 * 3 / width * x * x * exp(-5 * x**3) * self.omega
        work = p * dv * self.omega
        # m cv dT/dt = heat - wall + enthalpy - work - cv T dm/dt
        dt = (heat - q + dh - work - CV * t * dm) / (m * CV)
        return [dm, dt, work, q]

    def solve(self):
        v0, _ = self.volume(self.th0)
        y = np.array([self.intake * v0 / (R * self.temp), self.temp, 0.0, 0.0])
        m0 = y[0]
        stops = {0.0: "top", self.th1: "end"}
        if self.burn:
            stops[self.burn[0] * DEG] = "lit"
            stops[self.burn[1] * DEG] = "out"
        now, peak, trapped = 0.0, self.intake, None

        def pressure(time, y):
            return y[0] * R * y[1] / self.volume(self.th0 + self.omega * time)[0]

        def crossing(border):
            e = lambda time, y: pressure(time, y) / border - 1
            e.terminal = True
            return e

        def capping(port, plain, most):
            def e(time, y):
                p, t = pressure(time, y), y[1]
                if p >= port:
                    return plain(p, port, t) / most(p, t) - 1
                return plain(port, p, self.temp) / most(port, self.temp) - 1
            e.terminal = True
            return e

        def turning(time, y):
            th = self.th0 + self.omega * time
            v, dv = self.volume(th)
            d = self.rates(time, y)
            return d[0] / y[0] + d[1] / y[1] - dv * self.omega / v
        turning.terminal = False

        ports = sorted({f[0] for f in self.flows})
        events = [turning] + [crossing(b) for port in ports for b in (port, port / CRIT, port * CRIT)]
        events += [capping(port, plain, most) for port, _, plain, most in self.flows if plain]
        for th in sorted(stops):
            until = (th - self.th0) / self.omega
            while now < until:
                s = solve_ivp(self.rates, (now, until), y, method="DOP853", rtol=1e-12, atol=[m0 * 1e-15, 1e-11, 1e-14 * self.intake * self.swept, 1e-14 * self.intake * self.swept],
                              events=events, max_step=3 * DEG / self.omega)
                if not s.success and s.status != 1:
                    raise RuntimeError(self.name + ": " + s.message)
                for te, ye in zip(s.t_events[0], s.y_events[0]):
                    p = pressure(te, ye)
                    if p > peak:
                        peak, peak_at = p, self.th0 + self.omega * te
                y = s.y[:, -1]
                end = s.t[-1]
                if s.status == 1 and end - now < 1e-12:  # stand clear of the border just met
                    nudge = min(1e-11, until - now)
                    y = y + nudge * np.array(self.rates(now, y))
                    end = now + nudge
                now = end
            now = until
            p = pressure(now, y)
            if p > peak:
                peak, peak_at = p, th
            kind = stops[th]
            if kind == "top":
                trapped = y[0]
            elif kind == "lit":
                self.burning, self.mb = True, y[0]
                self.pb, self.tb, self.vb = p, y[1], self.volume(th)[0]
            elif kind == "out":
                self.burning = False
        return dict(peak=peak, peakAt=peak_at, trapped=trapped, work=y[2], wall=y[3], end=y[0])


BASE = dict(bore=0.0485712, stroke=0.0485712, rod=0.085, ratio=9.5, closes=50, opens=50, rings=0.027e-6, twall=330, heat="hohenberg",
            seat=0.0549, contact=1.2e-3, rpm=250, intake=101325, room=101325, temp=293.15, burn=None, energy=2.7e6, leaks=[])
CM = 1e-6 / 60


def leak(flow, share, edge=0.0, intake=False, room=101325, temp=293.15):
    return dict(flow=flow * CM, share=share, edge=edge, room=room, temp=temp, intake=intake)


BURN = [-20, 40]
BIG = dict(bore=0.083, stroke=0.0832, rod=0.1456, rings=0.135e-6, seat=0.0939)
CASES = [
    ("tight", {}),
    ("no rings", dict(rings=0)),
    ("opening, rounded", dict(leaks=[leak(100, 1)])),
    ("opening, sharp", dict(leaks=[leak(100, 1, 1)])),
    ("seep", dict(leaks=[leak(100, 0)])),
    ("seep, narrow contact", dict(contact=0.2e-3, leaks=[leak(1500, 0)])),
    ("both, large", dict(leaks=[leak(1000, 0.5, 0.5)])),
    ("half and half", dict(leaks=[leak(100, 0.5, 0.5)])),
    ("four valves", dict(leaks=[leak(30, 1, 0.3), leak(60, 0), leak(12, 0.4, 1), leak(200, 0.7, 0.6)])),
    ("Woschni", dict(heat="woschni", leaks=[leak(100, 0.5, 0.5)])),
    ("450 cm³", dict(**BIG, leaks=[leak(100, 0.5, 0.5)])),
    ("on a mountain, cold", dict(room=79500, intake=79500, temp=263.15, twall=300, leaks=[leak(100, 0.5, 0.5, room=101325)])),
    ("fired, idle", dict(rpm=850, intake=35e3, burn=BURN, leaks=[leak(100, 0.5, 0.5)])),
    ("fired, idle, intake port", dict(rpm=850, intake=35e3, burn=BURN, leaks=[leak(100, 0.5, 0.5, True), leak(50, 0, 0)])),
    ("fired, idle, Woschni", dict(rpm=850, intake=35e3, burn=BURN, heat="woschni", leaks=[leak(100, 0.5, 0.5)])),
    ("fired, top, 450 cm³", dict(**BIG, rpm=6000, twall=430, burn=BURN, leaks=[leak(300, 0.5, 0.5)])),
    ("fired, top, 450 cm³, Woschni", dict(**BIG, rpm=6000, twall=430, burn=BURN, heat="woschni", leaks=[leak(300, 0.2, 0.5)])),
]

if __name__ == "__main__":
    out = []
    for name, change in CASES:
        k = {**BASE, **change}
        out.append(dict(name=name, **k, result=Case(name, **k).solve()))
    print(json.dumps(out, indent="\t", ensure_ascii=False))
