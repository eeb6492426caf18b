"""Rendered photos of skeins with known colours: what judging is tried on. It shares no code with the judge.

A scene is drawn in XYZ (D65, 10°) on a white board, lit unevenly, seen by a camera with its own 3×3 and tone curve,
with noise, as 8-bit values. Nothing here is real yarn.
"""

import io
from dataclasses import dataclass, field

import numpy as np
from PIL import Image

WHITE = np.array([94.811, 100.0, 107.304])  # ASTM E308-01, table 5: D65, 10°
# A camera's own colour space against linear sRGB: channels that overlap (invented).
CAMERA = np.array([[0.86, 0.20, -0.02], [0.10, 0.84, 0.10], [0.03, 0.14, 0.80]])
SRGB = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) * 100  # IEC 61966-2-1


@dataclass
class Scene:
    """What is in the picture. Boxes are x, y, w, h; the chart's corners run clockwise from dark skin."""

    width: int = 1200
    height: int = 900
    skeins: list[tuple[tuple[int, int, int, int], tuple[float, float, float]]] = field(default_factory=list)
    chart_xyz: np.ndarray | None = None
    chart_corners: tuple[tuple[float, float], ...] = ((60, 40), (420, 40), (420, 280), (60, 280))
    gamma: float = 1.0
    exposure: float = 0.85
    gradient: tuple[float, float] = (0.0, 0.0)
    noise: float = 0.002
    strand_px: int = 0
    board: float = 0.85
    seed: int = 1


def xyz_of_lab(lab):
    """CIELAB backwards, written out anew (CIE 015:2018, 8.2.1), for colours above the straight part."""
    L, a, b = lab
    fy = (L + 16) / 116
    return WHITE * np.array([fy + a / 500, fy, fy - b / 200]) ** 3


def render(scene: Scene) -> np.ndarray:
    """Return the picture as 8-bit values (rows, columns, 3)."""
    random = np.random.default_rng(scene.seed)
    xyz = np.broadcast_to(WHITE * scene.board, (scene.height, scene.width, 3)).copy()
    for (x, y, w, h), lab in scene.skeins:
        shade = _strands(w, h, scene.strand_px, random)
        xyz[y : y + h, x : x + w] = xyz_of_lab(lab) * shade[..., None]
    if scene.chart_xyz is not None:
        _draw_chart(xyz, scene)
    u, v = np.linspace(-1, 1, scene.width), np.linspace(-1, 1, scene.height)
    light = np.exp(scene.gradient[0] * u[None, :] + scene.gradient[1] * v[:, None]) * scene.exposure
    to_white = SRGB.sum(axis=1) / WHITE  # the white of the scene is the camera's white
    linear = (xyz * to_white) @ np.linalg.inv(SRGB).T @ CAMERA.T / CAMERA.sum(axis=1) * light[..., None]
    linear += random.normal(0, scene.noise, linear.shape) * np.sqrt(np.maximum(linear, 0.01))
    seen = np.clip(linear, 0, 1) ** scene.gamma
    encoded = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * np.maximum(seen, 1e-9) ** (1 / 2.4) - 0.055)
    return np.round(255 * encoded).astype(np.uint8)


def _strands(w, h, strand_px, random):
    """Shading of strands that lie across, as cylinders lit from the front, with gaps in shadow."""
    if not strand_px:
        return np.ones((h, w))
    waviness = np.cumsum(random.normal(0, 0.15, w))
    phase = ((np.arange(h)[:, None] + waviness[None, :]) / strand_px) % 1
    across = np.abs(2 * phase - 1)
    return np.where(across > 0.9, 0.35, np.sqrt(1 - np.minimum(across, 0.9) ** 2))


def _draw_chart(xyz, scene):
    """Draw 24 patches with dark gaps, by the perspective that the four corners give."""
    corners = np.array(scene.chart_corners, float)
    source = np.array([(0, 0), (6, 0), (6, 4), (0, 4)], float)
    rows = []
    for (u, v), (x, y) in zip(source, corners, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y, -u], [0, 0, 0, x, y, 1, -v * x, -v * y, -v]]
    to_chart = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    yy, xx = np.mgrid[0 : scene.height, 0 : scene.width] + 0.5
    u, v, w = np.einsum("ij,jhw->ihw", to_chart, np.stack([xx, yy, np.ones_like(xx)]))
    u, v = u / w, v / w
    frame = (u > -0.25) & (u < 6.25) & (v > -0.25) & (v < 4.25)
    xyz[frame] = WHITE * 0.03
    inside = (u > 0) & (u < 6) & (v > 0) & (v < 4) & (np.abs(u % 1 - 0.5) < 0.44) & (np.abs(v % 1 - 0.5) < 0.44)
    number = np.clip(np.floor(v), 0, 3).astype(int) * 6 + np.clip(np.floor(u), 0, 5).astype(int)
    xyz[inside] = scene.chart_xyz[number[inside]]


def jpeg(codes: np.ndarray, **options) -> bytes:
    """Return a picture as JPEG bytes."""
    return saved(codes, "JPEG", quality=95, subsampling=0, **options)


def saved(codes: np.ndarray, file_format: str, **options) -> bytes:
    """Return a picture as the bytes of a file."""
    file = io.BytesIO()
    Image.fromarray(codes).save(file, format=file_format, **options)
    return file.getvalue()
