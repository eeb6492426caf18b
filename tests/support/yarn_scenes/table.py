"""The table the skeins lie on: where things are, how the camera looks, the ground, the light and the shadows."""

from dataclasses import dataclass

import cv2
import numpy as np

from yarn_scenes import forms, spectra
from yarn_scenes.forms import Form, noise, step

COARSE = 8  # light and shadow change slowly: they are drawn on every 8th pixel
PLAIN = ("white paper", "grey board")
FOCAL_FRAC = 0.8  # focal length over picture width, near a phone's main camera (estimate)


@dataclass(frozen=True)
class Spot:
    """Where a thing lies: its middle on the table, its turn, its length and width."""

    x_cm: float
    y_cm: float
    turn_rad: float
    length_cm: float
    width_cm: float

    def on_table(self, points):
        """Return the thing's own points (n, 2) as points of the table."""
        c, s = np.cos(self.turn_rad), np.sin(self.turn_rad)
        return np.asarray(points) @ np.array([[c, s], [-s, c]]) + (self.x_cm, self.y_cm)

    def own(self, u, v):
        """Return points of the table as the thing's own x and y."""
        c, s = float(np.cos(self.turn_rad)), float(np.sin(self.turn_rad))
        du, dv = u - self.x_cm, v - self.y_cm
        return du * c + dv * s, -du * s + dv * c


@dataclass(frozen=True)
class View:
    """The camera's perspective: `to_image` takes a point of the table to a pixel."""

    to_image: np.ndarray
    width_px: int
    height_px: int

    def pixels(self, points):
        """Return table points (n, 2) as pixels (n, 2)."""
        return cv2.perspectiveTransform(np.asarray(points, float)[None], self.to_image)[0]

    def table(self, x, y):
        """Return pixels as points of the table, two arrays of the pixels' shape."""
        m = np.linalg.inv(self.to_image).astype(np.float32)
        w = m[2, 0] * x + m[2, 1] * y + m[2, 2]
        return (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / w, (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / w


def looked_at(conditions, width_px, height_px):
    """Return the view of a camera that is held nearly straight above the table's middle."""
    wide, high = conditions.view_cm, conditions.view_cm * height_px / width_px
    turned = cv2.Rodrigues(np.deg2rad([*conditions.tilt_deg, conditions.roll_deg]))[0]
    away = FOCAL_FRAC * wide
    outer = np.column_stack([turned[:, 0], turned[:, 1], (0, 0, away)])
    lens = np.array([[FOCAL_FRAC * width_px, 0, width_px / 2], [0, FOCAL_FRAC * width_px, height_px / 2], [0, 0, 1]])
    middle = np.array([[1, 0, -wide / 2], [0, 1, -high / 2], [0, 0, 1]])
    return View(lens @ outer @ middle, width_px, height_px)


def layout(conditions, form, number, high_cm, random):
    """Return the chart's spot and those of the skeins, the chart along one side and the skeins in rows beside it."""
    wide, edge = conditions.view_cm, 0.07 * conditions.view_cm
    left, top, right, bottom = edge, edge, wide - edge, high_cm - edge
    long, short = conditions.chart_cm, conditions.chart_cm * 0.69
    is_upright = abs(np.sin(np.deg2rad(conditions.chart_turn_deg))) > 0.7
    deep = (
        (long if is_upright else short)
        if conditions.chart_side in {"top", "bottom"}
        else (short if is_upright else long)
    )
    deep = deep if conditions.has_chart else -3.0
    spots = {
        "top": ((wide / 2 + random.uniform(-0.2, 0.2) * wide, top + deep / 2), (left, top + deep + 3, right, bottom)),
        "bottom": (
            (wide / 2 + random.uniform(-0.2, 0.2) * wide, bottom - deep / 2),
            (left, top, right, bottom - deep - 3),
        ),
        "left": ((left + deep / 2, high_cm / 2), (left + deep + 3, top, right, bottom)),
        "right": ((right - deep / 2, high_cm / 2), (left, top, right - deep - 3, bottom)),
    }
    middle, room = spots[conditions.chart_side]
    chart = Spot(*middle, np.deg2rad(conditions.chart_turn_deg), long, long * 4 / 6)
    return chart, _rows(form, number, room, random)


def _rows(form, number, room, random):
    """Return the skeins' spots: as many rows as make them largest."""
    left, top, right, bottom = room
    best = max(
        (_fitting(form, (right - left) / columns, (bottom - top) / -(-number // columns)), columns)
        for columns in range(1, number + 1)
    )
    (length, is_upright), columns = best
    rows = -(-number // columns)
    cell_w, cell_h = (right - left) / columns, (bottom - top) / rows
    spots = []
    for i in range(number):
        x = left + (i % columns + 0.5) * cell_w + random.normal(0, 0.015) * cell_w
        y = top + (i // columns + 0.5) * cell_h + random.normal(0, 0.015) * cell_h
        turn = np.deg2rad(random.normal(0, 2.5) + (90 if is_upright else 0) + random.choice([0, 180]))
        scale = random.uniform(0.94, 1.0)
        spots.append(Spot(x, y, turn, scale * length, scale * length / forms.ASPECT[form]))
    return spots


def _fitting(form, cell_w, cell_h):
    """Return the greatest length that leaves room round it in a cell, and whether it stands upright."""
    lying = min(0.84 * cell_w, 0.78 * cell_h * forms.ASPECT[form])
    standing = min(0.84 * cell_h, 0.78 * cell_w * forms.ASPECT[form])
    limit = 42.0 if form in {Form.HANK, Form.TWISTED} else 16.0
    return min(max(lying, standing), limit), standing > lying


def ground_curves(name, random):
    """Return two curves that the ground is mixed of."""
    nm = spectra.NM
    if name == "white paper":
        white = random.uniform(0.82, 0.9) - 0.05 * np.exp(-(nm - 380) / 25)
        return white, 0.97 * white
    if name == "grey board":
        grey = random.uniform(0.25, 0.55) * (1 + random.normal(0, 0.015) * (nm - 580) / 200)
        return grey, 0.95 * grey
    if name == "wood":
        pale = random.uniform(0.35, 0.6) * step(330, 780, nm) ** 0.7
        return pale, 0.7 * pale * step(300, 760, nm) ** 0.3
    cloth = spectra.Dyeing((430, 520, 610), (45, 40, 50), tuple(np.exp(random.uniform(-3, -0.5, 3)))).reflectance()
    return cloth, 0.75 * cloth


def ground_texture(name, view, random):
    """Return the share of the ground's second curve (rows, columns), coarse where the ground is plain."""
    apart = COARSE if name in PLAIN else 1
    y, x = np.mgrid[0 : view.height_px : apart, 0 : view.width_px : apart].astype(np.float32)
    u, v = view.table(x, y)
    if name == "wood":
        bent = v + 0.6 * noise(random, u, v, 30.0, 8.0)
        grain = noise(random, u, bent, 25.0, 0.5) + 0.6 * noise(random, u, bent, 8.0, 0.15)
        return step(-1.5, 1.5, grain)
    if name == "cloth":
        weave = np.sin(2 * np.pi * u / 0.25) * np.sin(2 * np.pi * v / 0.25)
        return np.clip(0.5 + 0.3 * weave + 0.2 * noise(random, u, v, 0.6), 0, 1)
    return np.clip(0.5 + 0.3 * noise(random, u, v, 12.0), 0, 1)


def lights(conditions, view, random):
    """Return how strong each lamp is over the picture (lamps, rows, columns), coarse, 1 in the middle for their sum."""
    y, x = np.mgrid[0 : view.height_px : COARSE, 0 : view.width_px : COARSE].astype(np.float32)
    u, v = view.table(x, y)
    high = conditions.view_cm * view.height_px / view.width_px
    u, v = u - conditions.view_cm / 2, v - high / 2
    vignette = 1 - conditions.vignette_frac * (((x / view.width_px - 0.5) ** 2 + (y / view.height_px - 0.5) ** 2) / 0.5)
    shares = (1 - conditions.second_frac, conditions.second_frac)
    falls = []
    ways = ((0.0, 1.0), (random.uniform(90, 270), 1.6))  # the second lamp lights the room from farther away
    for share, (turn_deg, farther) in zip(shares[: len(conditions.lamps)], ways, strict=False):
        far_cm = farther * conditions.far_cm
        angle = np.deg2rad(conditions.from_deg + turn_deg)
        du = u - np.cos(angle) * far_cm * 0.75
        dv = v - np.sin(angle) * far_cm * 0.75
        squared = du**2 + dv**2 + (0.66 * far_cm) ** 2
        falls.append(share * far_cm**2 / squared * vignette)
    return np.stack(falls) * _dusk(conditions, u, v, random)


def _dusk(conditions, u, v, random):
    angle = random.uniform(0, 2 * np.pi)
    away = u * np.cos(angle) + v * np.sin(angle)
    wide = random.uniform(8, 20)
    return 1 - conditions.dusk_frac * step(0.2 * conditions.view_cm, 0.2 * conditions.view_cm + wide, away)


def shadows(conditions, view, polygons, height_cm):
    """Return what the skeins leave of the light on the ground (rows, columns), coarse."""
    shape = (-(-view.height_px // COARSE), -(-view.width_px // COARSE))
    mask = np.zeros(shape, np.float32)
    for polygon in polygons:
        cv2.fillPoly(mask, [np.round(polygon / COARSE).astype(np.int32)], 1.0)
    cm = view.width_px / conditions.view_cm / COARSE
    reach = height_cm * np.tan(np.deg2rad(conditions.slant_deg)) * cm
    angle = np.deg2rad(conditions.from_deg)
    shift = np.array([[1, 0, -np.cos(angle) * reach / 2], [0, 1, -np.sin(angle) * reach / 2]])
    cast = cv2.warpAffine(mask, shift, shape[::-1])
    cast = cv2.GaussianBlur(cast, (0, 0), max(0.25 * reach + 0.3 * cm, 0.5))
    contact = cv2.GaussianBlur(mask, (0, 0), 0.5 * height_cm * cm)
    return (1 - conditions.direct_frac * cast) * (1 - 0.35 * contact)


def facing(conditions, slope_x, slope_y):
    """Return how much light a slope takes in against level ground; slopes are rise over run on the table."""
    angle, slant = np.deg2rad(conditions.from_deg), np.deg2rad(conditions.slant_deg)
    length = np.sqrt(1 + slope_x**2 + slope_y**2)
    toward = -slope_x * np.cos(angle) * np.tan(slant) - slope_y * np.sin(angle) * np.tan(slant) + 1
    direct = np.maximum(toward / length, 0)
    return conditions.direct_frac * direct + (1 - conditions.direct_frac) * (0.5 + 0.5 / length)
