#!/usr/bin/env python3
"""Makes the small files beside it, with writers that lodemark does not use: Pillow with libtiff, pikepdf,
and the JBIG2 arithmetic coder below, written after ITU-T T.88 (encoder: annex E.2 turned about as in
ITU-T T.81 annex D / ISO 15444-1 annex C). Run once: `python3 make.py` (Pillow 13, pikepdf 10).

picture.png  the 1-bit picture that all 1-bit files hold, 160 x 220
shades.png   the grey picture that all lossless grey files hold, 160 x 220
"""
import io
import struct

import pikepdf
from PIL import Image, ImageDraw

W, H = 160, 220

def picture():
    im = Image.new("1", (W, H), 255)
    d = ImageDraw.Draw(im)
    d.rectangle((10, 12, 50, 30), fill=0)
    d.line((20, 60, 150, 200), fill=0, width=3)
    d.ellipse((80, 20, 140, 90), outline=0, width=2)
    d.polygon(((12, 210), (40, 210), (12, 180)), fill=0)
    for i in range(0, 40, 3):
        d.point((60 + i, 150 + i % 7), fill=0)
    return im


def shades():
    im = Image.new("L", (W, H))
    im.putdata([(3 * x + 5 * y + (x * y) // 7) % 256 for y in range(H) for x in range(W)])
    return im


def page():
    """A4 at 200 dpi with curved strokes, for the bench."""
    im = Image.new("1", (2339, 1654), 255)
    d = ImageDraw.Draw(im)
    for i in range(14):
        d.arc((200, 100 * i - 200, 2139, 100 * i + 400), 185 + i, 340 - i, fill=0, width=4)
    return im


class MQ:
    """The arithmetic coder of T.88 annex E, coding side."""
    QE = [(0x5601, 1, 1, 1), (0x3401, 2, 6, 0), (0x1801, 3, 9, 0), (0x0AC1, 4, 12, 0), (0x0521, 5, 29, 0),
          (0x0221, 38, 33, 0), (0x5601, 7, 6, 1), (0x5401, 8, 14, 0), (0x4801, 9, 14, 0), (0x3801, 10, 14, 0),
          (0x3001, 11, 17, 0), (0x2401, 12, 18, 0), (0x1C01, 13, 20, 0), (0x1601, 29, 21, 0), (0x5601, 15, 14, 1),
          (0x5401, 16, 14, 0), (0x5101, 17, 15, 0), (0x4801, 18, 16, 0), (0x3801, 19, 17, 0), (0x3401, 20, 18, 0),
          (0x3001, 21, 19, 0), (0x2801, 22, 19, 0), (0x2401, 23, 20, 0), (0x2201, 24, 21, 0), (0x1C01, 25, 22, 0),
          (0x1801, 26, 23, 0), (0x1601, 27, 24, 0), (0x1401, 28, 25, 0), (0x1201, 29, 26, 0), (0x1101, 30, 27, 0),
          (0x0AC1, 31, 28, 0), (0x09C1, 32, 29, 0), (0x08A1, 33, 30, 0), (0x0521, 34, 31, 0), (0x0441, 35, 32, 0),
          (0x02A1, 36, 33, 0), (0x0221, 37, 34, 0), (0x0141, 38, 35, 0), (0x0111, 39, 36, 0), (0x0085, 40, 37, 0),
          (0x0049, 41, 38, 0), (0x0025, 42, 39, 0), (0x0015, 43, 40, 0), (0x0009, 44, 41, 0), (0x0005, 45, 42, 0),
          (0x0001, 45, 43, 0), (0x5601, 46, 46, 0)]

    def __init__(self):
        self.a, self.c, self.ct, self.b, self.out = 0x8000, 0, 12, None, bytearray()
        self.i, self.mps = {}, {}

    def code(self, cx, d):
        i, mps = self.i.get(cx, 0), self.mps.get(cx, 0)
        qe, nmps, nlps, switch = self.QE[i]
        self.a -= qe
        if d == mps:
            if self.a & 0x8000:
                self.c += qe
                return
            if self.a < qe:
                self.a = qe
            else:
                self.c += qe
            self.i[cx] = nmps
        else:
            if self.a < qe:
                self.c += qe
            else:
                self.a = qe
            if switch:
                self.mps[cx] = 1 - mps
            self.i[cx] = nlps
        while True:
            self.a, self.c, self.ct = self.a << 1, self.c << 1, self.ct - 1
            if self.ct == 0:
                self.byte_out()
            if self.a & 0x8000:
                break

    def put(self):
        if self.b is not None:
            self.out.append(self.b)

    def byte_out(self):
        if self.b == 0xFF:
            self.put()
            self.b, self.c, self.ct = self.c >> 20, self.c & 0xFFFFF, 7
        elif self.c < 0x8000000:
            self.put()
            self.b, self.c, self.ct = self.c >> 19, self.c & 0x7FFFF, 8
        else:
            self.b = (self.b or 0) + 1
            if self.b == 0xFF:
                self.c &= 0x7FFFFFF
                self.put()
                self.b, self.c, self.ct = self.c >> 20, self.c & 0xFFFFF, 7
            else:
                self.put()
                self.b, self.c, self.ct = self.c >> 19 & 0xFF, self.c & 0x7FFFF, 8

    def flush(self):
        temp = self.c + self.a
        self.c |= 0xFFFF
        if self.c >= temp:
            self.c -= 0x8000
        self.c <<= self.ct
        self.byte_out()
        self.c <<= self.ct
        self.byte_out()
        if self.b != 0xFF:
            self.put()
        return bytes(self.out) + b"\xff\xac"

def jbig2(im):
    """A page of one immediate lossless generic region, template 0, as embedded in a PDF (T.88, 6.2, 7.4.6)."""
    px = im.load()
    at = lambda x, y: 1 if 0 <= x < W and 0 <= y < H and px[x, y] == 0 else 0
    mq = MQ()
    for y in range(H):
        for x in range(W):
            # figure 3 with the adaptive pixels A1 (3,-1), A2 (-3,-1), A3 (2,-2), A4 (-2,-2) at their usual places
            cx = 0
            for dx, dy in [(-2, -2), (-1, -2), (0, -2), (1, -2), (2, -2), (-3, -1), (-2, -1), (-1, -1), (0, -1), (1, -1),
                           (2, -1), (3, -1), (-4, 0), (-3, 0), (-2, 0), (-1, 0)]:
                cx = cx << 1 | at(x + dx, y + dy)
            mq.code(cx, at(x, y))
    four = lambda n: n.to_bytes(4, "big")
    info = four(W) + four(H) + four(0) + four(0) + b"\x00" + b"\x00\x00"
    region = four(W) + four(H) + four(0) + four(0) + b"\x00" + b"\x00" + bytes([3, 255, 253, 255, 2, 254, 254, 254]) + mq.flush()
    segment = lambda number, kind, body: four(number) + bytes([kind, 0, 1]) + four(len(body)) + body
    return segment(0, 48, info) + segment(1, 39, region)

def g4(im):
    """The bare T.6 data of a picture, taken out of libtiff's file."""
    buffer = io.BytesIO()
    im.save(buffer, "TIFF", compression="group4", strip_size=1 << 20, tiffinfo={262: 0})
    tif = Image.open(io.BytesIO(buffer.getvalue()))
    assert len(tif.tag_v2[273]) == 1
    begin, length = tif.tag_v2[273][0], tif.tag_v2[279][0]
    return buffer.getvalue()[begin:begin + length]

def jpeg_in_tiff(im):
    """A colour JPEG as the one strip of a big-endian TIFF (TIFF Technical Note 2), tags 256 to 279."""
    coded = io.BytesIO()
    im.save(coded, "JPEG", quality=95)
    coded = coded.getvalue()
    at = 8
    tags = [(256, 3, W), (257, 3, H), (258, 3, 8), (259, 3, 7), (262, 3, 6), (273, 4, at), (277, 3, 3), (278, 3, H), (279, 4, len(coded))]
    entry = lambda tag, kind, value: struct.pack(">HHI", tag, kind, 1) + (struct.pack(">HH", value, 0) if kind == 3 else struct.pack(">I", value))
    body = coded + b"\0" * (len(coded) % 2)
    return b"MM\0*" + struct.pack(">I", at + len(body)) + body + struct.pack(">H", len(tags)) + b"".join(entry(*t) for t in tags) + b"\0" * 4


def main():
    one, grey = picture(), shades()
    one.save("picture.png")
    grey.save("shades.png")
    for name, im, how in [("g4", one, "group4"), ("g3", one, "group3"), ("rle", one, "tiff_ccitt"), ("packbits", one, "packbits"),
                          ("lzw", grey, "tiff_lzw"), ("deflate", grey, "tiff_adobe_deflate"), ("plain", grey, "raw")]:
        im.save(f"{name}.tif", "TIFF", compression=how, dpi=(200, 100))
    grey.save("jpeg.tif", "TIFF", compression="jpeg", quality=95)
    colour = Image.merge("RGB", (grey, grey.transpose(Image.Transpose.FLIP_TOP_BOTTOM), grey.point(lambda v: 255 - v)))
    colour.save("rgb.tif", "TIFF", compression="tiff_lzw")
    colour.save("rgb.png")
    smooth = Image.merge("RGB", [Image.linear_gradient("L").resize((W, H)).rotate(a) for a in (0, 90, 180)])
    smooth.save("jpeg-rgb.tif", "TIFF", compression="jpeg", quality=95)
    open("jpeg-ycbcr.tif", "wb").write(jpeg_in_tiff(smooth))
    smooth.save("smooth.png")
    grey.quantize(16).save("palette.tif", "TIFF", compression="raw")
    grey.quantize(16).convert("RGB").save("palette.png")
    one.save("white-is-zero.tif", "TIFF", compression="group4", tiffinfo={262: 0})
    grey.save("white-is-zero-grey.tif", "TIFF", compression="tiff_lzw", tiffinfo={262: 0})
    over, third = one.transpose(Image.Transpose.ROTATE_180), grey.copy()
    third.encoderinfo = {"compression": "tiff_lzw"}
    one.save("three.tif", "TIFF", compression="group4", save_all=True, append_images=[over, third])
    turned = grey.transpose(Image.Transpose.ROTATE_90)   # orientation 6: shown after a turn clockwise
    turned.save("orientation6.tif", "TIFF", compression="tiff_lzw", tiffinfo={274: 6})
    page().save("page-g4.tif", "TIFF", compression="group4", dpi=(200, 200))
    open("picture.g4", "wb").write(g4(one))
    open("picture.jb2", "wb").write(jbig2(one))
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=(200, 200))
    pdf.save("password.pdf", encryption=pikepdf.Encryption(user="secret", owner="owner", R=6), static_id=True)

main()
