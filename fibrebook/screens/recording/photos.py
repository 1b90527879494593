"""Photos of the visit: kept in the register under their digest, shown small."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.register.photos import keep_photo, photo
from fibrebook.screens.frame.screen import button, html, row
from fibrebook.screens.recording.add_form import Section, State
from fibrebook.screens.recording.rows.readings import next_labels
from fibrebook.screens.widgets.controls import text
from fibrebook.screens.widgets.photo_pictures import shrunk


def photo_html(reg: Any, found: dict[str, Any]) -> str:
    """Return one photo as HTML: small picture and what is to be seen."""
    words = escape(" – ".join(str(found[n]) for n in ("photo", "what", "where", "taken_on") if found.get(n)))
    source = shrunk(photo(reg, found["file"]))
    picture = f"<img class='fb-photo' src='{source}' alt='{words}'>" if source else "<b>cannot be shown</b>"
    return f"<figure class='fb-photo-figure'>{picture}<figcaption>{words}</figcaption></figure>"


class PhotoSection(Section):
    """Choose pictures, say what they show; the pictures go into the register at once, their records with the visit."""

    title, name = "Photos", "photos"

    def __init__(self, visit: Any) -> None:
        super().__init__(visit)
        self.what = text("What is to be seen", visit.typed, "photo-what")
        self.where = text("Where", visit.typed, "photo-where")
        self.upload = w.FileUpload(accept="image/*", multiple=True, description="Choose photos")
        self.upload.add_class("fb-in-photos")
        self.upload.observe(lambda _: self._chosen(), "value")
        self.files: list[str] = []
        self.small = html("", "fb-photos")
        self.kept = html("", "fb-photos-kept")
        self.children = [
            row(self.what, self.where, self.upload),
            self.small,
            button("Add these photos to the visit", self._add, "fb-add", "fb-add-photos", once=True),
            self.kept,
        ]

    def refresh(self) -> None:
        """Show the photos of the site, those of this visit too."""
        rows = self.visit.tables()["photos"].to_pylist()
        shown = self.visit.guard(lambda: [photo_html(self.visit.reg, r) for r in rows[-12:]]) or []
        self.kept.value = f"<div class='fb-help'>{len(rows)} photo(s) of this site</div>{''.join(shown)}"

    def _chosen(self) -> None:
        if not self.upload.value:
            return
        given = [bytes(f["content"]) for f in self.upload.value]

        def act() -> None:
            self.files = [keep_photo(self.visit.reg, data) for data in given]
            self._show()
            self.visit.typed()

        self.visit.guard(act)

    def _show(self) -> None:
        figures = [photo_html(self.visit.reg, {"photo": f"new {n}", "file": f}) for n, f in enumerate(self.files, 1)]
        self.small.value = "".join(figures)

    def _add(self) -> None:
        def act() -> None:
            if not self.files:
                self.visit.say("no photo is chosen: choose the files first")
                return
            labels = next_labels(self.visit.tables(), len(self.files), "photos", "F")
            about = {"what": self.what.value.strip() or None, "where": self.where.value.strip() or None}
            about |= {"taken_on": self.day.on, "taken_by": self.day.by or None}
            rows = [
                {"site": self.day.site, "photo": label, "file": file, **about}
                for label, file in zip(labels, self.files, strict=True)
            ]
            self.visit.keep(f"photos {labels[0]}", f"{len(rows)} photo(s)", {"photos": rows})
            self.files, self.small.value, self.upload.value = [], "", ()
            self.visit.say(f"{len(rows)} photo(s) are in the visit; they are saved with everything else")
            self.visit.renew()

        self.visit.guard(self.visit.needs_site(act))

    def begun(self) -> bool:
        """Tell whether something was typed or chosen and not added."""
        return bool(self.files or self.what.value or self.where.value)

    def state(self) -> State:
        """Return what is typed and not added."""
        return {"what": self.what.value, "where": self.where.value, "files": self.files}

    def restore(self, state: State) -> None:
        """Show again what a draft kept."""
        self.what.value, self.where.value = state.get("what", ""), state.get("where", "")
        self.files = list(state.get("files", []))
        self.visit.guard(self._show)
