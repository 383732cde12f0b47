"""A picture in any shape -> one uint8 array.

This is the one place where pictures enter: whatever follows may rely on what `read_picture`
promises.
"""

from __future__ import annotations

import logging
import os
import stat
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from regmap.errors import PictureError
from regmap.given import short, whole
from regmap.inputs.opened import opened
from regmap.inputs.picture_headers import pixels_alone, read_header
from regmap.inputs.picture_pixels import (
    MAX_ASPECT,
    MAX_SIDE,
    MIN_SIDE,
    check_sides,
    eight_bit,
    strips,
)

__all__ = ["MAX_ASPECT", "MAX_PIXELS", "MAX_SIDE", "MIN_SIDE", "pixels_of", "read_picture"]

log = logging.getLogger(__name__)

MAX_PIXELS = 2**28
"""Most pixels that are decoded unless told otherwise: 16384 x 16384."""

_BYTES_A_PIXEL = 8
"""Most that a pixel may take decoded, and the file of it on average: four bands of 16 bits."""

_SLACK = 2**20
"""Bytes of a file beside its pixels: notes, profiles, thumbnails."""

Pixels = NDArray[np.uint8]

# What OpenCV logs and what Python warns of are settings of the whole process: they are set back
# when the last of several threads that read pictures is done.
_LOCK = threading.Lock()
_READERS: list[int] = []
_SILENT = 0


def read_picture(image: object, *, max_pixels: int = MAX_PIXELS) -> Pixels:
    """Return a picture as a new array (H, W, 3) RGB or (H, W) grey, uint8, C-contiguous.

    Args:
        image: a path, the bytes of a file, an open binary file, an array, whatever has
            `__array_interface__` or `__array__`, or an open rasterio dataset. An array is (H, W),
            (H, W, 1), (H, W, 2) grey and alpha, (H, W, 3) RGB or (H, W, 4) RGBA; bands may come
            first instead, as rasterio reads them. Mind that `cv2.imread` gives BGR.
        max_pixels: a file or dataset of more pixels, or of more than 8 bytes for each of them, is
            refused before it is decoded, by the size that its header claims. An array is in memory
            already: to use a larger file all the same, read it here with a larger `max_pixels` and
            hand over the array.

    Transparent and masked pixels are laid over white. 16 bits are scaled to 8. Whole numbers of
    other types are taken as 8 bits if none is above 255, as 16 bits otherwise; floating-point
    numbers run from 0 to 1, or from 0 to 255 if any is above 1. Of an animation, the first picture
    counts. An orientation noted in EXIF is ignored: pixel coordinates are those of the pixels as
    stored. A name is that of a file on this machine, and the formats are those of
    `picture_headers.FORMATS`: nothing is fetched, and no file names another one.

    Raises:
        PictureError: the file is missing, cut off, damaged or of an unknown format; the picture is
            empty, smaller than `MIN_SIDE` px or longer than `MAX_SIDE` px along a side, more than
            `MAX_ASPECT` times as long as wide, or larger than `max_pixels`; numbers are not finite
            or out of range.
    """
    return pixels_of(image, max_pixels=max_pixels).copy()


def pixels_of(image: object, *, max_pixels: int = MAX_PIXELS) -> Pixels:
    """Return what `read_picture` does, to be looked at alone: an array that is such a picture
    already comes back itself, for a copy takes as long as a good part of what is done with it."""
    most = _BYTES_A_PIXEL * whole(max_pixels, "max_pixels", error=PictureError) + _SLACK
    if isinstance(image, (str, os.PathLike)):
        path = Path(image)
        try:
            data = _content(path, most)
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or error
            raise PictureError(f"cannot read the picture {str(path)!r}: {why}") from error
        return _decoded(data, f"picture {path.name!r}", max_pixels)
    if isinstance(image, (bytes, bytearray, memoryview)):
        return _decoded(bytes(image), "picture", max_pixels)
    if _is_dataset(image):
        return _from_dataset(image, max_pixels)
    found = _array(image)
    if found is not None:
        return eight_bit(found[0], "picture", found[1])
    if _offers(image, "read"):
        data = _at_most(image, most)
        if isinstance(data, bytes):
            return _decoded(data, "picture", max_pixels)
    raise PictureError(
        f"a picture came as {type(image).__name__}; give a path, bytes, an array (grey, RGB or "
        "RGBA) or an open rasterio dataset"
    )


def _offers(image: object, *names: str) -> bool:
    try:
        return all(hasattr(image, name) for name in names)
    except Exception as error:  # code of others may fail in ways of its own
        raise PictureError(f"the picture came as {short(image)}, which fails: {error}") from error


# --- files ---------------------------------------------------------------------------------------


def _content(path: Path, most: int) -> bytes:
    with opened(path) as file:
        mode = os.fstat(file.fileno()).st_mode
        if not (stat.S_ISREG(mode) or stat.S_ISFIFO(mode)):
            raise ValueError("it is a device, not a file")
        return bytes(_at_most(file, most))


def _at_most(file: Any, most: int) -> Any:
    """All of an open file; one that never ends is given up."""
    parts, size = [], 0
    while part := file.read(2**24):
        if not isinstance(part, bytes):
            return part
        parts.append(part)
        size += len(part)
        if size > most:
            raise PictureError(
                f"the picture file is longer than {most} bytes, too many for the pixels allowed; "
                "shrink it, or read it with read_picture and a larger max_pixels"
            )
    return b"".join(parts)


def _decoded(data: bytes, what: str, max_pixels: int) -> Pixels:
    try:
        header = read_header(data)
        _check_size(header.width, header.height, max_pixels, header.pixel_bytes)
    except PictureError as error:
        raise PictureError(f"{what}: {error}") from error
    log.info("%s: %s, %d x %d px", what, header.format, header.width, header.height)
    bare = pixels_alone(data) if header.format == "PNG" else data
    encoded = np.frombuffer(bare, dtype=np.uint8)
    # Unchanged keeps alpha, 16 bits and the pixels as stored (EXIF turns nothing).
    with _quiet_opencv():
        try:
            pixels = cv2.imdecode(encoded, cv2.IMREAD_UNCHANGED)
            bands_lost = pixels is not None and pixels.ndim == 2 and (header.bands or 1) > 1
            if bands_lost and header.format == "BMP":  # with the oldest header, OpenCV 5
                pixels, bands_lost = cv2.imdecode(encoded, cv2.IMREAD_COLOR), False
        except cv2.error:
            pixels, bands_lost = None, False
    if bands_lost or (pixels is None and header.format in ("TIFF", "JPEG 2000")):
        return _decoded_by_gdal(data, what, max_pixels)
    if pixels is None:
        raise PictureError(
            f"{what}: the {header.format} file is damaged or cut off, or OpenCV {cv2.__version__} "
            "reads no such files; export it again, as PNG if need be"
        )
    result = eight_bit(pixels, what)
    if result.ndim == 3:
        for rows in strips(result):  # OpenCV keeps blue first
            result[rows] = cv2.cvtColor(result[rows], cv2.COLOR_BGR2RGB)
    return result


def _decoded_by_gdal(data: bytes, what: str, max_pixels: int) -> Pixels:
    """For kinds of TIFF and JPEG 2000 that OpenCV does not know; no other driver is allowed."""
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning
    from rasterio.io import MemoryFile

    try:
        with (
            _LOCK,
            warnings.catch_warnings(action="ignore", category=NotGeoreferencedWarning),
            rasterio.Env(GDAL_DISABLE_READDIR_ON_OPEN="EMPTY_DIR", GDAL_NUM_THREADS="1"),
            MemoryFile(data) as memory,
            memory.open(driver=["GTiff", "JP2OpenJPEG"]) as dataset,
        ):
            return _from_dataset(dataset, max_pixels)
    except Exception as error:  # rasterio lets errors through that are not of its own kind
        raise PictureError(f"{what}: the file is damaged or cut off ({error})") from error


@contextmanager
def _quiet_opencv() -> Iterator[None]:
    """Keep OpenCV from writing to stderr; what went wrong is raised instead."""
    logging: Any = getattr(cv2.utils, "logging", cv2)  # OpenCV 4.8 has the functions at the top
    with _LOCK:
        if not _READERS:
            usual = logging.getLogLevel()
            logging.setLogLevel(_SILENT)
        else:
            usual = _READERS[0]
        _READERS.append(usual)
    try:
        yield
    finally:
        with _LOCK:
            _READERS.pop()
            if not _READERS:
                logging.setLogLevel(usual)


def _check_size(width: int, height: int, max_pixels: int, pixel_bytes: int) -> None:
    check_sides(width, height)
    what = f"the picture is {width} x {height} px"
    help_text = "shrink it, or read it with read_picture and a larger max_pixels"
    if width * height > max_pixels:
        raise PictureError(f"{what}, more than the {max_pixels} pixels allowed; {help_text}")
    if width * height * pixel_bytes > _BYTES_A_PIXEL * max_pixels:
        raise PictureError(
            f"{what} of {pixel_bytes} bytes, more than the {_BYTES_A_PIXEL * max_pixels} bytes "
            f"allowed; store it with 8 bits, {help_text}"
        )


# --- rasterio datasets ---------------------------------------------------------------------------


def _is_dataset(image: object) -> bool:
    return _offers(image, "read", "count", "width", "height", "dtypes")


def _from_dataset(dataset: Any, max_pixels: int) -> Pixels:
    if getattr(dataset, "closed", False):
        raise PictureError("the dataset is closed; hand it over while it is open")
    count, width, height = int(dataset.count), int(dataset.width), int(dataset.height)
    kinds = [getattr(kind, "name", "") for kind in getattr(dataset, "colorinterp", ())]
    wanted = _wanted_bands(count, kinds)
    _check_size(width, height, max_pixels, _bytes_of(dataset.dtypes, wanted))
    try:
        if len(wanted) == 1:
            pixels = dataset.read(1)
            if kinds[:1] == ["palette"]:
                pixels = _palette(dataset.colormap(1))[np.asarray(pixels, dtype=np.intp)]
        else:
            pixels = np.moveaxis(dataset.read(wanted), 0, -1)
        hidden = np.asarray(dataset.dataset_mask()) == 0 if _has_nodata(dataset) else None
    except (OSError, RuntimeError, IndexError, ValueError) as error:
        raise PictureError(f"cannot read the dataset: {error}") from error
    return eight_bit(pixels, "picture", hidden)


def _wanted_bands(count: int, kinds: list[str]) -> list[int]:
    if count == 1 or kinds[:1] == ["palette"]:
        return [1]
    if count == 2 or kinds[:2] == ["gray", "alpha"]:
        return [1, 2]
    alpha = count > 3 and (kinds[3:4] == ["alpha"] or count == 4)
    return [1, 2, 3, 4] if alpha else [1, 2, 3]


def _bytes_of(dtypes: Any, bands: list[int]) -> int:
    try:
        return sum(np.dtype(dtypes[band - 1]).itemsize for band in bands)
    except TypeError as error:  # GDAL has kinds of numbers that numpy has not
        raise PictureError(f"the dataset has bands of {dtypes}; give uint8 or uint16") from error


def _has_nodata(dataset: Any) -> bool:
    return any(value is not None for value in getattr(dataset, "nodatavals", ()))


def _palette(colours: dict[int, tuple[int, ...]]) -> Pixels:
    table = np.zeros((max(256, *(key + 1 for key in colours)), 4), dtype=np.uint8)
    table[:, 3] = 255
    for key, colour in colours.items():
        table[key, : len(colour)] = colour
    return table


# --- arrays --------------------------------------------------------------------------------------


def _array(image: Any) -> tuple[NDArray[Any], NDArray[np.bool_] | None] | None:
    """The pixels, and which of them are masked; None if it offers none."""
    # What is asked here is code of others, which may fail in ways of its own: a file cut off that
    # is read only now, a tensor that lies on another device.
    try:
        if not (hasattr(image, "__array_interface__") or hasattr(image, "__array__")):
            return None
        # An indexed or CMYK image object gives its raw numbers as an array: ask for colours first.
        mode = getattr(image, "mode", None)
        if isinstance(mode, str) and hasattr(image, "convert"):
            if mode in ("P", "PA", "RGBa", "La") or "transparency" in getattr(image, "info", {}):
                image = image.convert("RGBA")
            elif mode in ("CMYK", "YCbCr", "LAB", "HSV", "RGBX"):
                image = image.convert("RGB")
        if np.ma.isMaskedArray(image):
            return np.asarray(image.data), np.asarray(np.ma.getmaskarray(image))
        return np.asarray(image), None
    except Exception as error:
        raise PictureError(f"the picture cannot be read as an array: {error}") from error
