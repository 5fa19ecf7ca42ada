"""The room in three dimensions: tubes, what stands about and swings, corners to take hold of."""

from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from nicegui import ui


def _three() -> str:
    """Find the drawing library that comes with the pages' own."""
    spec = find_spec("nicegui")
    if spec is None or spec.origin is None:
        raise RuntimeError("the pages' library is not installed")
    return str(Path(spec.origin).parent / "elements" / "scene" / "dist")


class RoomView(ui.element, component="room_view.js", esm={"nicegui-scene": _three()}):
    """A view of a room, as `scene.scene_of` gives it.

    `mesh_path` is where the triangles of keep-out n are to be had, with n at its end. `on_drag` and
    `on_drop` get `{tube, corner, at}` in mm while a corner is moved and when it is let go; `snap`
    is the step in mm that corners keep to.
    """

    def __init__(
        self,
        scene: dict[str, Any],
        mesh_path: str = "",
        snap: float = 1.0,
        on_drag: Callable[[dict[str, Any]], Any] | None = None,
        on_drop: Callable[[dict[str, Any]], Any] | None = None,
    ) -> None:
        super().__init__()
        self.classes("room")
        self.props["scene"] = scene
        self.props["meshPath"] = mesh_path
        self.props["snap"] = snap
        self.props["movable"] = on_drop is not None
        if on_drag:
            self.on("drag", lambda event: on_drag(event.args))
        if on_drop:
            self.on("drop", lambda event: on_drop(event.args))

    def show(self, scene: dict[str, Any]) -> None:
        """Show another room, from where one stands."""
        self.props["scene"] = scene

    def stand_back(self) -> None:
        """Look at all of it anew."""
        self.run_method("standBack")

    def put_tube(self, tube: dict[str, Any]) -> None:
        """Show one tube as it is now."""
        self.run_method("putTube", tube)

    def put_gaps(self, gaps: list[dict[str, Any]]) -> None:
        """Draw gaps, each with its number."""
        self.run_method("putGaps", gaps)

    def pick(self, tube: str) -> None:
        """Give one tube its corners to take hold of, and take them from the others."""
        self.run_method("pick", tube)
