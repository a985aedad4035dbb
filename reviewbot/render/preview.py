"""What subdivision makes of a cage: the cage with its edges, and beside it the smooth form."""

from __future__ import annotations

from contextlib import closing

from reviewbot.mesh import Model
from reviewbot.render.album_settings import AlbumSettings
from reviewbot.render.backends import choose_renderer, open_backend
from reviewbot.render.camera import Camera, Frame, framing, look
from reviewbot.render.canvas import LABEL, beside, flow, label, sheet, under
from reviewbot.render.clay import clay_light
from reviewbot.render.compose import ViewImage, mask, picture
from reviewbot.render.encoding import shaded_picture
from reviewbot.render.panels import crop_box, panel
from reviewbot.render.picture import Picture
from reviewbot.render.samples import Scene
from reviewbot.render.scene import build_scene
from reviewbot.render.visibility import ViewBuffer, draw_views
from reviewbot.render.wires import with_wires

_SIDES = (("front, from the right", 30.0), ("back, from the left", 210.0))
_ELEVATION = 20.0


def preview_picture(cage: Model, smooth: Model, settings: AlbumSettings) -> Picture:
    """Both through the same cameras, from two sides.

    smooth  the same parts, subdivided; names and order as in the cage

    Raises RendererUnavailableError where no back end is there.
    """
    scenes = build_scene(cage), build_scene(smooth)
    cameras = corner_cameras(framing(*scenes, up=settings.up))
    coarse = _seen(scenes[0], cameras, settings, wired=True)
    fine = _seen(scenes[1], cameras, settings, wired=False)
    box = crop_box([view.mask for view in (*coarse, *fine)])
    pieces = []
    for one, other in zip(coarse, fine, strict=True):
        size = one.clay[box].shape[:2]
        both = beside(
            [
                panel(one.clay[box], "cage", size=size),
                panel(other.clay[box], "subdivided", size=size),
            ],
            gap=6,
        )
        pieces.append(
            under([label(one.name, both.shape[1], size=LABEL, weight="Medium"), both], gap=2)
        )
    return shaded_picture(
        sheet(f"Subdivision of {settings.title}", "", [flow(pieces)]),
        kind="subdivision",
        name="subdivision",
        caption="The cage with its edges, and beside it what subdivision makes of it.",
        alt="The cage with its edges left, the subdivided form right, from two sides",
    )


def corner_cameras(frame: Frame) -> tuple[Camera, ...]:
    """Two views from opposite corners, which together show nearly all of a form."""
    return tuple(
        look(frame, name, azimuth_degrees=azimuth, elevation_degrees=_ELEVATION)
        for name, azimuth in _SIDES
    )


def _seen(
    scene: Scene, cameras: tuple[Camera, ...], settings: AlbumSettings, *, wired: bool
) -> list[ViewImage]:
    def drawn(view: ViewBuffer) -> ViewImage:
        light = clay_light(view)
        image = picture(view.samples, with_wires(view, light) if wired else light)
        return ViewImage(name=view.camera.name, clay=image, mask=mask(view.samples))

    with closing(open_backend(choose_renderer(settings.renderer), scene)) as backend:
        return draw_views(scene, cameras, backend, settings.size, drawn)
