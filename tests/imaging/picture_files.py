"""Picture files for the tests: honest ones from real encoders, and hostile ones made out of them."""

import struct
import zlib

import imagecodecs
import numpy as np
import tifffile

TEXTURE_SEED = 11


def texture(height=90, width=130, *, channels=1, bits=16, seed=TEXTURE_SEED):
    """A ramp with noise, so that no encoder finds it trivial."""
    rng = np.random.default_rng(seed)
    ramp = np.linspace(0.1, 0.9, width)[None, :, None] * np.ones((height, 1, channels))
    levels = (ramp + rng.normal(0, 0.02, ramp.shape)) * (2**bits - 1)
    samples = np.clip(levels, 0, 2**bits - 1).astype(np.uint16 if bits == 16 else np.uint8)
    return samples[:, :, 0] if channels == 1 else samples


TIFF_KINDS = {
    "plain strips": {},
    "plain, big-endian": {"byteorder": ">"},
    "BigTIFF": {"bigtiff": True},
    "small strips, LZW": {"compression": "lzw", "rowsperstrip": 7},
    "LZW with predictor": {"compression": "lzw", "predictor": True},
    "deflate": {"compression": "zlib", "rowsperstrip": 16},
    "deflate with predictor, big-endian": {"compression": "zlib", "predictor": True, "byteorder": ">"},
    "tiles": {"tile": (32, 48)},
    "tiles, LZW": {"tile": (32, 48), "compression": "lzw"},
    "BigTIFF tiles, deflate": {"tile": (64, 64), "compression": "zlib", "bigtiff": True},
}


def write_tiff(path, samples, **options):
    """A TIFF with resolution and maker's text, by the general-purpose library."""
    if samples.ndim == 3:
        options.setdefault("photometric", "rgb")
    extratags = [(271, 2, 0, "Invented maker", True), (272, 2, 0, "Flatbed\x07 model 3", True)]
    tifffile.imwrite(
        path, samples, resolution=(2400, 2400), metadata=None, extratags=extratags, software="", **options
    )
    return path


def write_png(path, samples, *, extra=()):
    """A PNG; ``extra`` are chunks (kind, body) put after the header."""
    data = imagecodecs.png_encode(samples)
    chunks = b"".join(_chunk(kind, body) for kind, body in extra)
    path.write_bytes(data[:33] + chunks + data[33:])
    return path


def _chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png_of_size(width, height, *, bits=16, colour=0, pixels=b"\0" * 100):
    """A PNG whose header claims a size that its pixels need not have."""
    header = struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0)
    body = _chunk(b"IHDR", header) + _chunk(b"IDAT", zlib.compress(pixels)) + _chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def tiff_of(tags, data=b"", *, pages=1):
    """A little-endian TIFF built by hand: ``tags`` maps code to (type, values); ``data`` follows byte 8.

    With several pages each is a copy of the directory; ``pages=-1`` makes a directory that follows itself.
    """
    sizes = {3: 2, 4: 4}
    entries, spill = b"", b""
    directory = 8 + len(data)
    count = abs(pages)
    length = 2 + 12 * len(tags) + 4
    spill_at = directory + count * length
    for code, (kind, values) in sorted(tags.items()):
        packed = struct.pack("<" + {3: "H", 4: "I"}[kind] * len(values), *values)
        if len(packed) > 4:
            place, spill = spill_at + len(spill), spill + packed
            packed = struct.pack("<I", place)
        entries += struct.pack("<HHI", code, kind, len(values)) + packed.ljust(4, b"\0")
        assert sizes[kind]
    directories = b""
    for page in range(count):
        following = directory + (page + 1) * length if page + 1 < count else 0
        following = directory if pages < 0 else following
        directories += struct.pack("<H", len(tags)) + entries + struct.pack("<I", following)
    return b"II*\0" + struct.pack("<I", directory) + data + directories + spill


def grey_tags(width, height, *, offset=8, size=None, compression=1, rows=None, bits=16, **more):
    """The tags of a 16-bit grey strip picture; the keywords are lies to tell."""
    size = width * height * bits // 8 if size is None else size
    tags = {
        256: (4, [width]),
        257: (4, [height]),
        258: (3, [bits]),
        259: (3, [compression]),
        262: (3, [1]),
        273: (4, [offset]),
        277: (3, [1]),
        278: (4, [height if rows is None else rows]),
        279: (4, [size]),
    }
    return tags | {int(code.removeprefix("tag_")): value for code, value in more.items()}


def hostile_files():
    """Name to (content, refusal codes of which one is expected)."""
    deflated = zlib.compress(b"\0" * 64_000_000)
    plain = struct.pack("<5000H", *range(5000))
    honest = tiff_of(grey_tags(100, 50), plain)
    png = imagecodecs.png_encode(texture())
    jpeg = imagecodecs.jpeg8_encode(texture(bits=8))
    damaged = {"DAMAGED_FILE"}
    return {
        "nothing": (b"", {"EMPTY_FILE"}),
        "text": (b"log_exposure,density\n-2,0.2\n", {"NOT_A_PICTURE"}),
        "archive": (b"PK\x03\x04" + b"\0" * 100, {"NOT_A_PICTURE"}),
        "vector program": (b"%!PS-Adobe-3.0 EPSF-3.0\n", {"NOT_A_PICTURE"}),
        "TIFF, four bytes": (b"II*\0", damaged),
        "TIFF, directory beyond the end": (b"II*\0" + struct.pack("<I", 99999), damaged),
        "TIFF, directory follows itself": (tiff_of(grey_tags(100, 50), plain, pages=-1), None),
        "TIFF, 60 pages": (tiff_of(grey_tags(100, 50), plain, pages=60), {"TOO_MANY_PAGES"}),
        "TIFF, 10,000 pages": (tiff_of(grey_tags(100, 50), plain, pages=10_000), {"TOO_MANY_PAGES"}),
        "TIFF, no width": (tiff_of(grey_tags(0, 50, size=2), plain), {"NO_PIXELS", "DAMAGED_FILE"}),
        "TIFF, honest giant": (tiff_of(grey_tags(32768, 32768), plain), {"TOO_MANY_PIXELS"}),
        "TIFF, widest": (tiff_of(grey_tags(2**31, 2**31, size=9), plain), {"TOO_MANY_PIXELS"}),
        "TIFF, short of pixels": (tiff_of(grey_tags(100, 500), plain), damaged),
        "TIFF, strip of no bytes": (tiff_of(grey_tags(100, 50, size=0), plain), damaged),
        "TIFF, strip beyond the end": (tiff_of(grey_tags(100, 50, offset=10**9), plain), damaged),
        "TIFF, strips of no rows": (tiff_of(grey_tags(100, 50, rows=0), plain), None),
        "TIFF, too few strips": (tiff_of(grey_tags(100, 50, rows=5), plain), damaged),
        "TIFF, 12 bits": (tiff_of(grey_tags(100, 50, bits=12), plain), {"UNSUPPORTED_SAMPLES"}),
        "TIFF, 32 bits": (tiff_of(grey_tags(50, 50, bits=32), plain), {"UNSUPPORTED_SAMPLES"}),
        "TIFF, JPEG inside": (
            tiff_of(grey_tags(100, 50, compression=7), plain),
            {"UNSUPPORTED_COMPRESSION"},
        ),
        "TIFF, unknown method": (
            tiff_of(grey_tags(100, 50, compression=60000), plain),
            {"UNSUPPORTED_COMPRESSION", "DAMAGED_FILE"},
        ),
        "TIFF, palette": (tiff_of(grey_tags(100, 50, tag_262=(3, [3])), plain), {"UNSUPPORTED_SAMPLES"}),
        "TIFF, floating point": (
            tiff_of(grey_tags(100, 50, tag_339=(3, [3])), plain),
            {"UNSUPPORTED_SAMPLES"},
        ),
        "TIFF, tile larger than memory": (
            tiff_of(
                grey_tags(100, 50, compression=8, tag_322=(4, [65536]), tag_323=(4, [65536]))
                | {324: (4, [8]), 325: (4, [len(plain)])},
                plain,
            ),
            {"SEGMENT_TOO_LARGE"},
        ),
        "TIFF, deflate bomb behind a small header": (
            tiff_of(grey_tags(64, 64, compression=8, size=len(deflated)), deflated),
            None,
        ),
        "TIFF, noise for LZW": (tiff_of(grey_tags(100, 50, compression=5, size=10_000), plain), damaged),
        "TIFF, half a file": (honest[:5000], damaged),
        "PNG, signature only": (png[:8], damaged),
        "PNG, half a file": (png[: len(png) // 2], damaged),
        "PNG, giant": (png_of_size(100_000, 100_000), {"TOO_MANY_PIXELS"}),
        "PNG, no height": (png_of_size(100, 0), {"NO_PIXELS"}),
        "PNG, palette": (png_of_size(10, 10, bits=8, colour=3), {"UNSUPPORTED_SAMPLES"}),
        "PNG, one bit": (png_of_size(10, 10, bits=1), {"UNSUPPORTED_SAMPLES"}),
        "PNG, no colour type": (png_of_size(10, 10, colour=5), {"UNSUPPORTED_SAMPLES"}),
        "PNG, fewer pixels than declared": (png_of_size(1000, 1000), damaged),
        "PNG, more pixels than declared": (png_of_size(10, 10, pixels=b"\0" * 64_000_000), None),
        "JPEG, three bytes": (jpeg[:3], damaged),
        "JPEG, half a file": (jpeg[: len(jpeg) // 2], None),
        "JPEG, header only": (jpeg[:100], damaged),
        "JPEG in the clothes of a TIFF": (b"II*\0" + jpeg, damaged),
    }


def mutated(data, rng):
    """A copy with bytes changed, cut out, doubled, or the end cut off; half of the time near the start."""
    spoiled = bytearray(data)
    for _ in range(rng.integers(1, 9)):
        reach = min(len(spoiled), 400) if rng.random() < 0.5 else len(spoiled)
        place = int(rng.integers(0, max(reach, 1)))
        kind = rng.integers(0, 6)
        if kind <= 2:
            spoiled[place : place + 1] = bytes([rng.integers(0, 256)])
        elif kind == 3:
            spoiled[place : place + 4] = rng.choice([b"\xff\xff\xff\xff", b"\0\0\0\0", b"\xff\x7f\0\0"])
        elif kind == 4:
            del spoiled[place : place + int(rng.integers(1, 40))]
        else:
            spoiled[place:place] = spoiled[place : place + int(rng.integers(1, 40))]
    if rng.random() < 0.2:
        del spoiled[int(rng.integers(1, len(spoiled))) :]
    return bytes(spoiled)
