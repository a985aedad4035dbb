"""How an asset is pictured."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from reviewbot.render.backends import RendererName
from reviewbot.render.camera import UpAxis


@dataclass(frozen=True, slots=True, kw_only=True)
class AlbumSettings:
    """How pictures are drawn.

    title          what is pictured, a file's name
    views, size    of the turntable
    uv_size        of a UV tile's picture
    texture_size, padding  in pixels of the texture
    stretch_limit  from where on stretch is a finding
    detail         "brief" where many assets are pictured: eight smaller views, no heat maps,
                   two views on a sheet
    unit           of the asset's space, "units" where not known
    """

    title: str
    renderer: RendererName = "auto"
    views: int = 16
    size: int = 512
    uv_size: int = 800
    up: UpAxis = "y"
    texture_size: int = 2048
    padding: float = 8.0
    stretch_limit: float = 1.5
    unit: str = "units"
    detail: Literal["full", "brief"] = "full"

    @property
    def shown(self) -> int:
        """Views on sheets that need not go all the way round."""
        return _SHOWN[self.detail]


_BRIEF_VIEWS, _BRIEF_SIZE, _BRIEF_UV_SIZE = 8, 320, 448
_SHOWN = {"full": 4, "brief": 2}


def in_brief(settings: AlbumSettings) -> AlbumSettings:
    """The same, smaller, where brief."""
    if settings.detail == "full":
        return settings
    return replace(
        settings,
        views=min(settings.views, _BRIEF_VIEWS),
        size=min(settings.size, _BRIEF_SIZE),
        uv_size=min(settings.uv_size, _BRIEF_UV_SIZE),
    )
