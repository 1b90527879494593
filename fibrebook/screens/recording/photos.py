"""Photos of the visit: kept in the register under their digest, shown small."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.register.photos import keep_photo, photo
from fibrebook.screens.frame.screen import button, html, row
from fibrebook.screens.frame.section import Event, Made, Section, Shown
from fibrebook.screens.recording.rows.readings import next_labels
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.widgets.controls import text, told_by_watch
from fibrebook.screens.widgets.photo_pictures import shrunk

LATEST = 12


def photo_html(reg: Any, found: Mapping[str, Any]) -> str:
    """Return one photo as HTML: small picture and what is to be seen."""
    words = escape(" – ".join(str(found[n]) for n in ("photo", "what", "where", "taken_on") if found.get(n)))
    source = shrunk(photo(reg, found["file"]))
    picture = f"<img class='fb-photo' src='{source}' alt='{words}'>" if source else "<b>cannot be shown</b>"
    return f"<figure class='fb-photo-figure'>{picture}<figcaption>{words}</figcaption></figure>"


@dataclass(frozen=True)
class PhotosTyped:
    """What is chosen and typed of photos.

    Attributes
    ----------
    what, where : what is to be seen, and where; files : digests of the pictures chosen, kept in the register already
    there : the site's latest photos, those of this visit too; count : how many it has
    """

    what: str = ""
    where: str = ""
    files: tuple[str, ...] = ()
    there: tuple[Mapping[str, Any], ...] = ()
    count: int = 0


class PhotoSection(Section[PhotosTyped, Day]):
    """Choose pictures, say what they show; the pictures go into the register at once, their records with the visit."""

    title, name = "Photos", "photos"

    # --- what is typed, and what it means ----------------------------------------------------------------------------
    def begin(self) -> PhotosTyped:
        """Nothing."""
        return PhotosTyped()

    def after(self, state: PhotosTyped, event: Event, seen: Day) -> PhotosTyped:
        """Pictures chosen take the place of those before."""
        return replace(state, **{event.of: event.value})

    def follow(self, state: PhotosTyped, seen: Day) -> PhotosTyped:
        """Take the photos of the site, those of this visit too."""
        rows = seen.tables()["photos"].to_pylist()
        return replace(state, there=tuple(rows[-LATEST:]), count=len(rows))

    def made(self, state: PhotosTyped, seen: Day, of: str = "") -> Made[PhotosTyped]:
        """A row a picture, labels going on as the site writes them."""
        if not state.files:
            return Made(state, "no photo is chosen: choose the files first")
        labels = next_labels(seen.tables(), len(state.files), "photos", "F")
        about = {"what": state.what.strip() or None, "where": state.where.strip() or None}
        about |= {"taken_on": seen.on, "taken_by": seen.by or None}
        rows = [
            {"site": seen.site, "photo": label, "file": file, **about}
            for label, file in zip(labels, state.files, strict=True)
        ]
        said = f"{len(rows)} photo(s) are in the visit; they are saved with everything else"
        left = replace(state, files=())
        return Made(left, said, f"photos {labels[0]}", f"{len(rows)} photo(s)", {"photos": rows})

    def begun(self, state: PhotosTyped) -> bool:
        """Tell whether something was typed or chosen and not added."""
        return bool(state.files or state.what or state.where)

    def to_json(self, state: PhotosTyped) -> dict[str, Any]:
        """What is typed and not added."""
        return {"what": state.what, "where": state.where, "files": list(state.files)}

    def from_json(self, kept: Mapping[str, Any]) -> PhotosTyped:
        """Back again."""
        what, where, files = kept.get("what", ""), kept.get("where", ""), kept.get("files", [])
        if not isinstance(files, list) or not all(isinstance(v, str) for v in (what, where, *files)):
            raise TypeError("no photos as they were kept")
        return PhotosTyped(what, where, tuple(files))

    # --- as it is shown ----------------------------------------------------------------------------------------------
    def build(self, page: Shown[PhotosTyped, Day]) -> Sequence[w.Widget]:
        """What, where, the pictures; below them those chosen, the button, and those that the site has."""
        self._page = page
        self._drawn: dict[str, Any] = {}  # what each place shows: pictures are made small again for others only
        self.what = text("What is to be seen", told_by_watch, "photo-what")
        self.where = text("Where", told_by_watch, "photo-where")
        for of, control in (("what", self.what), ("where", self.where)):
            page.watch(control, of)
        self.upload = w.FileUpload(accept="image/*", multiple=True, description="Choose photos")
        self.upload.add_class("fb-in-photos")
        self.upload.observe(lambda _: self._chosen(), "value")
        self.small, self.kept = html("", "fb-photos"), html("", "fb-photos-kept")
        return [
            row(self.what, self.where, self.upload),
            self.small,
            button("Add these photos to the visit", page.add, "fb-add", "fb-add-photos", once=True),
            self.kept,
        ]

    def _chosen(self) -> None:
        given = [bytes(f["content"]) for f in self.upload.value]
        if given:
            reg = self._page.seen().reg
            self._page.guard(lambda: self._page.tell(Event("files", tuple(keep_photo(reg, data) for data in given))))

    def show(self, state: PhotosTyped, seen: Day) -> None:
        """Pictures that cannot be read are told in words."""
        self.what.value, self.where.value = state.what, state.where
        if not state.files:
            self.upload.value = ()
        chosen = [{"photo": f"new {n}", "file": f} for n, f in enumerate(state.files, 1)]
        self._draw("small", self.small, seen, "", chosen)
        head = f"<div class='fb-help'>{state.count} photo(s) of this site</div>"
        self._draw("kept", self.kept, seen, head, state.there)

    def _draw(self, where: str, place: w.HTML, seen: Day, head: str, photos: Sequence[Mapping[str, Any]]) -> None:
        now = (head, list(photos))
        if self._drawn.get(where) != now:
            figures = self._page.guard(lambda: [photo_html(seen.reg, p) for p in photos])
            place.value = head + "".join(figures or [])
            self._drawn[where] = now if figures is not None else None
