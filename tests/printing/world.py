"""Real printers to print to: Debian's spooler and software printer, alone in a network of loopback only.

What each printer received lies in `got/NAME/`: the document, and beside it what the job asked for.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from waiting import LONGEST_S

NEEDED = ("cupsd", "ippeveprinter", "ipptool", "lpadmin", "dbus-daemon", "avahi-daemon", "ip", "unshare", "setpriv")
CUPS_PORT = 6631
CLONE_NEWNET = 0x40000000

# An A3+ inkjet that prints from its rear feed: margins unlike on every edge, custom sizes, photo and matte paper.
SIZES = (
    ("na_letter_8.5x11in", 21590, 27940),
    ("iso_a4_210x297mm", 21000, 29700),
    ("iso_a3_297x420mm", 29700, 42000),
    ("na_super-b_13x19in", 33020, 48260),
)
EDGES = (340, 300, 340, 1250)  # left, top, right, bottom, in hundredths of a millimetre


def missing() -> str:
    """What keeps the world from being started, in words; nothing if all is there."""
    path = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"
    lacking = [name for name in NEEDED if shutil.which(name, path=path) is None]
    if lacking:
        return f"missing: {', '.join(lacking)} (Debian: cups cups-client cups-ipp-utils avahi-daemon dbus iproute2)"
    if os.geteuid() != 0:
        return "needs root, to make a network of its own"
    tried = subprocess.run(["unshare", "--net", "--mount", "true"], capture_output=True, check=False)
    return "" if tried.returncode == 0 else "a network of its own is not allowed here"


def printer_conf(formats: str, loaded: tuple[str, ...] = ("na_super-b_13x19in",), more: str = "") -> str:
    """The attributes file of a software printer."""
    left, top, right, bottom = EDGES

    def column(name: str, width: int, height: int, edges: tuple[int, int, int, int], kind: str = "stationery") -> str:
        sides = zip(("left", "top", "right", "bottom"), edges, strict=True)
        margins = " ".join(f"MEMBER integer media-{side}-margin {length}" for side, length in sides)
        return (
            f"{{MEMBER collection media-size {{MEMBER integer x-dimension {width} "
            f"MEMBER integer y-dimension {height}}} "
            f"MEMBER keyword media-size-name {name} {margins} MEMBER keyword media-source rear "
            f"MEMBER keyword media-type {kind}}}"
        )

    ranges = "{MEMBER rangeOfInteger x-dimension 8900-33020 MEMBER rangeOfInteger y-dimension 12700-111760}"
    custom = (
        f"{{MEMBER collection media-size {ranges} MEMBER integer media-left-margin {left} "
        f"MEMBER integer media-top-margin {top} MEMBER integer media-right-margin {right} "
        f"MEMBER integer media-bottom-margin {bottom}}}"
    )
    database = [column(*size, EDGES) for size in SIZES] + [column(*size, (0, 0, 0, 0)) for size in SIZES] + [custom]
    sizes = [f"{{MEMBER integer x-dimension {w} MEMBER integer y-dimension {h}}}" for _, w, h in SIZES] + [ranges]
    ready = [column(*size, EDGES, "photographic-matte") for size in SIZES if size[0] in loaded]
    lines = {
        "boolean color-supported": "true",
        "keyword print-color-mode-supported": "auto,color,monochrome",
        "mimeMediaType document-format-supported": f"application/octet-stream,{formats}",
        "keyword media-supported": ",".join(s[0] for s in SIZES) + ",custom_min_89x127mm,custom_max_330.2x1117.6mm",
        "keyword media-default": "iso_a4_210x297mm",
        "keyword media-ready": ",".join(loaded),
        "collection media-size-supported": ",".join(sizes),
        "collection media-col-database": ",".join(database),
        "collection media-col-default": column(*SIZES[1], EDGES),
        "collection media-col-ready": ",".join(ready),
        "keyword media-col-supported": "media-bottom-margin,media-left-margin,media-right-margin,media-size,"
        "media-size-name,media-source,media-top-margin,media-type",
        "integer media-left-margin-supported": f"0,{left}",
        "integer media-right-margin-supported": f"0,{right}",
        "integer media-top-margin-supported": f"0,{top}",
        "integer media-bottom-margin-supported": f"0,{bottom}",
        "keyword media-source-supported": "auto,main,rear",
        "keyword media-type-supported": "auto,stationery,stationery-inkjet,photographic-matte,"
        "photographic-glossy,transfer",
        "keyword print-scaling-supported": "auto,auto-fit,fill,fit,none",
        "keyword print-scaling-default": "auto",
        "enum print-quality-supported": "3,4,5",
        "resolution printer-resolution-supported": "360dpi,720dpi",
        "resolution printer-resolution-default": "360dpi",
        "keyword pwg-raster-document-type-supported": "srgb_8,sgray_8",
        "resolution pwg-raster-document-resolution-supported": "360dpi",
        "keyword pwg-raster-document-sheet-back": "normal",
        "keyword sides-supported": "one-sided",
        "keyword job-creation-attributes-supported": "copies,media,media-col,orientation-requested,print-color-mode,"
        "print-quality,print-rendering-intent,print-scaling,printer-resolution,sides,job-name,ipp-attribute-fidelity",
        "keyword print-rendering-intent-supported": "auto,perceptual,relative",
        "name marker-names": '"Black ink","Cyan ink"',
        "keyword marker-types": "ink-cartridge,ink-cartridge",
        "name marker-colors": '"#000000","#00FFFF"',
        "integer marker-levels": "62,7",
        "integer marker-low-levels": "10,10",
    }
    return "".join(f"ATTR {name} {value}\n" for name, value in lines.items()) + more


CAPTURE = """#!/bin/bash
# What the printer was asked for, beside what it received.
n=$(ls "$GOT" | grep -c env$)
env | grep -E '^(IPP_|CONTENT_TYPE|DOCUMENT)' | grep -vE 'DATABASE|SUPPORTED' |
  sort >"$GOT/$n.env.part"
cp "$1" "$GOT/$n.${CONTENT_TYPE##*/}"; mv "$GOT/$n.env.part" "$GOT/$n.env"
echo "ATTR: printer-state-reasons=none" >&2
"""
SLOW = """#!/bin/bash
# Runs out of paper in the middle and is filled again when the file "filled" is there; ink gets low.
echo "STATE: +media-empty-error" >&2
for i in $(seq 1 2400); do [ -e "$GOT/../filled" ] && break; sleep .05; done
echo "STATE: -media-empty-error" >&2; echo "ATTR: marker-levels=61,6" >&2
exec FOLDER/capture.sh "$1"
"""

CUPSD = f"""LogLevel warn
Listen 127.0.0.1:{CUPS_PORT}
Browsing No
DefaultAuthType None
WebInterface No
<Location />
  Order allow,deny
  Allow localhost
</Location>
<Location /admin>
  Order allow,deny
  Allow localhost
</Location>
<Policy default>
  <Limit All>
    Order allow,deny
    Allow localhost
  </Limit>
</Policy>
"""

AVAHI = """[server]
host-name=shop
allow-interfaces=lo
use-ipv6=no
[publish]
publish-workstation=no
"""


@dataclass(frozen=True, slots=True)
class SoftPrinter:
    """A software printer: what it takes, where, and what is done with what it gets."""

    name: str
    port: int
    formats: str = "application/pdf,image/pwg-raster"
    command: str = "capture.sh"
    loaded: tuple[str, ...] = ("na_super-b_13x19in",)
    more: str = ""

    @property
    def address(self) -> str:
        return f"ipp://localhost:{self.port}/ipp/print"


PRINTERS = (
    SoftPrinter("pdf", 8631),
    SoftPrinter("raster", 8632, "image/pwg-raster", loaded=("iso_a4_210x297mm", "na_super-b_13x19in")),
    SoftPrinter("slow", 8633, command="slow.sh"),
    SoftPrinter("a4", 8634, loaded=("iso_a4_210x297mm",)),
)


@dataclass
class World:
    """A running world; `inside` puts this thread into its network."""

    folder: Path
    pid: int = 0
    printers: tuple[SoftPrinter, ...] = PRINTERS
    _process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def start(self) -> World:
        for printer in self.printers:
            conf = printer_conf(printer.formats, printer.loaded, printer.more)
            (self.folder / f"{printer.name}.conf").write_text(conf, "utf-8")
        lines = [f"{p.name} {p.port} {p.name}.conf {p.command}\n" for p in self.printers]
        (self.folder / "printers").write_text("".join(lines), "utf-8")
        (self.folder / "cupsd.conf").write_text(CUPSD, "utf-8")
        (self.folder / "avahi.conf").write_text(AVAHI, "utf-8")
        cups = self.folder / "cups"
        places = {"ServerRoot": "root", "StateDir": "state", "CacheDir": "cache", "RequestRoot": "spool"}
        text = "".join(f"{key} {cups / name}\n" for key, name in places.items())
        text += f"TempDir {cups}/spool/tmp\nErrorLog {cups}/log/error\nAccessLog {cups}/log/access\nFileDevice Yes\n"
        text += "User lp\nGroup lp\nSystemGroup root\n"
        (self.folder / "cups-files.conf").write_text(text, "utf-8")
        for name, script in (("capture.sh", CAPTURE), ("slow.sh", SLOW.replace("FOLDER", str(self.folder)))):
            (self.folder / name).write_text(script, "utf-8")
            (self.folder / name).chmod(0o755)
        words = [
            "setpriv",
            "--pdeathsig",
            "KILL",
            "unshare",
            "--net",
            "--mount",
            "--pid",
            "--fork",
            "--mount-proc",
            "--kill-child",
            "bash",
        ]
        script = str(Path(__file__).with_name("world.sh"))
        path = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"
        with (self.folder / "log").open("wb") as log:
            self._process = subprocess.Popen(
                [*words, script, str(self.folder)], stdout=log, stderr=log, stdin=subprocess.DEVNULL,
                env=os.environ | {"PATH": path}, start_new_session=True,
            )  # fmt: skip
        try:
            self._await_ready()
        except BaseException:
            self.stop()
            raise
        return self

    def _await_ready(self) -> None:
        end = time.monotonic() + LONGEST_S
        while not (self.folder / "ready").exists():
            assert self._process is not None
            if self._process.poll() is not None or time.monotonic() > end:
                raise RuntimeError((self.folder / "log").read_text("utf-8", "replace"))
            time.sleep(0.02)
        children = Path(f"/proc/{self._process.pid}/task/{self._process.pid}/children").read_text("utf-8").split()
        self.pid = int(children[0])
        with self.inside():
            for port in (CUPS_PORT, *(printer.port for printer in self.printers)):
                while True:
                    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
                        break
                    if time.monotonic() > end:
                        raise RuntimeError(f"nothing listens on {port}: {(self.folder / 'log').read_text('utf-8')}")
                    time.sleep(0.02)

    @contextlib.contextmanager
    def inside(self) -> Iterator[None]:
        """Let this thread, and what it starts, speak only within the world's network."""
        libc = ctypes.CDLL(None, use_errno=True)
        with Path("/proc/thread-self/ns/net").open("rb") as home, Path(f"/proc/{self.pid}/ns/net").open("rb") as there:
            if libc.setns(there.fileno(), CLONE_NEWNET):
                raise OSError(ctypes.get_errno(), "setns")
            try:
                yield
            finally:
                if libc.setns(home.fileno(), CLONE_NEWNET):
                    raise OSError(ctypes.get_errno(), "setns")

    def shell(self, *words: str) -> str:
        """Run a command within the network; its output."""
        with self.inside():
            done = subprocess.run(words, capture_output=True, text=True, check=False, cwd=self.folder)
        return done.stdout + done.stderr

    def got(self, name: str) -> list[Path]:
        """The documents a printer has received, oldest first."""
        folder = self.folder / "got" / name
        found = [(int(path.stem), path) for path in folder.iterdir() if path.suffix not in (".env", ".part")]
        return [path for _, path in sorted(found) if path.with_suffix(".env").exists()]

    def asked(self, document: Path) -> dict[str, str]:
        """What a job asked for, by the printer's own account."""
        lines = document.with_suffix(".env").read_text("utf-8").splitlines()
        return dict(line.split("=", 1) for line in lines if "=" in line)

    def stop(self) -> None:
        if self._process is not None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self._process.pid, signal.SIGKILL)
            self._process.wait()
