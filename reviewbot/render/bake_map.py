"""How far each face of the low parts lies from the high ones, and where bake rays miss."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing

from reviewbot.mesh import FloatArray, Model
from reviewbot.render.album_settings import AlbumSettings
from reviewbot.render.backends import choose_renderer, open_backend
from reviewbot.render.camera import framing
from reviewbot.render.clay import clay_light, form_shade
from reviewbot.render.colours import Image
from reviewbot.render.compose import ViewImage, mask, picture
from reviewbot.render.heat import distance_scale, heat_light
from reviewbot.render.pair_sheet import ViewPair, laid_out, pair_sheet, scale_key
from reviewbot.render.panels import crop_box
from reviewbot.render.picture import Picture
from reviewbot.render.preview import corner_cameras
from reviewbot.render.scene import build_scene
from reviewbot.render.visibility import ViewBuffer, draw_views


def bake_picture(
    low: Model, face_gaps: Sequence[FloatArray], *, reach: float, settings: AlbumSettings
) -> Picture:
    """The low parts alone, from two sides.

    face_gaps  per part (F,) float64 distance to the high part, in units; nan where rays miss
    reach      how far rays go, in units: the scale's upper end

    Raises RendererUnavailableError where no back end is there.
    """
    scale = distance_scale(reach, low_means="touching", high_means="far", unit=settings.unit)
    scene = build_scene(low)

    def drawn(view: ViewBuffer) -> ViewImage:
        light = heat_light(view, form_shade(clay_light(view)), face_gaps, scale)
        image: Image = picture(view.samples, light)
        return ViewImage(name=view.camera.name, clay=image, mask=mask(view.samples))

    cameras = corner_cameras(framing(scene, up=settings.up))
    with closing(open_backend(choose_renderer(settings.renderer), scene)) as backend:
        views = draw_views(scene, cameras, backend, settings.size, drawn)
    box = crop_box([view.mask for view in views])
    pairs = [ViewPair(name=view.name, before=None, after=view.clay[box]) for view in views]
    return pair_sheet(
        pairs,
        [laid_out(pairs), scale_key(scale, no_value="grey, hatched: bake rays meet nothing")],
        kind="bake",
        title=f"Bake distances on {settings.title}",
        note=f"From the low to the high part; rays go {reach:.3g} {settings.unit} each way.",
        caption="How far the low parts lie from their high ones, and where bake rays miss.",
        code="pair-gap",
    )
