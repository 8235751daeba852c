#!/usr/bin/env python3
"""Writes the odd pictures beside this file. Needs Pillow and pillow-heif; the tests do not.

Every picture shows the same thing, 48 x 32 pixels upright: red left half, blue right half, a green
bar along the top. So a test can tell which way up it came and in which colours.
"""
import pathlib

import pillow_heif
from PIL import Image, ImageDraw

HERE = pathlib.Path(__file__).parent
RED, BLUE, GREEN = (200, 30, 30), (30, 30, 200), (30, 160, 30)
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
ORIENTATION, TAKEN, EXIF_IFD = 0x0112, 0x9003, 0x8769


def picture():
    im = Image.new("RGB", (48, 32), RED)
    draw = ImageDraw.Draw(im)
    draw.rectangle((24, 0, 47, 31), fill=BLUE)
    draw.rectangle((0, 0, 47, 7), fill=GREEN)
    return im


def exif(orientation):
    data = Image.Exif()
    data[ORIENTATION] = orientation
    data.get_ifd(EXIF_IFD)[TAKEN] = "2026:05:17 09:41:03"
    return data


def main():
    im = picture()
    other = Image.new("RGB", im.size, (250, 250, 250))
    im.convert("CMYK").save(HERE / "cmyk.jpg", quality=95)
    im.convert("CMYK").save(HERE / "cmyk.tif", compression="tiff_lzw")
    im.save(HERE / "progressive.jpg", quality=95, progressive=True, subsampling=0)
    im.convert("L").save(HERE / "grey.jpg", quality=95)
    deep = b"".join(bytes((v, v)) for v in im.convert("L").tobytes())
    Image.frombytes("I;16", im.size, deep).save(HERE / "grey16.png")
    im.quantize(8).save(HERE / "palette.png")
    im.quantize(8).save(HERE / "palette.bmp")
    im.quantize(8).save(HERE / "palette.tif")
    im.convert("1").save(HERE / "one-bit.tif", compression="group4")
    im.save(HERE / "deflate.tif", compression="tiff_adobe_deflate")
    im.save(HERE / "animated.gif", save_all=True, append_images=[other] * 2, duration=80)
    im.save(HERE / "animated.png", save_all=True, append_images=[other] * 2, duration=80)
    im.save(HERE / "animated.webp", save_all=True, append_images=[other] * 2, lossless=True)
    im.save(HERE / "lossy.webp", quality=95)
    clear = im.convert("RGBA")
    clear.paste((0, 0, 0, 0), (24, 8, 48, 32))
    clear.save(HERE / "alpha.webp", lossless=True)
    for n, turn in TURNS.items():
        im.transpose(turn).save(HERE / f"turned-{n}.jpg", exif=exif(n), quality=95, subsampling=0)
    turned = im.transpose(TURNS[6])
    turned.save(HERE / "turned-6.png", exif=exif(6))
    turned.save(HERE / "turned-6.webp", exif=exif(6), lossless=True)
    # Pillow takes one prefix away, so one stays: other programs write it into the file.
    prefixed = b"Exif\0\0" + exif(6).tobytes()
    turned.save(HERE / "turned-6-prefixed.webp", exif=prefixed, lossless=True)
    turned.save(HERE / "turned-6.tif", exif=exif(6), compression="tiff_lzw")
    broken = exif(1).tobytes()
    im.save(HERE / "cut-exif.jpg", exif=broken[: len(broken) - 25], quality=95, subsampling=0)

    pillow_heif.register_heif_opener()
    im.resize((192, 128), Image.Resampling.NEAREST).save(HERE / "plain.heic", quality=90)
    turned = im.resize((192, 128), Image.Resampling.NEAREST).transpose(TURNS[6])
    # As bytes the orientation becomes a turn of the container too; as an object it does not.
    turned.save(HERE / "turned-6.heic", quality=90, exif=exif(6).tobytes())
    turned.save(HERE / "exif-says-6.heic", quality=90, exif=exif(6))


if __name__ == "__main__":
    main()
