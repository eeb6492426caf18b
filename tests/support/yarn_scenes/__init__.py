"""Photos of skeins drawn from curves of reflectance, with their truth: what the judge of skeins is tried on.

It shares no code with the judge. Light, dyes, sensor and yarn are curves or surfaces of their own, so that metamerism,
a camera's error, shade, and light that goes from strand to strand come out by themselves. Nothing here is real yarn.
"""

from yarn_scenes.camera import Camera
from yarn_scenes.colours import Uneven
from yarn_scenes.conditions import GROUNDS, Conditions, random_conditions
from yarn_scenes.forms import Form
from yarn_scenes.scene import Scene, Truth, make
from yarn_scenes.spectra import Dyeing, lab, random_dyeing
from yarn_scenes.yarn import Yarn

__all__ = [
    "GROUNDS",
    "Camera",
    "Conditions",
    "Dyeing",
    "Form",
    "Scene",
    "Truth",
    "Uneven",
    "Yarn",
    "lab",
    "make",
    "random_conditions",
    "random_dyeing",
]
