"""A phone's camera: from light on the sensor to the bytes of a JPEG.

White balance, a matrix that was fitted for another light, more saturation than there is, a tone curve per channel,
photon and read noise, the lens's blur and veil. Figures are estimates of what phones do.
"""

import io
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from PIL import Image

from yarn_scenes import spectra

SRGB_OF_XYZ = np.array(  # IEC 61966-2-1
    [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
)
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # IEC 61966-2-1
STEPS = 4096  # of the tone curve's table


@dataclass(frozen=True)
class Camera:
    """How a camera sees and develops. A share of the other measured sensor and a shift make `sensor` a new one."""

    sensor: str = spectra.SENSORS[0]
    other_frac: float = 0.0
    shift_nm: float = 0.0
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    matrix_light: str = "D55"
    saturation: float = 1.1
    contrast: float = 0.2
    gamma: float = 1.0
    white_electrons: float = 8000.0
    read_electrons: float = 5.0
    blur_px: float = 0.6
    veil_frac: float = 0.005
    quality: int = 92

    def sensitivities(self):
        """Return what the three channels take in (wavelength, 3)."""
        second = next(name for name in spectra.SENSORS if name != self.sensor)
        plain, other = (bands / bands.sum(axis=0) for bands in map(spectra.sensor, (self.sensor, second)))
        mixed = (1 - self.other_frac) * plain + self.other_frac * other
        return np.stack([np.interp(spectra.NM - self.shift_nm, spectra.NM, band) for band in mixed.T], axis=1)


def developed(seen, camera, white, random):
    """Return JPEG bytes of what the sensor took in (rows, columns, 3), where `white` is the scene's white at 1."""
    seen = seen + camera.veil_frac * seen[::16, ::16].mean(axis=(0, 1))
    seen = cv2.GaussianBlur(seen.astype(np.float32), (0, 0), camera.blur_px)
    noise = random.standard_normal(seen.shape, np.float32)
    noise *= cv2.sqrt(seen * np.float32(1 / camera.white_electrons) + np.float32(_read_frac(camera) ** 2))
    seen += noise
    np.minimum(seen, 1, out=seen)
    to_srgb = ((STEPS - 1) * _matrix(camera) * (np.array(camera.balance) / white)).astype(np.float32)
    linear = cv2.transform(seen, to_srgb)
    np.clip(linear, 0, STEPS - 1, out=linear)
    return _jpeg(_curve(camera)[linear.astype(np.uint16)], camera.quality)


def _read_frac(camera):
    return camera.read_electrons / camera.white_electrons


@cache
def _matrix(camera):
    """Return balanced sensor values → linear sRGB, fitted under the light the maker thought of, then saturated."""
    random = np.random.default_rng(11)
    things = np.array([spectra.random_dyeing(random).reflectance() for _ in range(60)] + list(spectra.chart()))
    lamp = spectra.light(camera.matrix_light)[:, None]
    band = camera.sensitivities() * lamp
    seen = things @ band / band.sum(axis=0)
    meant = spectra.xyz(things, seen_by=spectra.OBSERVER_2) @ SRGB_OF_XYZ.T
    fitted = np.linalg.lstsq(seen, meant, rcond=None)[0].T
    fitted /= fitted.sum(axis=1, keepdims=True)  # white stays white
    more = camera.saturation * np.eye(3) + (1 - camera.saturation) * LUMINANCE
    return more @ fitted


def _curve(camera):
    """Return the table linear → code: the sRGB encoding, a gamma and an S."""
    linear = np.linspace(0, 1, STEPS) ** camera.gamma
    code = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    code = (1 - camera.contrast) * code + camera.contrast * code**2 * (3 - 2 * code)
    return np.round(255 * code).astype(np.uint8)


def _jpeg(codes, quality):
    file = io.BytesIO()
    Image.fromarray(codes).save(file, format="JPEG", quality=quality, subsampling=2)
    return file.getvalue()
