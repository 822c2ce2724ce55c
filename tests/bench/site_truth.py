"""Simulated sites for the benchmark: truth from a model that the fit does not have.

Lobes of other shapes (a piston's, powers of the angle other than two), each band of its own width;
a floor that sends back another share in every band, summed line by line over the band's frequencies
with a hard step of phase; a room whose sound falls with distance; errors with heavy tails.  No
formula here is shared with the program but the speed of sound.
"""

from dataclasses import dataclass, field, replace

import numpy as np

BANDS = (1000.0, 2000.0, 4000.0, 8000.0)
ALPHA = np.array([0.00466, 0.00989, 0.0297, 0.105])
"""dB/m at 20 °C, 50 %, ISO 9613-1 tables, rounded."""
SPEED = 343.2


@dataclass(frozen=True)
class Condition:
    """What is otherwise than planned at a simulated site; None draws it from what may be."""

    name: str
    tilt: float | None = None
    tilt_sd: float = 0.0
    x: float | None = 0.0
    z: float | None = 0.0
    width: float = 1.0
    width_sd: float = 0.0
    edge: float = 0.0
    skew: float = 0.0
    power: float = 2.0
    piston: bool = False
    own: float = 0.3
    floor: tuple[float, float] = (0.0, 0.3)
    floor_by_band: bool = False
    room: tuple[float, float] | None = None
    site: float = 0.7
    band: float = 1.0
    tails: float = 6.0
    blunder: str = ""
    positions: int = 6
    plans: tuple[str, ...] = ("tier", "narrow", "wide", "hall")


def conditions() -> list[Condition]:
    """Thirty of them; the tilt is drawn from a mixture of 1.5° and 5° otherwise."""
    base = Condition("pattern as declared")
    return [
        base,
        replace(base, name="hung exactly as planned", tilt=0.0),
        replace(base, name="pattern 10 % narrower", width=0.9),
        replace(base, name="pattern 15 % wider", width=1.15),
        replace(base, name="width sd 10 %", width_sd=0.1),
        replace(base, name="edge 2 dB softer", edge=-2.0),
        replace(base, name="edge 2 dB louder", edge=2.0),
        replace(base, name="1.5 dB louder above", skew=1.5),
        replace(base, name="piston lobe", piston=True),
        replace(base, name="flat-topped lobe (power 2.6)", power=2.6),
        replace(base, name="pointed lobe (power 1.6)", power=1.6),
        replace(base, name="bands 1 dB apart at the edge", own=1.0),
        replace(base, name="dead floor", floor=(0.0, 0.0)),
        replace(base, name="floor reflects 0.5", floor=(0.5, 0.5)),
        replace(base, name="floor reflects 0.9", floor=(0.9, 0.9)),
        replace(base, name="floor 0.9, much noise", floor=(0.9, 0.9), site=1.4, band=2.0),
        replace(base, name="floor by band, 0 to 1", floor=(0.0, 1.0), floor_by_band=True),
        replace(base, name="x wrong by 0.5 m", x=0.5),
        replace(base, name="height wrong by 0.3 m", z=0.3),
        replace(base, name="x and height as may be", x=None, z=None),
        replace(base, name="weak room", room=(-12.0, -6.0)),
        replace(base, name="strong room", room=(0.0, 3.0)),
        replace(base, name="noise halved", site=0.35, band=0.5),
        replace(base, name="noise doubled", site=1.4, band=2.0),
        replace(base, name="heavy tails", tails=3.0),
        replace(base, name="one microphone 6 dB off", blunder="microphone"),
        replace(base, name="one band 8 dB off", blunder="band"),
        replace(base, name="two files swapped", blunder="swapped"),
        replace(base, name="four positions", positions=4),
        replace(base, name="everything at once", width_sd=0.1, x=None, z=None, floor=(0.0, 0.9),
                floor_by_band=True, room=(-12.0, 0.0), power=2.3),
    ]  # fmt: skip


@dataclass(frozen=True)
class Plan:
    """coverage, x, z, tilt; floor from (x0, z0) to (x1, z1); rows and ears."""

    half: float
    z: float
    tilt: float
    floor: tuple[tuple[float, float], tuple[float, float]]
    rows: int
    ears: float = 1.2


@dataclass
class Site:
    """One simulated site: truth and what is measured at places (indices of rows)."""

    plan: Plan
    at: np.ndarray
    tilt: float
    level: np.ndarray
    rows: np.ndarray
    planned: np.ndarray
    lobe: "Lobe"
    x: float
    z: float
    blunder: tuple[int, ...] = field(default=())

    def spread_at(self, tilt_error: float) -> float:
        """True spread of the design level with the box at this error of tilt."""
        return float(np.ptp(rows_level(self.plan, self.lobe, self.x, self.z, tilt_error)))


@dataclass
class Lobe:
    """A true pattern, by band."""

    half: np.ndarray
    edge: np.ndarray
    skew: float
    power: float
    piston: bool

    def __call__(self, off: np.ndarray) -> np.ndarray:
        """(bands, n)"""
        out = off / self.half[:, None]
        if self.piston:
            from scipy.special import j1

            v = (
                2.215089
                * np.sin(np.radians(np.clip(off, -90, 90)))
                / np.sin(np.radians(np.minimum(self.half, 90.0)))[:, None]
            )
            v = np.where(np.abs(v) < 1e-6, 1e-6, v)
            level = 20 * np.log10(np.maximum(np.abs(2 * j1(v) / v), 10**-1.2))
        else:
            level = -6.0206 * np.abs(out) ** self.power
        turn = np.clip(out, -1.7, 1.7)
        level = level + self.edge[:, None] * turn**2 + self.skew * turn
        return np.maximum(level, -24.0)


def ears(plan: Plan) -> tuple[np.ndarray, np.ndarray, float]:
    (x0, z0), (x1, z1) = plan.floor
    x = np.linspace(x0, x1, plan.rows)
    slope = (z1 - z0) / (x1 - x0)
    return x, z0 + slope * (x - x0) + plan.ears, slope


def rows_level(plan: Plan, lobe: Lobe, x0: float, z0: float, tilt_error: float) -> np.ndarray:
    x, z, _ = ears(plan)
    dx, dz = x - x0, z - (plan.z + z0)
    r = np.hypot(dx, dz)
    off = np.degrees(np.arctan2(dz, dx)) - plan.tilt - tilt_error
    level = lobe(off) - 20 * np.log10(r) - ALPHA[:, None] * r
    return level.mean(axis=0)


def simulate(c: Condition, rng: np.random.Generator, at: dict[str, np.ndarray]) -> Site:
    """One site; at: rows measured, by the plan's name."""
    name = c.plans[int(rng.integers(len(c.plans)))]
    plan, where = PLANS[name], at[name]
    tilt = c.tilt
    if tilt is None:
        tilt = float(rng.normal(0.0, 1.5 if rng.random() < 0.5 else 5.0))
    x0 = rng.normal(0.0, rng.choice([0.1, 0.4])) if c.x is None else c.x
    z0 = rng.normal(0.0, rng.choice([0.05, 0.2])) if c.z is None else c.z
    width = c.width * np.exp(rng.normal(0.0, c.width_sd)) if c.width_sd else c.width
    lobe = Lobe(plan.half * width * np.ones(4), c.edge + rng.normal(0.0, c.own, 4), c.skew,
                c.power, c.piston)  # fmt: skip
    x, z, slope = ears(plan)
    low, high = c.floor
    floor = rng.uniform(low, high, 4) if c.floor_by_band else np.full(4, rng.uniform(low, high))
    level = np.empty((4, len(x)))
    f = np.array([band * 2.0 ** np.linspace(-0.5, 0.5, 121) for band in BANDS])
    dx, dz = x - x0, z - (plan.z + z0)
    down = 2.0 * plan.ears / (1.0 + slope**2)
    ix, iz = x + down * slope - x0, z - down - (plan.z + z0)
    r, far = np.hypot(dx, dz), np.hypot(ix, iz)
    aimed = plan.tilt + tilt
    direct = lobe(np.degrees(np.arctan2(dz, dx)) - aimed) - 20 * np.log10(r) - ALPHA[:, None] * r
    below = lobe(np.degrees(np.arctan2(iz, ix)) - aimed) - 20 * np.log10(far)
    below -= ALPHA[:, None] * far
    back = direct[:, -1]
    room = rng.uniform(*c.room) if c.room else None
    for b in range(4):
        turn = np.exp(-2j * np.pi * np.outer(f[b], (far - r) / SPEED))
        sum_ = 10 ** (direct[b] / 20) + floor[b] * 10 ** (below[b] / 20) * turn
        weight = f[b] / f[b].sum()
        energy = weight @ np.abs(sum_) ** 2
        if room is not None:
            energy = energy + 10 ** (0.1 * (back[b] + room)) * np.exp(-0.04 * (r - r.mean()))
        level[b] = 10 * np.log10(energy)
    n = len(where)
    scale = np.sqrt((c.tails - 2.0) / c.tails)
    level = level[:, where]
    level = level + c.site * scale * rng.standard_t(c.tails, n)
    level = level + c.band * scale * rng.standard_t(c.tails, (4, n)) + rng.normal(0, 15, (4, 1))
    blunder: tuple[int, ...] = ()
    if c.blunder == "microphone":
        k = int(rng.integers(n))
        level[:, k] += 6.0 * rng.choice([-1.0, 1.0])
        blunder = (k,)
    elif c.blunder == "band":
        k = int(rng.integers(n))
        level[int(rng.integers(4)), k] += 8.0 * rng.choice([-1.0, 1.0])
        blunder = (k,)
    elif c.blunder == "swapped":
        a, b = (int(k) for k in rng.choice(n, 2, replace=False))
        level[:, [a, b]] = level[:, [b, a]]
        blunder = (a, b)
    planned = Lobe(np.full(4, plan.half), np.zeros(4), 0.0, 2.0, False)
    return Site(plan, where, tilt, level, rows_level(plan, lobe, x0, z0, tilt),
                rows_level(plan, planned, 0.0, 0.0, 0.0), lobe, float(x0), float(z0),
                blunder)  # fmt: skip


def best_tilt(plan: Plan) -> float:
    """Of the planned box, to a tenth of a degree."""
    lobe = Lobe(np.full(4, plan.half), np.zeros(4), 0.0, 2.0, False)
    tried = np.round(np.arange(-40.0, 10.0, 0.1), 1)
    aimed = [replace(plan, tilt=float(one)) for one in tried]
    return float(tried[int(np.argmin([np.ptp(rows_level(p, lobe, 0.0, 0.0, 0.0)) for p in aimed]))])


PLANS = {
    name: replace(plan, tilt=best_tilt(plan))
    for name, plan in {
        "tier": Plan(30.0, 7.0, 0.0, ((4.0, 0.0), (18.0, 1.4)), 17),
        "narrow": Plan(20.0, 9.0, 0.0, ((6.0, 0.0), (20.0, 2.5)), 17),
        "wide": Plan(45.0, 8.0, 0.0, ((3.0, 0.0), (19.0, 0.0)), 19),
        "hall": Plan(30.0, 9.0, 0.0, ((5.0, 0.0), (27.0, 1.5)), 25),
    }.items()
}
"""Each at its own best tilt, as a plan of the program would be."""
