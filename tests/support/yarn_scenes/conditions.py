"""What a photo was taken under, drawn at random as a studio's table has it. Ranges are estimates."""

from dataclasses import dataclass, field, replace
from typing import Any

from yarn_scenes.camera import Camera
from yarn_scenes.spectra import SENSORS
from yarn_scenes.yarn import Yarn

DAYLIGHTS = ("D50", "D55", "D65", "D75")
LAMPS = ("LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-V1", "FL11", "FL2", "A")
GROUNDS = ("white paper", "grey board", "wood", "cloth")


@dataclass(frozen=True)
class Conditions:
    """One photo's light, ground, camera and chart.

    `lamps` are the main light and, where two mix, the second with its share. `direct_frac` is the part of the main
    light that comes from one side, at `from_deg` round the table and `slant_deg` from above; `far_cm` how far away it
    is. `dusk_frac` is the depth of a wide shadow across a side of the table, such as the photographer's.
    """

    lamps: tuple[str, ...] = ("D65",)
    second_frac: float = 0.0
    ground: str = "white paper"
    direct_frac: float = 0.35
    from_deg: float = 120.0
    slant_deg: float = 40.0
    far_cm: float = 160.0
    vignette_frac: float = 0.1
    dusk_frac: float = 0.0
    tilt_deg: tuple[float, float] = (0.0, 0.0)
    roll_deg: float = 0.0
    peak: float = 0.85
    view_cm: float = 95.0
    has_chart: bool = True
    chart_cm: float = 20.0
    chart_side: str = "top"
    chart_turn_deg: float = 0.0
    chart_facing_frac: float = 1.0
    has_ties: bool = True
    has_labels: bool = False
    camera: Camera = field(default_factory=Camera)
    yarn: Yarn = field(default_factory=Yarn)


def random_conditions(random, **fixed: Any) -> Conditions:
    """Return conditions at random; what is named stays as given."""
    lamps = _lamps(random)
    drawn = Conditions(
        lamps=lamps,
        second_frac=random.uniform(0.05, 0.2) if len(lamps) > 1 else 0.0,
        ground=str(random.choice(GROUNDS, p=(0.45, 0.3, 0.15, 0.1))),
        direct_frac=random.uniform(0.15, 0.55),
        from_deg=random.uniform(0, 360),
        slant_deg=random.uniform(20, 50),
        far_cm=random.uniform(110, 260),
        vignette_frac=random.uniform(0, 0.2),
        dusk_frac=random.uniform(0.1, 0.25) if random.random() < 0.2 else 0.0,
        tilt_deg=tuple(random.uniform(-9, 9, 2).tolist()),
        roll_deg=random.uniform(-4, 4),
        peak=random.uniform(0.65, 0.97),
        view_cm=random.uniform(62, 100),
        chart_cm=random.uniform(14, 28),
        chart_side=str(random.choice(["top", "bottom", "left", "right"])),
        chart_turn_deg=random.normal(0, 4) + float(random.choice([0, 90, 180, 270], p=(0.85, 0.05, 0.05, 0.05))),
        chart_facing_frac=random.uniform(0.93, 1.06),
        has_ties=random.random() < 0.7,
        has_labels=random.random() < 0.15,
        camera=_camera(random),
        yarn=_yarn(random),
    )
    return replace(drawn, **fixed)


def _lamps(random):
    kind = random.random()
    main = str(random.choice(DAYLIGHTS if kind < 0.55 else LAMPS))
    return (main, str(random.choice(LAMPS))) if kind > 0.9 or kind < 0.08 else (main,)


def _camera(random):
    return Camera(
        sensor=SENSORS[0],
        other_frac=random.uniform(0, 0.12),
        shift_nm=random.uniform(-5, 5),
        balance=tuple(random.normal(1, 0.02, 3).tolist()),
        matrix_light=str(random.choice(["D50", "D55", "D65"])),
        saturation=random.uniform(1.0, 1.25),
        contrast=random.uniform(0, 0.4),
        gamma=random.uniform(0.88, 1.12),
        white_electrons=random.uniform(3000, 12000),
        blur_px=random.uniform(0.5, 0.9),
        veil_frac=random.uniform(0, 0.01),
        quality=int(random.integers(85, 96)),
    )


def _yarn(random):
    return Yarn(
        strand_cm=random.uniform(0.13, 0.3),
        wave_cm=random.uniform(0.02, 0.1),
        scatter_frac=random.uniform(0.015, 0.04),
        gap_frac=random.uniform(0.25, 0.5),
        ply_frac=random.uniform(0.05, 0.18),
        halo_cm=random.uniform(0.05, 0.3),
        sheen_frac=random.uniform(0, 0.01),
        crest_frac=random.uniform(0.97, 1.03),
    )
