"""Simulated cameras: what the chart and dyed yarn look like to published sensors, and to sensors bent away from them.

The sensitivities (two cameras measured at a national laboratory), the lamps and the reflectances come from
colour-science 0.4.7. Bent cameras are invented: a published camera with each channel moved along the spectrum and made
narrower or wider. The dyeings are invented too. No table of the package's own is used here.
"""

import warnings
from functools import cache

import numpy as np

WAVELENGTHS_NM = np.arange(400, 701, 10)
CAMERAS = ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)")


@cache
def colour_science():
    """Return the module, which warns of its optional parts at import."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour.characterisation.aces_it
        import colour.quality.cfi2017
    return colour


def sampled(distribution):
    """Return a distribution's values at WAVELENGTHS_NM."""
    colour = colour_science()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        shape = colour.SpectralShape(400, 700, 10)
        return distribution.copy().interpolate(shape).extrapolate(shape).trim(shape).values


@cache
def camera(name):
    """Return a published camera's sensitivities, (31, 3)."""
    return np.maximum(sampled(colour_science().MSDS_CAMERA_SENSITIVITIES[name]), 0)


def bent_camera(seed, name=CAMERAS[0]):
    """Return a published camera with each channel moved by some nanometres (sd 5) and narrowed or widened."""
    random = np.random.default_rng(seed)
    published, bent = camera(name), np.empty((31, 3))
    for channel, (shift_nm, power) in enumerate(zip(random.normal(0, 5, 3), random.uniform(0.8, 1.3, 3), strict=True)):
        moved = np.interp(
            WAVELENGTHS_NM, WAVELENGTHS_NM + shift_nm, published[:, channel] / published[:, channel].max()
        )
        bent[:, channel] = moved**power
    return bent


@cache
def lamp(name):
    """Return a lamp's relative power: a CIE illuminant, or one of the measured lamps."""
    colour = colour_science()
    known = colour.SDS_ILLUMINANTS if name in colour.SDS_ILLUMINANTS else colour.SDS_LIGHT_SOURCES
    return np.maximum(sampled(known[name]), 0)


def seen_through(sensitivities, power):
    """Return the weights that take a reflectance to linear light: white is 0.9 of every channel (balanced)."""
    weights = sensitivities * power[:, None]
    return weights / weights.sum(axis=0) * 0.9


@cache
def patches_190():
    """Return the 190 training reflectances that colour-science carries, (190, 31)."""
    return sampled(colour_science().characterisation.aces_it.read_training_data_rawtoaces_v1()).T


@cache
def samples_cie_224():
    """Return the 99 test samples of CIE 224:2017, (99, 31)."""
    colour = colour_science()
    return sampled(colour.quality.cfi2017.load_TCS_CIE2017(colour.SpectralShape(380, 780, 1))).T


@cache
def chart_reflectances():
    """Return the chart's own spectra (ISO 17321-1, as colour-science carries them), (24, 31)."""
    return np.array([sampled(patch) for patch in colour_science().SDS_COLOURCHECKERS["ISO 17321-1"].values()])


def dyed_wool(number, seed, width_nm=(25, 70), deepest=2.5):
    """Invented dyeings: up to three Gaussian absorption bands as K/S (ln of the deepest) over a creamy base."""
    random = np.random.default_rng(seed)
    base = 0.25 * np.exp(-(WAVELENGTHS_NM - 400) / 80) + 0.04
    bands = np.zeros((number, len(WAVELENGTHS_NM)))
    for _ in range(3):
        middle, width = random.uniform(400, 680, number), random.uniform(*width_nm, number)
        height = np.exp(random.uniform(-2, deepest, number)) * (random.random(number) < 0.7)
        bands += height[:, None] * np.exp(-(((WAVELENGTHS_NM - middle[:, None]) / width[:, None]) ** 2))
    k_s = base + bands
    return 1 + k_s - np.sqrt(k_s**2 + 2 * k_s)


def usual_wool(number, seed):
    """Return invented dyeings with the broad bands and depths of usual yarn."""
    return dyed_wool(number, seed, width_nm=(45, 100), deepest=1.5)


@cache
def _d65_weights():
    colour = colour_science()
    observer = sampled(colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"])
    weights = observer * sampled(colour.SDS_ILLUMINANTS["D65"])[:, None]
    return weights / weights[:, 1].sum()


def true_lab(reflectance):
    """Return Lab (D65, 10°) by colour-science's own tables."""
    colour, weights = colour_science(), _d65_weights()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return colour.XYZ_to_Lab(reflectance @ weights, colour.XYZ_to_xy(weights.sum(axis=0)))


def phone_tone(linear, strength=1.0):
    """Return linear light through an S-curve as a phone's rendering has it: mid tones lifted, both ends flattened.

    A logistic in log light, invented; strength 0 leaves it straight.
    """
    curved = linear**1.25 / (linear**1.25 + 0.35 * (1 - np.minimum(linear, 1)) ** 1.25)
    return (1 - strength) * linear + strength * curved


def true_xyz(reflectance):
    """Return XYZ (D65, 10°, Y = 100 for white) by colour-science's own tables."""
    return 100 * reflectance @ _d65_weights()


@cache
def _srgb_from_xyz():
    """Return what takes XYZ (D65, 10°) to linear sRGB, white to 1, 1, 1 (IEC 61966-2-1, each of X, Y, Z scaled)."""
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    white = true_xyz(np.ones((1, 31)))[0] / 100
    return np.linalg.inv(to_xyz) @ np.diag(to_xyz.sum(axis=1) / white)


def phone(sensitivities, power, seed, *, is_raw=False, curve=0.6):
    """Return what renders reflectances to the linear light of a photo file, with sRGB's primaries.

    A raw file: the camera's light, white-balanced, through the matrix that its maker fitted under daylight. A phone's
    picture besides: chroma raised by up to a quarter, cut off at both ends, an S-curve, eight bits.
    """
    random = np.random.default_rng(seed)
    weights, daylight = seen_through(sensitivities, power), seen_through(sensitivities, lamp("D65"))
    goal = true_xyz(patches_190()) / 100 @ _srgb_from_xyz().T
    matrix = np.linalg.lstsq(patches_190() @ daylight, goal)[0].T
    matrix /= matrix.sum(axis=1, keepdims=True)
    if not is_raw:
        chroma, luma = random.uniform(1.0, 1.25), np.array([0.2126, 0.7152, 0.0722])
        matrix = (chroma * np.eye(3) + (1 - chroma) * np.ones((3, 1)) * luma) @ matrix

    def render(reflectances):
        light = reflectances @ weights @ matrix.T
        return light if is_raw else _eight_bits(phone_tone(np.clip(light, 0, 1), curve))

    return render


def _eight_bits(linear):
    """Return linear light after storing it as sRGB codes (IEC 61966-2-1)."""
    codes = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055)
    stored = np.round(255 * codes) / 255
    return np.where(stored <= 0.04045, stored / 12.92, ((stored + 0.055) / 1.055) ** 2.4)
