"""The shapes yarn comes in: for each place, where it lies along and across the strands and how the surface slopes.

Lengths in cm; x runs along the form, y across, both from its middle.
"""

from dataclasses import dataclass
from enum import StrEnum

import cv2
import numpy as np


class Form(StrEnum):
    """What the yarn is wound or made into."""

    HANK = "hank"
    TWISTED = "twisted skein"
    CAKE = "cake"
    SWATCH = "swatch"
    LOOSE = "loose fibre"


GRAINS = 96  # of noise along a side of its table
ASPECT = {Form.HANK: 4.2, Form.TWISTED: 3.6, Form.CAKE: 1.0, Form.SWATCH: 1.2, Form.LOOSE: 1.4}  # estimates


@dataclass
class Place:
    """For every pixel: cm inside the outline, along and across the strands, slopes of the surface, shade of hollows."""

    inside_cm: np.ndarray
    along_cm: np.ndarray
    across_cm: np.ndarray
    slope_x: np.ndarray
    slope_y: np.ndarray
    hollow: np.ndarray


def noise(random, x, y, scale_x, scale_y=None):
    """Return smooth noise of mean 0 and standard deviation near 0.7, its grains `scale` in size."""
    table = random.standard_normal((GRAINS, GRAINS)).astype(np.float32)
    start = random.uniform(0, GRAINS, 2).astype(np.float32)
    u, v = _wrapped(x, scale_x, start[0]), _wrapped(y, scale_y or scale_x, start[1])
    return cv2.remap(table, u, v, cv2.INTER_CUBIC, borderMode=cv2.BORDER_WRAP)


def _wrapped(x, scale, start):
    """Return places on the noise's table; remap itself wraps but once."""
    turns = (x * np.float32(1 / (scale * GRAINS)) + start / GRAINS).astype(np.float32, copy=False)
    turns -= np.floor(turns)
    turns *= np.float32(GRAINS)
    return turns


def step(low, high, value):
    """Return 0 below low, 1 above high, smooth between."""
    t = np.clip((value - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def outline(form, length, width, random):
    """Return the polygon round a form (points, 2)."""
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    if form in {Form.HANK, Form.TWISTED}:
        ends = np.sign(np.cos(turn)) * (length - width) / 2
        return np.stack([ends + width / 2 * np.cos(turn), width / 2 * np.sin(turn)], axis=1)
    if form == Form.CAKE:
        return width / 2 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    if form == Form.SWATCH:
        return np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * (length / 2, width / 2)
    lumps = 1 + sum(random.normal(0, 0.05) * np.cos(k * turn + random.uniform(0, 6)) for k in (2, 3, 5))
    return lumps[:, None] * np.stack([length / 2 * np.cos(turn), width / 2 * np.sin(turn)], axis=1) * 0.94


def place(form, x, y, length, width, random):
    """Return where each pixel lies on a form."""
    if form == Form.HANK:
        return _hank(x, y, length, width)
    if form == Form.TWISTED:
        return _twisted(x, y, length, width)
    if form == Form.CAKE:
        return _cake(x, y, width)
    if form == Form.SWATCH:
        return _swatch(x, y, length, width)
    return _loose(x, y, length, width, random)


def _hank(x, y, length, width):
    """A loop pressed flat: strands go along one side, round the end and back along the other."""
    half, straight = width / 2, (length - width) / 2
    beyond = np.maximum(np.abs(x) - straight, 0)
    radius = np.hypot(beyond, y) + 1e-4
    along = np.sign(x) * (np.minimum(np.abs(x), straight) + radius * np.arctan2(beyond, np.abs(y) + 1e-4))
    across = radius + np.float32(40) * (y < 0)
    bulge = (radius - half / 2) / (half / 2)
    slope = 1.1 * np.sign(bulge) * np.abs(bulge) ** 3
    hollow = 0.45 + 0.55 * step(0.05, 0.35, radius)
    return Place(half - radius, along, across, -slope * beyond * np.sign(x) / radius, -slope * y / radius, hollow)


def _twisted(x, y, length, width):
    """Two ropes of strands turned about each other: slanting lobes with dark crossings."""
    half = width / 2
    ends = np.maximum(np.abs(x) - (length - width) / 2, 0)
    turn_cm = 1.5 * width
    bent = x + 0.9 * y + 0.5 * y**3 / half**2
    lobe = 2 * np.mod(bent / turn_cm, 1) - 1
    number = np.floor(bent / turn_cm)
    waist = half * (0.9 + 0.1 * np.cos(np.float32(np.pi) * lobe))
    rise = 1.0 * np.sign(lobe) * np.abs(lobe) ** 3
    side = y / half
    hollow = 0.3 + 0.7 * step(1.0, 0.8, np.abs(lobe))
    slope_y = -0.6 * rise - 0.9 * np.sign(side) * np.abs(side) ** 3
    along, across = (y - 0.9 * x) / 1.345, bent / 1.345 + 7.3 * np.mod(number, 7)
    return Place(waist - np.hypot(ends, y), along, across, -0.7 * rise, slope_y, hollow)


def _cake(x, y, width):
    """Rings of strands round a hole, the top flat, the rim falling away."""
    half = width / 2
    radius = np.hypot(x, y) + 1e-4
    rim = step(0.7, 1.05, radius / half) * 1.3
    hollow = 0.1 + 0.9 * step(0.09, 0.17, radius / half)
    along = radius * np.arctan2(y, x)
    return Place(half - radius, along, radius, -rim * x / radius, -rim * y / radius, hollow)


def _swatch(x, y, length, width):
    """Knitted stitches: columns of two legs each."""
    column_cm = 0.55
    fraction = np.mod(y / column_cm, 1)
    leg = np.abs(2 * fraction - 1)
    across = x + 0.45 * column_cm * leg + 11 * np.mod(np.floor(y / column_cm), 5)
    hollow = (1 - 0.5 * step(0.7, 1, leg)) * (0.6 + 0.4 * step(0, 0.3, leg))
    edge = np.minimum(length / 2 - np.abs(x), width / 2 - np.abs(y))
    flat = np.zeros_like(x)
    return Place(edge, y + flat, across, flat, flat, hollow)


def _loose(x, y, length, width, random):
    """A handful of fibre: locks that run roughly one way, the edge in wisps."""
    bend = 1.2 * noise(random, x, y, 4.0)
    locks = noise(random, x + bend, y + bend, 1.6, 0.5)
    radius = np.hypot(x / (length / 2), y / (width / 2)) + 1e-4
    edge = (1 - radius + 0.06 * noise(random, x, y, 1.5)) * width / 2
    rise = step(0.3, 1.0, radius) * 0.8
    slope_x, slope_y = -rise * x / (length / 2), -rise * y / (width / 2)
    return Place(edge, x + bend, y + bend, slope_x, slope_y + 0.1 * locks, 0.75 + 0.25 * step(-1.2, 0.3, locks))
