"""The loss behind an edge, from the path difference round it.

Kurze and Anderson's fit of Maekawa's measurements on a thin screen (U. J. Kurze and G. S. Anderson,
"Sound attenuation by barriers", Applied Acoustics 4, 1971, 35-53; formula from memory, checked
against ISO 9613-2:1996 eq. 14 with C2 = 40, which agrees within 0.7 dB):

    N = 2·δ/λ, the Fresnel number; δ the way round the edge minus the straight way
    in the shadow   loss = 5 dB + 20·lg(√(2πN) / tanh √(2πN)), 5 dB at N = 0
    in the light    loss = 5 dB + 20·lg(√(2π|N|) / tan √(2π|N|)), down to 0 dB at N = −0.19

Limits.  The formula is for a point source and a thin, long, straight screen across the section.  It
knows no thickness, absorption, slot or reflection behind the edge; a path over several edges is
taken as one of the same length, which errs on the loud side.  The loss is held at 20 dB, the most
that ISO 9613-2:1996, 7.4 allows a single edge (from memory): scattered and reflected sound fill
deeper shadows.  The lit margin is never taken wider than that of 1 kHz (our own limit): lower down
the wave feels the seated floor as a whole, and its nosings are no screens.
"""

import numpy as np

from ..arrays import FloatArray

DEEPEST_DB = 20.0
GRAZING_DB = 5.0
LIT_FROM = -0.2
"""Fresnel number below which the formula's loss in the light is nil."""
CAPPED_FROM = 5.04
"""Fresnel number beyond which the loss is DEEPEST_DB in any case: 10^((20 − 5)/10)/2π = 5.033."""
_MARGIN_HZ = 1000.0


def screening_loss_db(
    difference_m: FloatArray, midband_hz: FloatArray, *, c_m_s: float
) -> FloatArray:
    """(…, bands, n) loss for path differences (…, n), positive in the shadow, below 0 in the light.

    Continuous, and never less for a larger difference; ±inf are deep shadow and clear light.
    """
    frequency = np.asarray(midband_hz, dtype=np.float64)
    loss = np.zeros((*difference_m.shape[:-1], len(frequency), difference_m.shape[-1]))
    for band, hz in enumerate(frequency):
        fresnel = np.where(
            difference_m >= 0.0,
            2.0 * difference_m * hz / c_m_s,
            2.0 * difference_m * max(hz, _MARGIN_HZ) / c_m_s,
        )
        loss[..., band, :] = _loss_db(np.clip(fresnel, LIT_FROM, CAPPED_FROM))
    return loss


def lit_margin_m(midband_hz: FloatArray, *, c_m_s: float) -> float:
    """Detour round an edge beyond which it takes nothing from the light, in any band."""
    return -LIT_FROM * 0.5 * c_m_s / max(float(np.min(midband_hz)), _MARGIN_HZ)


def capped_from_m(midband_hz: FloatArray, *, c_m_s: float) -> float:
    """Path difference beyond which every band has the largest loss."""
    return CAPPED_FROM * 0.5 * c_m_s / float(np.min(midband_hz))


def _loss_db(fresnel: FloatArray) -> FloatArray:
    loss = np.zeros(fresnel.shape)
    touched = fresnel > LIT_FROM
    some = fresnel[touched]
    x = np.maximum(np.sqrt(2.0 * np.pi * np.abs(some)), 1e-6)
    ratio = x / np.where(some >= 0.0, np.tanh(x), np.tan(x))
    loss[touched] = np.clip(GRAZING_DB + 20.0 * np.log10(ratio), 0.0, DEEPEST_DB)
    return loss
