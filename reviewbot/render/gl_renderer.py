"""Drawing triangle numbers through `pyrender`; the one module that knows it and OpenGL.

Imported only by `gl_backend`, in the thread that owns the context.
"""

from __future__ import annotations

import os

os.environ["PYOPENGL_PLATFORM"] = "egl"  # read once, when OpenGL is first imported
# pyrender brings a window toolkit along: without this it wants X libraries that a server lacks.
os.environ["PYGLET_HEADLESS"] = "true"

import numpy as np
import pyrender
from OpenGL import GL
from OpenGL.GL import shaders
from pyrender.platforms import egl
from pyrender.renderer import Renderer

from reviewbot.mesh import FloatArray, IndexArray
from reviewbot.render.samples import Floats32

_VERTEX_SHADER = """
#version 330 core
layout(location = 0) in vec3 position;
uniform mat4 to_clip;
void main() { gl_Position = to_clip * vec4(position, 1.0); }
"""
_FRAGMENT_SHADER = """
#version 330 core
out uint number;
void main() { number = uint(gl_PrimitiveID) + 1u; }
"""
_TRIANGLES = 4  # the mode of a primitive, as glTF 2.0 numbers it


class IdRenderer(Renderer):  # type: ignore[misc]
    """Draws each pixel's nearest triangle as its number plus one; 0 is the background.

    The target holds 32-bit whole numbers and a 32-bit depth, without multisampling, blending or
    culling: numbers are exact for any mesh.
    """

    def __init__(self) -> None:
        self._platform = egl.EGLPlatform(16, 16)
        self._platform.init_context()
        super().__init__(16, 16)
        self._main_fb: int | None = None
        self._main_fb_dims: tuple[int, int] = (0, 0)
        vertex_array = GL.glGenVertexArrays(1)
        GL.glBindVertexArray(vertex_array)  # validating a program needs one to be bound
        self._program = shaders.compileProgram(
            shaders.compileShader(_VERTEX_SHADER, GL.GL_VERTEX_SHADER),
            shaders.compileShader(_FRAGMENT_SHADER, GL.GL_FRAGMENT_SHADER),
        )
        GL.glBindVertexArray(0)
        self._to_clip = GL.glGetUniformLocation(self._program, "to_clip")

    def upload(self, points: Floats32, triangles: IndexArray) -> pyrender.Primitive:
        """Hand a mesh to the device."""
        primitive = pyrender.Primitive(positions=points, indices=triangles, mode=_TRIANGLES)
        primitive._add_to_context()
        return primitive

    def release(self, primitive: pyrender.Primitive) -> None:
        """Free a mesh on the device."""
        primitive.delete()

    def draw(self, primitive: pyrender.Primitive, to_clip: FloatArray, size: int) -> IndexArray:
        """(size, size) int32, row 0 at the top."""
        self.viewport_width = self.viewport_height = size
        self._configure_main_framebuffer()
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._main_fb)
        GL.glViewport(0, 0, *self._main_fb_dims)
        GL.glEnable(GL.GL_DEPTH_TEST)
        GL.glDepthFunc(GL.GL_LESS)
        GL.glDepthMask(GL.GL_TRUE)
        GL.glDisable(GL.GL_CULL_FACE)
        GL.glDisable(GL.GL_BLEND)
        GL.glClearBufferuiv(GL.GL_COLOR, 0, np.zeros(4, dtype=np.uint32))
        GL.glClearBufferfv(GL.GL_DEPTH, 0, np.ones(1, dtype=np.float32))
        GL.glUseProgram(self._program)
        GL.glUniformMatrix4fv(self._to_clip, 1, GL.GL_TRUE, to_clip.astype(np.float32))
        primitive._bind()
        count = primitive.indices.size
        GL.glDrawElements(GL.GL_TRIANGLES, count, GL.GL_UNSIGNED_INT, None)
        primitive._unbind()
        GL.glUseProgram(0)
        return self._read()

    def _read(self) -> IndexArray:
        width, height = self._main_fb_dims
        numbers = np.empty((height, width), dtype=np.uint32)
        GL.glReadPixels(0, 0, width, height, GL.GL_RED_INTEGER, GL.GL_UNSIGNED_INT, numbers)
        return numbers[::-1].view(np.int32)

    def _configure_main_framebuffer(self) -> None:
        size = (self.viewport_width, self.viewport_height)
        if self._main_fb is not None and self._main_fb_dims == size:
            return
        self._delete_main_framebuffer()
        self._main_cb, self._main_db = GL.glGenRenderbuffers(2)
        self._main_fb = GL.glGenFramebuffers(1)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._main_fb)
        for buffer, form, place in (
            (self._main_cb, GL.GL_R32UI, GL.GL_COLOR_ATTACHMENT0),
            (self._main_db, GL.GL_DEPTH_COMPONENT32F, GL.GL_DEPTH_ATTACHMENT),
        ):
            GL.glBindRenderbuffer(GL.GL_RENDERBUFFER, buffer)
            GL.glRenderbufferStorage(GL.GL_RENDERBUFFER, form, *size)
            GL.glFramebufferRenderbuffer(GL.GL_FRAMEBUFFER, place, GL.GL_RENDERBUFFER, buffer)
        self._main_fb_dims = size

    def _delete_main_framebuffer(self) -> None:
        if self._main_fb is not None:
            GL.glDeleteFramebuffers(1, [self._main_fb])
            GL.glDeleteRenderbuffers(2, [self._main_cb, self._main_db])
        self._main_fb = self._main_cb = self._main_db = None
        self._main_fb_dims = (0, 0)
