"""Finding a tube's way from here to there past what is about: wish, search, what was found."""

from functools import partial
from urllib.parse import quote

from nicegui import ui

from soapstone.exchange.job_toml import with_points
from soapstone.fit.route import Route
from soapstone.flow.routing import RoutedJob, RoutedTube
from soapstone.geometry.vectors import Vec3
from soapstone.job.tube import Route as Wish
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.quantities import format_fine
from soapstone.shape.resolve import setups_for
from soapstone.web.desk import Desk
from soapstone.web.desks import Desks
from soapstone.web.look import anew, block, complain, press, say, slab, words
from soapstone.web.opening import job_page, open_or_say
from soapstone.web.panels.wish_panel import WishForm, WishPanel, form_for
from soapstone.web.room_view import RoomView
from soapstone.web.scene import scene_of, tube_scene
from soapstone.web.search import Search
from soapstone.web.tabs import job_body
from soapstone.web.turns import Turns
from soapstone.web.watching import watch


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""

    @job_page("/route")
    async def show(name: str, tube: str = "") -> None:
        desk = await open_or_say(desks, name)
        if desk is not None:
            RoutePage(name, desk, tube).show()


def tubes_to_route(desk: Desk) -> list[TubePlan | Unplanned]:
    """Give the tubes that a way can be found for, those that ask for one first."""
    job = desk.now.job
    own = [one for one in desk.now.planned.tubes if job.tube(one.name).mirror is None]
    return sorted(own, key=lambda one: job.tube(one.name).route is None)


class RoutePage:
    """The page in one browser."""

    def __init__(self, name: str, desk: Desk, tube: str) -> None:
        self.name, self.desk = name, desk
        names = [one.name for one in tubes_to_route(desk)]
        self.picked = tube if tube in names else (names[0] if names else "")
        self.search: Search | None = None
        self.changes = desk.changes
        self.form: WishForm | None = None
        self.seen = 0

    def show(self) -> None:
        """Build the page."""
        with job_body(self.name, self.desk, "Route", "find a way"):
            watch(self.desk, lambda: self.changes, self._anew)
            with block("div", "desk"):
                with block("div", "stack"):
                    self.room = RoomView(
                        scene_of(self.desk.now.planned), f"/mesh/{quote(self.name)}/"
                    )
                    self.results = block("div", "stack", aria_live="polite")
                self.side = block("div", "stack")
            self.turns = Turns(self.side)
        self._ask()
        ui.timer(0.3, self._look)

    def _ask(self) -> None:
        with anew(self.side):
            with block("nav", "row", aria_label="Tubes"):
                for one in tubes_to_route(self.desk):
                    pressed = "true" if one.name == self.picked else "false"
                    press(one.name, partial(self._pick, one.name), aria_pressed=pressed)
            tube = self._tube()
            wish = self.desk.now.job.tube(self.picked).route if self.picked else None
            self.form = form_for(wish, tube) if tube is not None else None
            if self.form is None:
                words("Draw a tube first, or give one a start and an end.", kind="quiet")
                return
            with slab():
                words(f"A way for the {self.picked}", "h2")
                WishPanel(self.form, self.desk.now.job.units).show()
                with block("div", "row"):
                    press("Find the way", self._find, "main")
                    press("Stop here", self._stop)
            if isinstance(tube, TubePlan) and self.desk.now.job.tube(self.picked).route is None:
                self._offer_mending()

    def _offer_mending(self) -> None:
        with slab():
            words("Or mend what is drawn", "h2")
            words(
                "Where it hits something, or a leg is too short for the die, its corners are moved "
                "as little as will do. Both ends stay, and the ways they run.",
                kind="quiet",
            )
            press("Mend it", self._mend)

    def _tube(self) -> TubePlan | Unplanned | None:
        named = (one for one in self.desk.now.planned.tubes if one.name == self.picked)
        return next(named, None)

    def _pick(self, name: str) -> None:
        self._stop()
        self.picked, self.search = name, None
        self.results.clear()
        self.room.show(scene_of(self.desk.now.planned))
        self._ask()

    def _anew(self) -> None:
        """Begin anew with the job as it is now."""
        self.changes = self.desk.changes
        names = [one.name for one in tubes_to_route(self.desk)]
        self._pick(self.picked if self.picked in names else (names[0] if names else ""))

    def _find(self) -> None:
        if self.form is None:
            return
        try:
            wish = self.form.as_wish()
        except ValueError as error:
            complain(error)
            return
        self._begin(wish, f"Looking for up to {self.form.seconds:g} s …")

    def _mend(self) -> None:
        self._begin(None, "Mending …")

    def _begin(self, wish: Wish | None, said: str) -> None:
        self._stop()
        if self.form is None:
            return
        self.search = Search(self.picked, wish, self.form.seconds)
        self.seen = 0
        self.search.begin(self.desk.now)
        self._progress(said)

    def _stop(self) -> None:
        if self.search is not None:
            self.search.stop()

    def _look(self) -> None:
        """See how far the search is; the page stays free meanwhile."""
        search = self.search
        if search is None or self.seen < 0:
            return
        if search.better > self.seen and search.best is not None:
            self.seen = search.better
            self._draw(search.best)
            self._progress(f"Best so far: {self._price(search.best)}. Still looking …")
        if search.fault:
            self.seen = -1
            self.results.clear()
            with self.results:
                words(search.fault, kind="say stop")
        elif search.found is not None:
            self.seen = -1
            self._show_found(search.found)

    def _progress(self, text: str) -> None:
        self.results.clear()
        with self.results, slab():
            words(text, kind="say warn")

    def _price(self, route: Route) -> str:
        bends = "no bend" if not route.bends else f"{route.bends} bend{'s'[: route.bends > 1]}"
        return f"{bends}, {self._say(route.length)} of tube"

    def _say(self, length: float) -> str:
        return format_fine(length, self.desk.now.job.units)

    def _draw(self, route: Route) -> None:
        now = self.desk.now
        setup = setups_for(now.job, now.bench).get(self.picked)
        if setup is None:  # taken out elsewhere; the watch begins anew
            return
        wish = now.job.tube(self.picked)
        self.room.put_tube(tube_scene(wish, route.line, setup.od, route.corners))

    def _show_found(self, found: RoutedJob) -> None:
        self.results.clear()
        with self.results:
            if not found.tubes:
                say(found.findings)
                return
            routed = found.tubes[0]
            best = routed.result.route
            if best is None:
                with slab():
                    words("No way was found", "h2")
                    for reason in routed.result.reasons:
                        words(reason, kind="say stop")
                return
            self._draw(best)
            say(found.findings)
            with block("div", "jobs"):
                self._card("Mended" if routed.moved else "The best", best, self._moves(routed))
                for one in routed.result.alternatives:
                    longer = f"{self._say(one.longer)} longer"
                    more = f", {one.more_bends:+d} bends" if one.more_bends else ""
                    self._card(one.what, one.route, longer + more)

    def _moves(self, routed: RoutedTube) -> str:
        """Say for a tube that was mended what that took."""
        if not routed.moved:
            return ""
        added = f", {routed.added} put in" if routed.added else ""
        return f"a corner moved by {self._say(max(routed.moved))} at most{added}"

    def _card(self, title: str, route: Route, price: str) -> None:
        with slab():
            words(title[:1].upper() + title[1:], "h2")
            words(self._price(route) + (f" ({price})" if price else ""))
            if route.nearest:
                words(f"{self._say(route.clearance)} clear of {route.nearest}", kind="quiet")
            angles = ", ".join(f"{angle:.1f}°" for angle in route.line.angles)
            if angles:
                words(f"Bends {angles}", kind="quiet")
            with block("div", "row"):
                press("Look at it", partial(self._draw, route))
                press("Take it", partial(self._take, route, title), "main")

    def _take(self, route: Route, title: str) -> None:
        points: tuple[Vec3, ...] = tuple(
            (round(x, 9) + 0.0, round(y, 9) + 0.0, round(z, 9) + 0.0) for x, y, z in route.corners
        )
        edit = partial(with_points, points={self.picked: points})
        done = f"way for {self.picked} taken: {title}"
        self.turns.take(partial(self.desk.change, edit, done), self._taken)

    def _taken(self, _: str) -> None:
        ui.navigate.to(f"/job/{quote(self.name)}")
