"""A photo of skeins and the truth about it."""

from dataclasses import dataclass

import cv2
import numpy as np

from yarn_scenes import camera, forms, spectra, table, yarn
from yarn_scenes.colours import Uneven, painted
from yarn_scenes.conditions import Conditions, random_conditions
from yarn_scenes.forms import Form, step

CAVITY = 0.6  # share of light that comes back from a hollow's walls rather than leaving it (estimate)
LEAN = 0.015  # by which a skein lies out of level, rise over run (estimate: about one degree)
BOARD = 0.045  # reflectance of the chart's board (estimate)
LIT_FROM = 0.75  # of a skein's pixels are darker than what "lit yarn" means here (a convention: seen level, it is 1)
FORMS = (Form.HANK, Form.TWISTED, Form.CAKE, Form.SWATCH, Form.LOOSE)


@dataclass(frozen=True)
class Truth:
    """What is asked of the skeins: how many, of which form, how far each is from the first's dyeing (ΔE00), how uneven.

    None is drawn at random. `dyeings` are those of each skein where they are known.
    """

    number: int = 6
    form: Form | None = None
    off_de00: tuple[float, ...] = ()
    uneven: tuple[Uneven | None, ...] = ()
    uneven_de00: float = 4.0
    noise_de00: float | None = None
    dyeing: spectra.Dyeing | None = None
    dyeings: tuple[spectra.Dyeing, ...] = ()


@dataclass(frozen=True)
class Scene:
    """The photo, and where and what everything in it is. Labs are D65, 10°, of lit yarn; corners run from dark skin."""

    jpeg: bytes
    outlines: tuple[np.ndarray, ...]
    labs: np.ndarray
    chart_corners: np.ndarray | None
    form: Form
    uneven: tuple[Uneven | None, ...]
    truth: Truth
    conditions: Conditions

    def boxes(self):
        """Return x, y, width, height of each skein."""
        return [(*o.min(axis=0), *(o.max(axis=0) - o.min(axis=0))) for o in self.outlines]

    def difference(self, a, b):
        """Return the true ΔE00 of two skeins, counted from 0."""
        return float(spectra.de00(self.labs[a], self.labs[b]))


def make(seed, *, truth=None, conditions=None, megapixels=3.0):
    """Return a scene. `conditions` are Conditions, or a dict of those that are fixed while the rest is random."""
    random = np.random.default_rng(seed)
    truth = truth or Truth()
    if not isinstance(conditions, Conditions):
        conditions = random_conditions(random, **(conditions or {}))
    form = truth.form or FORMS[int(random.choice(len(FORMS), p=(0.4, 0.25, 0.15, 0.12, 0.08)))]
    height = round(np.sqrt(megapixels * 1e6 * 3 / 4) / 16) * 16
    view = table.looked_at(conditions, height * 4 // 3, height)
    chart, spots = table.layout(conditions, form, truth.number, conditions.view_cm * 0.75, random)
    return _Studio(random, truth, conditions, form, view, chart, spots).photographed()


@dataclass
class _Studio:
    random: np.random.Generator
    truth: Truth
    conditions: Conditions
    form: Form
    view: table.View
    chart: table.Spot
    spots: list[table.Spot]
    level: float | None = None  # of lit yarn, one for all skeins: they are of one yarn

    def __post_init__(self):
        lamps = np.array([spectra.light(name) for name in self.conditions.lamps])
        self.bands = self.conditions.camera.sensitivities()[None] * lamps[:, :, None]
        middle = (1 - self.conditions.second_frac, self.conditions.second_frac)[: len(lamps)]
        self.white = np.tensordot(middle, self.bands.sum(axis=1), 1)
        self.bands = self.bands / self.white.max()
        self.white = self.white / self.white.max()

    def seen(self, curves):
        """Return what the sensor takes in of curves (…, wavelength) under each lamp (lamps, …, 3)."""
        return np.stack([curves @ band for band in self.bands]).astype(np.float32)

    def photographed(self):
        outlines = [self._outline(spot) for spot in self.spots]
        polygons = [self.view.pixels(outline) for outline in outlines]
        self.light = table.lights(self.conditions, self.view, self.random)
        shadow = table.shadows(self.conditions, self.view, polygons, self._height_cm())
        picture = self._ground(self.light * shadow)
        corners = self._draw_chart(picture, shadow) if self.conditions.has_chart else None
        labs, drawn = self._draw_skeins(picture, polygons)
        picture *= self.conditions.peak / (0.9 * self.light.sum(axis=0).max())
        jpeg = camera.developed(picture, self.conditions.camera, self.white, self.random)
        kinds = tuple(self._kind(i) for i in range(len(labs)))
        return Scene(jpeg, drawn, labs, corners, self.form, kinds, self.truth, self.conditions)

    def _outline(self, spot):
        own = forms.outline(self.form, spot.length_cm, spot.width_cm, self.random)
        return spot.on_table(own)

    def _height_cm(self):
        return {Form.SWATCH: 0.4, Form.CAKE: 5.0}.get(self.form, 3.0)

    def _kind(self, number):
        return self.truth.uneven[number] if number < len(self.truth.uneven) else None

    def _full(self, coarse, rows=slice(None), columns=slice(None)):
        """Return a coarse map at full size, or a part of it."""
        if rows == slice(None):
            return cv2.resize(coarse.astype(np.float32), (self.view.width_px, self.view.height_px))
        x = (np.arange(columns.start, columns.stop, dtype=np.float32) + 0.5) / table.COARSE - 0.5
        y = (np.arange(rows.start, rows.stop, dtype=np.float32) + 0.5) / table.COARSE - 0.5
        x, y = np.meshgrid(x, y)
        return cv2.remap(coarse.astype(np.float32), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)

    def _ground(self, light):
        ground = np.array(table.ground_curves(self.conditions.ground, self.random))
        is_plain = self.conditions.ground in table.PLAIN
        share = table.ground_texture(self.conditions.ground, self.view, self.random)[..., None]
        picture = 0
        for lamp, (first, second) in zip(light, self.seen(ground), strict=True):
            strength = lamp if is_plain else self._full(lamp)
            picture = picture + (first + share * (second - first)) * strength[..., None].astype(np.float32)
        return self._full(picture) if is_plain else picture

    def _window(self, polygon, margin_px):
        """Return the rows and columns round a polygon, and the table's points there."""
        low = np.maximum(np.floor(polygon.min(axis=0)).astype(int) - margin_px, 0)
        high = np.ceil(polygon.max(axis=0)).astype(int) + margin_px
        rows = slice(low[1], min(high[1], self.view.height_px))
        columns = slice(low[0], min(high[0], self.view.width_px))
        y, x = np.mgrid[rows, columns].astype(np.float32)
        return rows, columns, self.view.table(x, y)

    def _draw_chart(self, picture, shadow):
        long, wide = self.chart.length_cm, self.chart.width_cm
        corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * (long / 2, wide / 2)
        rows, columns, (u, v) = self._window(self.view.pixels(self.chart.on_table(1.12 * corners)), 2)
        x, y = self.chart.own(u, v)
        x, y = 6 * (x / long + 0.5), 4 * (y / wide + 0.5)
        is_board = (np.abs(x - 3) < 3.3) & (np.abs(y - 2) < 2.3)
        is_patch = (
            (np.maximum(np.abs(x % 1 - 0.5), np.abs(y % 1 - 0.5)) < 0.43) & (np.abs(x - 3) < 3) & (np.abs(y - 2) < 2)
        )
        patch = np.clip(y, 0, 3.99).astype(int) * 6 + np.clip(x, 0, 5.99).astype(int)
        curves = np.vstack([spectra.chart(), np.full_like(spectra.NM, BOARD)])
        drawn = 0
        for lamp, colours in zip(self.light, self.seen(curves), strict=True):
            light = self.conditions.chart_facing_frac * self._full(lamp * np.sqrt(shadow), rows, columns)
            drawn = drawn + colours[np.where(is_patch, patch, 24)] * light[..., None]
        picture[rows, columns][is_board] = drawn[is_board]
        return self.view.pixels(self.chart.on_table(corners))

    def _draw_skeins(self, picture, polygons):
        first = self.truth.dyeing or spectra.random_dyeing(self.random)
        unrest = self.truth.noise_de00
        unrest = self.random.uniform(0.2, 0.4) if unrest is None else unrest
        told = []
        for i, (spot, polygon) in enumerate(zip(self.spots, polygons, strict=True)):
            off = self.truth.off_de00[i] if i < len(self.truth.off_de00) else 0.0
            dyeing = self.truth.dyeings[i] if self.truth.dyeings else spectra.apart(first, off, self.random)
            told.append(self._draw_skein(picture, spot, polygon, dyeing, self._kind(i), unrest))
        labs, drawn = zip(*told, strict=True)
        return np.array(labs), drawn

    def _draw_skein(self, picture, spot, polygon, dyeing, kind, unrest):
        random, how = self.random, self.conditions.yarn
        rows, columns, (u, v) = self._window(polygon, 6 + int(0.08 * np.ptp(polygon, axis=0).max()))
        x, y = spot.own(u, v)
        size = spot.length_cm, spot.width_cm
        place = forms.place(self.form, x, y, *size, random)
        lit, sheen = yarn.shade(self.form, place, how, random)
        cover = yarn.cover(place, how, random)
        dyed = painted(self.form, dyeing, kind, x, y, *size, random, noise_de=unrest, size_de=self.truth.uneven_de00)
        body = (cover > 0.9) & (lit > 0.75)
        dyed.weights[..., 1:3] -= dyed.weights[body][:, 1:3].mean(axis=0)
        if not how.is_flat:
            lit = lit * place.hollow
            self.level = self.level or float(np.quantile(lit[cover > 0.9], LIT_FROM))
            lit = how.crest_frac * lit / self.level * self._facing(spot, place)
        colour = self._lit_yarn(dyed, lit, sheen, rows, columns)
        self._dress(colour, spot, x, y, rows, columns)
        picture[rows, columns] += cover[..., None] * (colour - picture[rows, columns])
        lab = spectra.lab(dyed.weights[body].mean(axis=0) @ dyed.curves)
        return lab, _contour(cover) + np.array([columns.start, rows.start])

    def _facing(self, spot, place):
        c, s = float(np.cos(spot.turn_rad)), float(np.sin(spot.turn_rad))
        slope_x = place.slope_x * c - place.slope_y * s + float(self.random.normal(0, LEAN))
        slope_y = place.slope_x * s + place.slope_y * c + float(self.random.normal(0, LEAN))
        edge = 0.55 + 0.45 * step(0.0, 1.2, place.inside_cm)  # the ground shades the skein's foot
        return edge * table.facing(self.conditions, slope_x, slope_y)

    def _lit_yarn(self, dyed, lit, sheen, rows, columns):
        """Return the yarn as seen: in hollows light goes from strand to strand and takes on the yarn's colour."""
        lit = lit.astype(np.float32)
        shade = np.minimum(lit, 1)[..., None]
        drawn = 0
        for lamp, band, curves in zip(self.light, self.bands, self.seen(dyed.curves), strict=True):
            white = band.sum(axis=0).astype(np.float32)
            colour = cv2.transform(dyed.weights, np.ascontiguousarray(curves.T))
            back = 1 - CAVITY * (1 - shade) * np.clip(colour / white, 0, 1)
            light = self._full(lamp, rows, columns)[..., None]
            drawn = drawn + light * (colour * (lit[..., None] / back) + sheen[..., None] * white)
        return drawn

    def _dress(self, colour, spot, x, y, rows, columns):
        """Draw the ties across a hank and a paper label on some."""
        if self.form not in {Form.HANK, Form.TWISTED} or self.conditions.yarn.is_flat:
            return
        light = self._full(self.light.sum(axis=0), rows, columns)[..., None] * self.white.astype(np.float32)
        if self.conditions.has_ties and self.form == Form.HANK:
            for at in self.random.uniform(-0.36, 0.36, 3) * spot.length_cm:
                bent = np.abs(x - at - self.random.normal(0, 0.1) * y)
                round_it = step(0.17, 0.12, bent)[..., None]
                colour *= 1 - 0.4 * step(0.45, 0.15, bent)[..., None]
                colour += round_it * (0.75 * light * (1 - (bent / 0.22).clip(0, 1) ** 2)[..., None] - colour)
        if self.conditions.has_labels:
            paper = (np.abs(x - 0.3 * spot.length_cm) < 1.6) & (np.abs(y) < 0.36 * spot.width_cm)
            print_ = 0.8 - 0.5 * ((np.mod(x, 0.5) < 0.2) & (np.mod(7 * y, 1.3) < 0.8))
            colour[paper] = (light * print_[..., None])[paper]


def _contour(cover):
    """Return the polygon round what is covered (points, 2), to half a pixel."""
    found, _ = cv2.findContours((cover > 0.5).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    largest = max(found, key=cv2.contourArea)
    return cv2.approxPolyDP(largest, 1.5, closed=True)[:, 0].astype(float) + 0.5
