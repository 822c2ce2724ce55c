"""How well each draw explains measured levels, with one blunder or with none.

    y(band, place) = gain(band) + level(band, place; draw) + place's error + band's error

Gains are free, errors normal (SITE_DB shared by the bands of a place, BAND_DB of each band by
itself, both times ½, 1 or 2, and more where coherence is low): all are integrated out exactly.
With V the covariance of the errors and G the gains' design, a residual q costs qᵀPq, where
P = V⁻¹ − V⁻¹G(GᵀV⁻¹G)⁻¹GᵀV⁻¹.

A blunder is a residual in one known direction u with an unknown size N(0, OFF_DB²): one microphone,
or one band at one microphone.  Its cost follows from uᵀPq alone.  Two names swapped change y by a
known vector.  So every blunder is weighed against every draw in one matrix product.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from .draws import log_sum

SITE_DB = 0.7
"""Standard deviation of what one place adds to all its bands: placing, what stands nearby.  A 2 kHz
measurement outdoors lands within about 0.7 dB of the inverse square law (common practice, no
source)."""
BAND_DB = 1.0
"""Standard deviation of what is left in each band by itself; our own choice."""
NOISIER = ((0.5, 0.25), (1.0, 0.5), (2.0, 0.25))
"""The errors as a multiple of these, and how likely that is."""
OFF_DB = 6.0
"""Standard deviation of a microphone, or of one of its bands, that is off."""
BLUNDERS = {"microphone": 0.06, "band": 0.06, "swapped": 0.08}
"""How likely a set of levels holds one of these before it is looked at; our own choice."""


@dataclass(frozen=True)
class Blunder:
    """One thing that may be wrong with a set of levels.

    kind: "none", "microphone", "band" or "swapped"; places: indices; band: index, or −1
    """

    kind: str
    places: tuple[int, ...] = ()
    band: int = -1


class Evidence:
    """Measured levels (bands, n), NaN where none; doubt_db (bands, n) on top of the noise."""

    def __init__(
        self,
        level_db: FloatArray,
        doubt_db: FloatArray | None = None,
        *,
        site_db: float = SITE_DB,
        band_db: float = BAND_DB,
        sets: IntArray | None = None,
    ) -> None:
        """sets (n,): which places were measured with one gain; None: all of them"""
        self.level_db, self.site_db, self.band_db = level_db, site_db, band_db
        self.known: BoolArray = np.isfinite(level_db)
        self.band, self.place = np.nonzero(self.known)
        doubt = np.zeros(len(self.band)) if doubt_db is None else doubt_db[self.known]
        same = self.place[:, np.newaxis] == self.place
        self.sets = np.zeros(level_db.shape[1], dtype=np.intp) if sets is None else sets
        own = self.band + level_db.shape[0] * self.sets[self.place]
        gains = np.unique(own)
        design = (own[:, np.newaxis] == gains).astype(float)
        self._noise = []
        self._covariance = site_db**2 * same + np.diag(band_db**2 + doubt**2)
        for times, likely in NOISIER:
            v = (times * site_db) ** 2 * same + np.diag((times * band_db) ** 2 + doubt**2)
            inverse = np.linalg.inv(v)
            inner = design.T @ inverse @ design
            cost = inverse - inverse @ design @ np.linalg.solve(inner, design.T @ inverse)
            log = np.linalg.slogdet(v)[1] + np.linalg.slogdet(inner)[1]
            self._noise.append((cost, float(np.log(likely) - 0.5 * log)))
        self.freedom = len(self.band) - len(gains)

    @cached_property
    def blunders(self) -> tuple[Blunder, ...]:
        """Everything weighed, none first."""
        seen = [n for n in range(self.known.shape[1]) if self.known[:, n].any()]
        found = [Blunder("none")]
        if len(seen) > 2:
            found += [Blunder("microphone", (n,)) for n in seen]
            found += [
                Blunder("band", (int(n),), int(k))
                for k, n in zip(self.band, self.place, strict=True)
                if self.known[:, n].sum() > 1
            ]
            found += [Blunder("swapped", pair) for pair in combinations(seen, 2)]
        return tuple(found)

    def log_likelihood(self, levels_db: FloatArray) -> FloatArray:
        """(blunders, d) of levels (d, bands, n), each blunder's own likelihood included."""
        kinds = [one.kind for one in self.blunders]
        likely = {kind: BLUNDERS[kind] / kinds.count(kind) for kind in set(kinds) - {"none"}}
        likely["none"] = 1.0 - sum(BLUNDERS[kind] for kind in set(kinds) - {"none"})
        log_prior = np.log([likely[kind] for kind in kinds])
        off, swaps = self._directions
        left = (self.level_db - levels_db)[:, self.known]
        every = []
        for cost, log in self._noise:
            weighed = left @ cost
            plain = np.einsum("dm,dm->d", weighed, left)
            parts = [plain[np.newaxis]]
            if len(off):
                size = np.einsum("um,mk,uk->u", off, cost, off)
                along = (weighed @ off.T).T
                shrunk = 1.0 / (OFF_DB**-2 + size)
                parts.append(
                    plain
                    - shrunk[:, np.newaxis] * along**2
                    + np.log1p(OFF_DB**2 * size)[:, np.newaxis]
                )
            if len(swaps):
                fixed = np.einsum("um,mk,uk->u", swaps, cost, swaps)
                parts.append(plain + 2.0 * (weighed @ swaps.T).T + fixed[:, np.newaxis])
            every.append(log - 0.5 * np.concatenate(parts))
        return log_sum(np.array(every), axis=0) + log_prior[:, np.newaxis]

    def size_db(self, of: Blunder, levels_db: FloatArray) -> float:
        """How far a microphone or its band is off what the levels (d, bands, n) let it be."""
        off, _ = self._directions
        kinds = [one for one in self.blunders if one.kind in ("microphone", "band")]
        u = off[kinds.index(of)]
        cost = self._noise[1][0]
        along = ((self.level_db - levels_db)[:, self.known] @ cost) @ u
        return float(np.mean(along) / (u @ cost @ u + OFF_DB**-2))

    def misfit(self, levels_db: FloatArray) -> bool:
        """Whether even twice the noise, at the best of levels (d, bands, n), leaves more than
        chance leaves in one set of a thousand."""
        left = (self.level_db - levels_db)[:, self.known]
        cost = self._noise[-1][0]
        least = float(np.einsum("dm,mk,dk->d", left, cost, left).min())
        m = max(self.freedom, 1)
        # Wilson and Hilferty's cube root of χ² (from memory).
        return bool(least > m * (1.0 - 2.0 / (9.0 * m) + 3.09 * (2.0 / (9.0 * m)) ** 0.5) ** 3)

    @cached_property
    def root(self) -> FloatArray:
        """(m, m) W with W·Wᵀ = P at the usual noise: q·W is a residual in standard deviations."""
        values, vectors = np.linalg.eigh(self._noise[1][0])
        return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))

    @cached_property
    def noise_root(self) -> FloatArray:
        """(m, m) of the usual errors' covariance."""
        return np.asarray(np.linalg.cholesky(self._covariance))

    @cached_property
    def _directions(self) -> tuple[FloatArray, FloatArray]:
        """Unit residuals of what is off, and what swapping does to the levels, (…, m)."""
        off, swaps = [], []
        for one in self.blunders:
            if one.kind == "microphone":
                off.append((self.place == one.places[0]).astype(float))
            elif one.kind == "band":
                off.append(((self.place == one.places[0]) & (self.band == one.band)).astype(float))
            elif one.kind == "swapped":
                a, b = one.places
                level = self.level_db.copy()
                level[:, [a, b]] = level[:, [b, a]]
                change = (level - self.level_db)[self.known]
                # Where one of the two lacks a band, swapping says nothing of it.
                swaps.append(np.where(np.isfinite(change), change, 0.0))
        m = len(self.band)
        return np.array(off).reshape(-1, m), np.array(swaps).reshape(-1, m)
