"""The batch: its rows, kits and choices; changes, undoing, what changed elsewhere; its artwork."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

from impose.page.artwork_store import MOST_FILE, ArtworkStore, Upload, refuse_foreign
from impose.page.batch_values import list_batch_values, list_columns
from impose.page.handlers import GuardedHandler
from impose.page.open_batch import OpenBatch
from impose.page.refusal import UNSHOWN, Refusal

BATCH_PATH = r"/api/b/([0-9a-z]{1,32})"
MADE_PATH = BATCH_PATH + r"/made/([0-9a-z]{1,32})"
"""The addresses of a batch, and of an output of it."""

UNSHOWN_PICTURE = (
    b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 80 64" width="320" height="256">'
    b'<rect width="80" height="64" fill="#fff"/><path d="M26 8h20l9 9v27H26zM46 8v9h9" fill="none" stroke="#5b6168" '
    b'stroke-width="2"/><path d="M34 23l13 13m0-13L34 36" stroke="#a3231f" stroke-width="3"/>'
    b'<text x="40" y="59" font-family="sans-serif" font-size="10" text-anchor="middle" fill="#a3231f">'
    b"cannot be shown</text></svg>"
)
"""In place of a file that is damaged or no picture, so that it is seen at once where it lies."""

_stores: dict[Path, ArtworkStore] = {}


def store_of(batch: OpenBatch) -> ArtworkStore:
    """The artwork of a batch."""
    return _stores.setdefault(batch.folder, ArtworkStore(batch.folder))


class BatchHandler(GuardedHandler):
    """What belongs to one batch."""

    def find_batch(self, ident: str) -> OpenBatch:
        """The batch. Raises `Refusal`."""
        return self.page.find_batch(ident)

    async def ask(self, ident: str, name: str, /, **arguments: Any) -> Any:
        """What the batch's process answers. Raises `Refusal`."""
        return await self.page.find_planner(ident).ask(name, **arguments)

    def start_job(self, ident: str, name: str, then: Any = None, /, **arguments: Any) -> None:
        """Begin what takes a while, and answer with its name."""
        planner = self.page.find_planner(ident)
        job = self.page.jobs.start_job(
            lambda progress: planner.ask(name, progress, **arguments), then or (lambda result: None)
        )
        self.set_status(202)
        self.send_json({"job": job.id})


class WholeBatchHandler(BatchHandler):
    """All of a batch."""

    async def get(self, ident: str) -> None:
        """As it is now."""
        batch = self.find_batch(ident)
        art = await asyncio.to_thread(store_of(batch).list_files)
        plan = self.page.find_planner(ident).plan
        self.send_json(list_batch_values(batch, art, None if plan is None else plan.number))


class ChangesHandler(BatchHandler):
    """Changes."""

    async def post(self, ident: str) -> None:
        """Apply all or none, as one step."""
        said = self.json_body()
        operations = said.get("ops")
        if not isinstance(operations, list):
            raise Refusal(400, "malformed", "The page sent something that cannot be read: ops.", "Reload the page.")
        batch = self.find_batch(ident)
        label, merge = str(said.get("label") or "")[:200], str(said.get("merge") or "")[:200]
        made = batch.change(operations, label, merge, self.tab)
        self.send_json({"ids": made, **step_values(batch)})


def step_values(batch: OpenBatch) -> dict[str, Any]:
    """Where a batch is after a step."""
    history = batch.history
    return {"revision": batch.revision, "undo": history.undo_label, "redo": history.redo_label}


class UndoHandler(BatchHandler):
    """One step back or forth."""

    async def post(self, ident: str, way: str) -> None:
        """Go it."""
        batch = self.find_batch(ident)
        (batch.undo_change if way == "undo" else batch.redo_change)(self.tab)
        self.send_json(step_values(batch))


class ElsewhereHandler(BatchHandler):
    """Which of two versions counts."""

    async def post(self, ident: str) -> None:
        """Settle it."""
        batch = self.find_batch(ident)
        await batch.answer(str(self.json_body().get("answer")))
        self.send_json(step_values(batch))


class CopyHandler(BatchHandler):
    """A spreadsheet's orders as a table that can be edited."""

    async def post(self, ident: str) -> None:
        """Make it."""
        batch = self.find_batch(ident)
        batch.copy_to_csv()
        await batch.save()
        self.send_json(step_values(batch))


class ColumnsHandler(GuardedHandler):
    """What may stand in a column."""

    async def get(self) -> None:
        """All of ours."""
        self.send_json(await asyncio.to_thread(list_columns, self.page.options))


class ArtHandler(BatchHandler):
    """A picture comes."""

    most_body = MOST_FILE

    def prepare(self) -> Any:
        """Make a place for it, once it is known who sends it."""
        self.upload: Upload | None = None
        self.reserved = 0
        super().prepare()
        if self.refused or self.request.method != "PUT":
            return
        try:
            batch = self.find_batch(self.path_args[0])
            if batch.files.read_only is not None and not batch.state.orders.list_shown():
                raise Refusal(409, "read-only", *batch.files.read_only)
            size = int(self.request.headers.get("Content-Length", 0)) or MOST_FILE
            store_of(batch).reserve_space(size)
            self.reserved = size
            self.upload = Upload(store_of(batch).folder)
        except Refusal as refusal:
            self.send_refusal(refusal)
        except OSError as error:
            self._refuse_system(error)

    def data_received(self, chunk: bytes) -> None:
        """Write a part down."""
        if self.refused or self.upload is None:
            return
        try:
            self.upload.write_part(chunk)
        except OSError as error:
            self._refuse_system(error)
            return
        if self.upload.size > self.most_body:
            self.send_refusal(self.make_too_large())

    def _refuse_system(self, error: OSError) -> None:
        full = error.errno == 28
        what = "The disk is full: the picture was not taken." if full else "The picture cannot be written."
        self.send_refusal(
            Refusal(507 if full else 500, "system", what, "Make room, or see to the folder, and drop it again.")
        )

    def make_too_large(self) -> Refusal:
        """What is said of a picture that is too large."""
        return Refusal(413, "too-large", "This picture is larger than 512 MB.", "Save it smaller, then drop it again.")

    async def put(self, ident: str) -> None:
        """The whole of it has come."""
        upload = self.upload
        if upload is None or self.refused:
            return
        name = self.get_query_argument("name", "picture.png")[:300]
        store = store_of(self.find_batch(ident))
        try:
            await asyncio.to_thread(upload.finish_file)
            refuse_foreign(upload.head, name)
            file, same_as = await asyncio.to_thread(store.keep_upload, upload, name)
        except Refusal:
            self._drop_upload()  # gone before the answer says so
            raise
        except OSError as error:
            self._drop_upload()
            self._refuse_system(error)
            return
        self.upload = None
        self.set_status(201)
        small = f"/api/b/{ident}/art/{file.sha}.png"
        self.send_json({"art": file.art, "sha": file.sha, "same_as": same_as, "small": small})

    def on_finish(self) -> None:
        """Whatever was not taken is taken away."""
        self._drop_upload()

    def on_connection_close(self) -> None:
        """Whoever sent it has gone."""
        self._drop_upload()
        super().on_connection_close()

    def _drop_upload(self) -> None:
        upload, self.upload = getattr(self, "upload", None), None
        reserved, self.reserved = getattr(self, "reserved", 0), 0
        if reserved:
            store_of(self.find_batch(self.path_args[0])).free_space(reserved)
        if upload is not None:
            upload.drop_file()


class SmallArtHandler(BatchHandler):
    """A picture of the artwork, small."""

    needs_token = False

    async def get(self, ident: str, sha: str) -> None:
        """As worn, cropped to its ink."""
        side = self.get_query_argument("side", "320")
        if not side.isdigit() or not 16 <= int(side) <= 1024:
            raise Refusal(400, "malformed", "That is no size of a picture.")
        path = await asyncio.to_thread(store_of(self.find_batch(ident)).find_file, sha)
        try:
            content = await self.ask(ident, "art", sha=sha, path=str(path), side=int(side))
        except Refusal as refusal:
            if refusal.code != UNSHOWN:
                raise
            self.send_bytes(UNSHOWN_PICTURE, "image/svg+xml")
            return
        self.send_bytes(content, "image/png")
