"""What the drawn things reflect, what lights them and what the camera's sensor takes in, all as curves over wavelength.

Sources: [1] colour-science 0.4.7: D65 and the CIE illuminants, the 10° observer, sensitivities of two cameras (measured
at the National Physical Laboratory), curves of the 24-patch chart (BabelColor's average of charts, made before 2014).
[2] P. Kubelka, J. Opt. Soc. Am. 38 (1948) 448: reflectance of a thick layer from K/S.
Dyes, bases and grounds are invented.
"""

import warnings
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy.optimize import brentq, least_squares

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # colour-science tells of parts that are not installed
    import colour

NM = np.arange(380.0, 781.0, 5.0)
OBSERVER_10 = "CIE 1964 10 Degree Standard Observer"
OBSERVER_2 = "CIE 1931 2 Degree Standard Observer"
SENSORS = ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)")


def _sampled(distribution, left_right=None):
    values = np.atleast_2d(np.asarray(distribution.values, float).T)
    ends = {} if left_right is None else {"left": left_right, "right": left_right}
    sampled = np.array([np.interp(NM, distribution.wavelengths, row, **ends) for row in values])
    return sampled[0] if len(sampled) == 1 else sampled.T


@cache
def light(name):
    """Return the curve of one of the CIE's lights, its mean 1."""
    curve = _sampled(colour.SDS_ILLUMINANTS[name])
    return curve / curve.mean()


@cache
def observer(name):
    """Return the colour matching functions (wavelength, 3)."""
    return _sampled(colour.MSDS_CMFS[name], 0.0)


@cache
def sensor(name):
    """Return a camera's sensitivities (wavelength, 3); an observer's are those of a perfect camera."""
    if name in {OBSERVER_2, OBSERVER_10}:
        return observer(name)
    return _sampled(colour.MSDS_CAMERA_SENSITIVITIES[name], 0.0)


@cache
def chart():
    """Return the 24 patches' reflectance (24, wavelength), row by row from dark skin."""
    patches = colour.SDS_COLOURCHECKERS["BabelColor Average"].values()
    return np.array([_sampled(patch) for patch in patches])


def xyz(reflectance, *, lamp="D65", seen_by=OBSERVER_10):
    """Return XYZ of reflectance (…, wavelength), white at Y = 1."""
    weights = observer(seen_by) * light(lamp)[:, None]
    return reflectance @ weights / weights[:, 1].sum()


@cache
def _white():
    return tuple(xyz(np.ones_like(NM)))


def lab(reflectance):
    """Return Lab (D65, 10°) by colour-science."""
    return colour.XYZ_to_Lab(xyz(reflectance), colour.XYZ_to_xy(np.array(_white())))


def de00(first, second):
    """Return ΔE00 by colour-science."""
    return colour.delta_E(np.asarray(first, float), np.asarray(second, float), method="CIE 2000")


@dataclass(frozen=True)
class Dyeing:
    """Wool with three dyes, each one band that falls off more slowly to the blue."""

    middles_nm: tuple[float, float, float]
    widths_nm: tuple[float, float, float]
    depths: tuple[float, float, float]
    cream: float = 0.2

    def reflectance(self):
        """Return the curve of the dyed yarn."""
        k_s = 0.03 + self.cream * np.exp(-(NM - 400) / 60)
        for middle, width, depth in zip(self.middles_nm, self.widths_nm, self.depths, strict=True):
            away = (NM - middle) / np.where(middle > NM, 1.5 * width, width)
            k_s = k_s + depth * np.exp(-(away**2))
        return 1 + k_s - np.sqrt(k_s**2 + 2 * k_s)  # [2]

    def matched(self, target):
        """Return the same dyes in the amounts that give a Lab."""

        def miss(logs):
            return lab(replace(self, depths=tuple(np.exp(logs))).reflectance()) - target

        found = least_squares(miss, np.log(self.depths), x_scale=0.1, xtol=1e-10, ftol=1e-12)
        if np.abs(found.fun).max() > 0.02:
            raise ValueError(f"these three dyes do not give Lab {target}: they miss by {found.fun}")
        return replace(self, depths=tuple(np.exp(found.x).tolist()))


def random_dyeing(random):
    """Return a dyeing with a yellow, a red and a blue dye in random amounts, none too dark to see its strands."""
    while True:
        dyeing = Dyeing(
            tuple(random.uniform((410, 500, 590), (445, 545, 650))),
            tuple(random.uniform((38, 34, 42), (60, 50, 68))),
            tuple(np.exp(random.uniform(-4.5, 1.8, 3))),
            random.uniform(0.1, 0.35),
        )
        if lab(dyeing.reflectance())[0] > 22:
            return dyeing


def apart(dyeing, difference, random):
    """Return the dyeing in other amounts, ΔE00 `difference` away in a random direction of lightness, chroma and hue."""
    start = lab(dyeing.reflectance())
    if not difference:
        return dyeing
    for _ in range(40):
        way = random.normal(size=3)
        along = way[0] * np.array([1, 0, 0]) + _across(start, way[1:])
        along /= np.linalg.norm(along)
        far = 6 * difference
        if de00(start, start + far * along) <= difference:
            continue
        step = brentq(lambda s, along=along: float(de00(start, start + s * along)) - difference, 0, far)
        try:
            return dyeing.matched(start + step * along)
        except ValueError:
            continue
    raise ValueError(f"no direction gives a difference of {difference} from Lab {start}")


def _across(start, way):
    """Return a step along chroma and hue at a Lab, sized as CIEDE2000 weighs them."""
    chroma = np.hypot(*start[1:])
    out = start[1:] / chroma if chroma > 1e-6 else np.array([1.0, 0.0])
    around = np.array([-out[1], out[0]])
    step = way[0] * (1 + 0.045 * chroma) * out + way[1] * (1 + 0.015 * chroma) * around
    return np.array([0, *step])
