"""Every address of the page, and the server that answers them: on 127.0.0.1 alone."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Callable
from typing import Any

from tornado.httpserver import HTTPServer
from tornado.netutil import bind_sockets
from tornado.web import Application

from impose.page import batch_handlers as batch
from impose.page import import_page, price_handlers, print_handlers, shop_documents
from impose.page import made_handlers as made
from impose.page import overview_handlers as overview
from impose.page import plan_handlers as plan
from impose.page import shop_handlers as shop
from impose.page import static_handlers as static
from impose.page.guard import AccessKeys
from impose.page.handlers import NothingHandler
from impose.page.page_server import PageServer, PageSetup
from impose.page.remedies import WORDINGS
from impose.page.state_file import RunningServer, StateFile
from impose.remedies import word_remedies

MOST_HEADER = 32 << 10

_JOBS = "quote|check|tips"

ROUTES: list[tuple[str, Any]] = [
    (r"/enter", static.EnterHandler),
    (r"/again", static.AgainHandler),
    (r"/()", static.PageHandler),
    (r"/(orders|sheets|press|shop|desk|more|start)", static.PageHandler),
    (r"/static/([A-Za-z0-9._-]+(?:/[A-Za-z0-9._-]+)?)", static.StaticHandler),
    (r"/api/state", overview.StateHandler),
    (r"/api/batches", overview.BatchesHandler),
    (r"/api/quit", overview.QuitHandler),
    (r"/api/events", overview.EventsHandler),
    (r"/api/jobs/([0-9a-z]{1,16})", plan.JobHandler),
    (r"/api/columns", batch.ColumnsHandler),
    (batch.BATCH_PATH, batch.WholeBatchHandler),
    (batch.BATCH_PATH + r"/changes", batch.ChangesHandler),
    (batch.BATCH_PATH + r"/(undo|redo)", batch.UndoHandler),
    (batch.BATCH_PATH + r"/elsewhere", batch.ElsewhereHandler),
    (batch.BATCH_PATH + r"/copy-to-csv", batch.CopyHandler),
    (batch.BATCH_PATH + r"/art", batch.ArtHandler),
    (batch.BATCH_PATH + r"/art/([0-9a-f]{64})\.png", batch.SmallArtHandler),
    (batch.BATCH_PATH + r"/plan", plan.PlanHandler),
    (batch.BATCH_PATH + r"/plan/stop", plan.StopHandler),
    (batch.BATCH_PATH + r"/plan/([0-9]{1,9})/sheets/([0-9]{1,6})\.svg", plan.SheetHandler),
    (batch.BATCH_PATH + r"/plan/([0-9]{1,9})/findings/(f[0-9]{1,6})/(before|after)\.png", plan.CropHandler),
    (batch.BATCH_PATH + r"/pictures/(p[0-9a-f]{24})\.png", plan.PictureHandler),
    (batch.BATCH_PATH + r"/garments", plan.GarmentsHandler),
    (batch.BATCH_PATH + r"/large", plan.LargeHandler),
    (batch.BATCH_PATH + rf"/({_JOBS})", plan.AskJobHandler),
    (batch.BATCH_PATH + r"/make", plan.MakeHandler),
    (batch.BATCH_PATH + r"/made", made.MadeListHandler),
    (batch.MADE_PATH + r"/file/(.+)", made.MadeFileHandler),
    (batch.MADE_PATH + r"/pictures/(p[0-9a-f]{24})\.png", made.MadePictureHandler),
    (batch.MADE_PATH + r"/press", made.PressHandler),
    (batch.MADE_PATH + r"/ticks", made.TicksHandler),
    (batch.MADE_PATH + r"/again", made.AgainAskHandler),
    (batch.MADE_PATH + r"/agreed", made.AgreedHandler),
    *import_page.ROUTES,
    *shop.ROUTES,
    *print_handlers.ROUTES,
    *shop_documents.ROUTES,
    *price_handlers.ROUTES,
    (r".*", NothingHandler),
]


def make_application(page: PageServer) -> Application:
    """The answers of a server."""
    return Application(
        ROUTES,
        page=page,
        static_table=static.make_static_table(),
        log_function=lambda handler: None,
        default_handler_class=NothingHandler,
    )


async def serve_page(setup: PageSetup, state: StateFile, ready: Callable[[PageServer], None], port: int = 0) -> None:
    """Answer until the end; `ready` is called once it listens. The state file's lock is held already."""
    (socket,) = bind_sockets(port, "127.0.0.1")
    keys = AccessKeys(socket.getsockname()[1])
    page = PageServer(setup, keys)
    server = HTTPServer(
        make_application(page),
        no_keep_alive=False,
        max_header_size=MOST_HEADER,
        idle_connection_timeout=setup.headers_s,
        body_timeout=setup.body_s,
    )
    server.add_sockets([socket])
    state.write_server(RunningServer(keys.port, keys.secret, os.getpid()))
    _handle_signals(page)
    try:
        with word_remedies(WORDINGS):
            ready(page)
            await page.watch_files()
    finally:
        server.stop()
        await page.close()
        await server.close_all_connections()
        state.release_lock()


def _handle_signals(page: PageServer) -> None:
    """Ctrl-C, and whoever ends the session of the desktop, end it in order."""
    loop = asyncio.get_running_loop()
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is None:
            continue
        try:
            loop.add_signal_handler(number, page.ended.set)
        except (NotImplementedError, RuntimeError, ValueError):
            # Windows has no such handlers; Ctrl-C then ends the loop itself.
            return
