#!/usr/bin/env python3
"""Peak memory of `lodemark mark` for 30 pages and for 300, as photos and as one PDF.

    cargo build --release && python3 benches/memory.py [PROGRAM]

The pages are those of samples/8c-three-bars over and over, each with a comment of its own in its JPEG data, so that
none is known from another; each belongs to a student of its own.
"""

import itertools
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent.parent
SAMPLE = HERE / "samples" / "8c-three-bars"


def pages(count):
    """JPEG files, no two alike."""
    photos = [path.read_bytes() for path in sorted((SAMPLE / "scans").glob("*.jpg"))]
    for n, photo in zip(range(count), itertools.cycle(photos)):
        comment = b"page %06d" % n
        # A comment segment after the start of the image (ITU-T T.81, B.2.4.5).
        yield photo[:2] + b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment + photo[2:]


def size(photo):
    """Height, width and components, from the start of the frame."""
    at = 2
    while True:
        marker, length = photo[at + 1], int.from_bytes(photo[at + 2 : at + 4], "big")
        if 0xC0 <= marker <= 0xC2:
            head = photo[at + 5 : at + 10]
            return int.from_bytes(head[:2], "big"), int.from_bytes(head[2:4], "big"), head[4]
        at += 2 + length


def pdf(photos):
    """A PDF with a page a photo."""
    out, places = bytearray(b"%PDF-1.4\n"), []

    def put(number, body):
        places.append((number, len(out)))
        out.extend(b"%d 0 obj\n" % number + body + b"\nendobj\n")

    kids = []
    for n, photo in enumerate(photos):
        page, draw, image = 3 + 3 * n, 4 + 3 * n, 5 + 3 * n
        kids.append(b"%d 0 R" % page)
        height, width, components = size(photo)
        space = b"/DeviceGray" if components == 1 else b"/DeviceRGB"
        put(page, b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 842 595]/Contents %d 0 R"
            b"/Resources<</XObject<</I %d 0 R>>>>>>" % (draw, image))
        content = b"q 842 0 0 595 0 0 cm /I Do Q"
        put(draw, b"<</Length %d>>stream\n" % len(content) + content + b"\nendstream")
        put(image, b"<</Type/XObject/Subtype/Image/Width %d/Height %d/BitsPerComponent 8/ColorSpace%s"
            b"/Filter/DCTDecode/Length %d>>stream\n" % (width, height, space, len(photo)) + photo + b"\nendstream")
    put(1, b"<</Type/Catalog/Pages 2 0 R>>")
    put(2, b"<</Type/Pages/Count %d/Kids[%s]>>" % (len(kids), b" ".join(kids)))
    start = len(out)
    out.extend(b"xref\n0 %d\n0000000000 65535 f \n" % (len(places) + 1))
    for _, place in sorted(places):
        out.extend(b"%010d 00000 n \n" % place)
    out.extend(b"trailer<</Size %d/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n" % (len(places) + 1, start))
    return bytes(out)


def classroom(home, count, as_pdf):
    """A class folder with so many pages."""
    room = home / f"{count}-{'pdf' if as_pdf else 'jpeg'}"
    (room / "scans").mkdir(parents=True)
    for name in ("worksheet.yaml", "rubric.yaml"):
        shutil.copy(SAMPLE / name, room)
    owners = []
    if as_pdf:
        (room / "scans" / "class.pdf").write_bytes(pdf(pages(count)))
        owners = [("class.pdf", n + 1) for n in range(count)]
    else:
        for n, photo in enumerate(pages(count)):
            (room / "scans" / f"{n:03}.jpg").write_bytes(photo)
            owners.append((f"{n:03}.jpg", 1))
    codes = [f"S-{n:03}" for n in range(count)]
    (room / "roster.csv").write_text("code,name\n" + "".join(f"{code},\n" for code in codes))
    rows = "".join(f"{file},{page},{code},\n" for (file, page), code in zip(owners, codes))
    (room / "who.csv").write_text("file,page,code,guess\n" + rows)
    return room


def peak_mb(program, room):
    """Largest resident memory of a run, MB, and what it said first.

    Read off the running program (Linux): what the system tells of it afterwards begins with the memory of the
    program that started it, this one.
    """
    said = room / "said.txt"
    run = subprocess.Popen([program, "mark", room, "--threads", "2"], stdout=said.open("w"))
    peak = 0
    while run.poll() is None:
        status = pathlib.Path(f"/proc/{run.pid}/status").read_text()
        peak = max([peak] + [int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM:")])
        time.sleep(0.005)
    if run.returncode:
        sys.exit(f"memory.py: mark ended with {run.returncode} in {room}")
    return peak / 1024, said.read_text().splitlines()[0]


def main():
    program = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else HERE / "target" / "release" / "lodemark").resolve()
    with tempfile.TemporaryDirectory() as home:
        for as_pdf in (False, True):
            peaks = []
            for count in (30, 300):
                room = classroom(pathlib.Path(home), count, as_pdf)
                peak, said = peak_mb(program, room)
                again, _ = peak_mb(program, room)
                peaks.append(peak)
                print(f"{room.name}: {peak:.0f} MB, again with the cache {again:.0f} MB ({said})", flush=True)
            print(f"  300 pages take {peaks[1] / peaks[0]:.2f} times the memory of 30")


main()
