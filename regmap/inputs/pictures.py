"""A picture in any shape -> one uint8 array.

This is the one place where pictures enter: whatever follows may rely on what `read_picture`
promises.
"""

from __future__ import annotations

import os
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
from regmap.inputs.picture_headers import read_header

__all__ = ["MAX_PIXELS", "MIN_SIDE", "read_picture"]

MAX_PIXELS = 2**28
"""Most pixels taken unless told otherwise: 16384 x 16384."""

MIN_SIDE = 8
"""Fewest pixels along either side."""

Pixels = NDArray[np.uint8]

# What OpenCV logs and what Python warns of are settings of the whole process: they are set back
# when the last of several threads that read pictures is done.
_LOCK = threading.Lock()
_READERS: list[int] = []


def read_picture(image: object, *, max_pixels: int = MAX_PIXELS) -> Pixels:
    """Return a picture as (H, W, 3) RGB or (H, W) grey, uint8, C-contiguous.

    Parameters
    ----------
    image
        A path, the bytes of a file, an open binary file, an array, whatever has
        `__array_interface__` or `__array__`, or an open rasterio dataset. An array is (H, W),
        (H, W, 1), (H, W, 2) grey and alpha, (H, W, 3) RGB or (H, W, 4) RGBA; bands may come first
        instead, as rasterio reads them. Mind that `cv2.imread` gives BGR.
    max_pixels
        A larger picture is refused; a file's claimed size is read before it is decoded.

    Notes
    -----
    Transparent pixels are laid over white. 16 bits are scaled to 8. Whole numbers of other types
    are taken as 8 bits if none is above 255, as 16 bits otherwise; floating-point numbers run from
    0 to 1, or from 0 to 255 if any is above 1. Of an animation, the first picture counts. An
    orientation noted in EXIF is ignored: pixel coordinates are those of the pixels as stored.

    Raises
    ------
    PictureError
        The file is missing, cut off, damaged or of an unknown format; the picture is empty, smaller
        than 8 px along a side or larger than `max_pixels`; numbers are not finite or out of range.
    """
    if isinstance(image, (str, os.PathLike)):
        path = Path(image)
        try:
            data = path.read_bytes()
        except (OSError, ValueError) as error:
            raise PictureError(f"cannot read the picture {str(path)!r}: {error}") from error
        return _decoded(data, f"picture {path.name!r}", max_pixels)
    if isinstance(image, (bytes, bytearray, memoryview)):
        return _decoded(bytes(image), "picture", max_pixels)
    if _is_dataset(image):
        return _from_dataset(image, max_pixels)
    if hasattr(image, "__array_interface__") or hasattr(image, "__array__"):
        return _from_array(_array(image), "picture", max_pixels)
    if hasattr(image, "read"):
        data = image.read()
        if isinstance(data, bytes):
            return _decoded(data, "picture", max_pixels)
    raise PictureError(
        f"a picture came as {type(image).__name__}; give a path, bytes, an array (grey, RGB or "
        "RGBA) or an open rasterio dataset"
    )


# --- files ---------------------------------------------------------------------------------------


def _decoded(data: bytes, what: str, max_pixels: int) -> Pixels:
    try:
        header = read_header(data)
        _check_size(header.width, header.height, max_pixels)
    except PictureError as error:
        raise PictureError(f"{what}: {error}") from error
    encoded = np.frombuffer(data, dtype=np.uint8)
    # Unchanged keeps alpha, 16 bits and the pixels as stored (EXIF turns nothing).
    with _quiet_opencv():
        try:
            pixels = cv2.imdecode(encoded, cv2.IMREAD_UNCHANGED)
        except cv2.error:
            pixels = None
    bands_lost = pixels is not None and pixels.ndim == 2 and (header.bands or 1) > 1
    if bands_lost or (pixels is None and header.format in ("TIFF", "JPEG 2000")):
        return _decoded_by_gdal(data, what, max_pixels)
    if pixels is None:
        raise PictureError(
            f"{what}: the {header.format} file is damaged or cut off; export it again"
        )
    if pixels.ndim == 3 and pixels.shape[2] >= 3:
        pixels[:, :, :3] = pixels[:, :, 2::-1].copy()  # OpenCV keeps blue first
    return _from_array(pixels, what, max_pixels)


def _decoded_by_gdal(data: bytes, what: str, max_pixels: int) -> Pixels:
    """For kinds of TIFF and JPEG 2000 that OpenCV does not know; no other driver is allowed."""
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning, RasterioError
    from rasterio.io import MemoryFile

    try:
        with (
            _LOCK,
            warnings.catch_warnings(action="ignore", category=NotGeoreferencedWarning),
            rasterio.Env(GDAL_DISABLE_READDIR_ON_OPEN="EMPTY_DIR"),
            MemoryFile(data) as memory,
            memory.open(driver=["GTiff", "JP2OpenJPEG"]) as dataset,
        ):
            return _from_dataset(dataset, max_pixels)
    except (RasterioError, PictureError) as error:
        raise PictureError(f"{what}: the file is damaged or cut off ({error})") from error


@contextmanager
def _quiet_opencv() -> Iterator[None]:
    """Keep OpenCV from writing to stderr; what went wrong is raised instead."""
    logging = cv2.utils.logging
    with _LOCK:
        if not _READERS:
            usual = logging.getLogLevel()
            logging.setLogLevel(logging.LOG_LEVEL_SILENT)
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


# --- rasterio datasets ---------------------------------------------------------------------------


def _is_dataset(image: object) -> bool:
    return all(hasattr(image, name) for name in ("read", "count", "width", "height", "dtypes"))


def _from_dataset(dataset: Any, max_pixels: int) -> Pixels:
    if getattr(dataset, "closed", False):
        raise PictureError("the dataset is closed; hand it over while it is open")
    count, width, height = int(dataset.count), int(dataset.width), int(dataset.height)
    _check_size(width, height, max_pixels)
    kinds = [getattr(kind, "name", "") for kind in getattr(dataset, "colorinterp", ())]
    try:
        if count == 1 or kinds[:1] == ["palette"]:
            pixels = dataset.read(1)
            if kinds[:1] == ["palette"]:
                pixels = _palette(dataset.colormap(1))[np.asarray(pixels, dtype=np.intp)]
        elif count == 2 or kinds[:2] == ["gray", "alpha"]:
            pixels = np.moveaxis(dataset.read([1, 2]), 0, -1)
        else:
            alpha = count > 3 and (kinds[3:4] == ["alpha"] or count == 4)
            pixels = np.moveaxis(dataset.read([1, 2, 3, 4] if alpha else [1, 2, 3]), 0, -1)
        mask = dataset.dataset_mask() if _has_nodata(dataset) else None
    except (OSError, RuntimeError, IndexError, ValueError) as error:
        raise PictureError(f"cannot read the dataset: {error}") from error
    if mask is not None:
        pixels = np.where(np.isfinite(pixels), pixels, 0)
    result = _from_array(pixels, "picture", max_pixels)
    if mask is not None:
        result[np.asarray(mask) == 0] = 255
    return result


def _has_nodata(dataset: Any) -> bool:
    return any(value is not None for value in getattr(dataset, "nodatavals", ()))


def _palette(colours: dict[int, tuple[int, ...]]) -> Pixels:
    table = np.zeros((max(256, *(key + 1 for key in colours)), 4), dtype=np.uint8)
    table[:, 3] = 255
    for key, colour in colours.items():
        table[key, : len(colour)] = colour
    return table


# --- arrays --------------------------------------------------------------------------------------


def _array(image: Any) -> NDArray[Any]:
    # An indexed or CMYK image object gives its raw numbers as an array: ask it for colours first.
    mode = getattr(image, "mode", None)
    if isinstance(mode, str) and hasattr(image, "convert"):
        if mode in ("P", "PA", "RGBa", "La") or "transparency" in getattr(image, "info", {}):
            image = image.convert("RGBA")
        elif mode in ("CMYK", "YCbCr", "LAB", "HSV", "RGBX"):
            image = image.convert("RGB")
    try:
        if np.ma.isMaskedArray(image):
            return _masked(image)
        return np.asarray(image)
    except (TypeError, ValueError) as error:
        raise PictureError(f"the picture cannot be read as an array: {error}") from error


def _masked(image: Any) -> NDArray[Any]:
    """Masked pixels become white."""
    white = 255 if image.dtype == np.uint8 or image.max() > 1 else 1
    return np.asarray(image.filled(white))


def _from_array(pixels: NDArray[Any], what: str, max_pixels: int) -> Pixels:
    if pixels.size == 0 or pixels.ndim not in (2, 3):
        raise PictureError(
            f"{what}: an array of shape {pixels.shape} came; give (H, W) or (H, W, 1 to 4)"
        )
    if pixels.ndim == 3 and pixels.shape[2] > 4 and pixels.shape[0] <= 4:
        pixels = np.moveaxis(pixels, 0, -1)
    if pixels.ndim == 3 and pixels.shape[2] > 4:
        raise PictureError(
            f"{what}: an array of shape {pixels.shape} came; give (H, W) or (H, W, 1 to 4): grey, "
            "grey and alpha, RGB or RGBA"
        )
    _check_size(pixels.shape[1], pixels.shape[0], max_pixels)
    eight_bit = _eight_bit(pixels, what)
    if eight_bit.ndim == 3:
        bands = eight_bit.shape[2]
        if bands in (2, 4):
            eight_bit = _over_white(eight_bit[:, :, :-1], eight_bit[:, :, -1])
        if bands <= 2:
            eight_bit = eight_bit[:, :, 0]
    # A new array always: what follows may write to it, and the caller's stays as it was.
    return np.array(eight_bit, dtype=np.uint8, order="C")


def _eight_bit(pixels: NDArray[Any], what: str) -> Pixels:
    kind = pixels.dtype.kind
    if pixels.dtype == np.uint8:
        return pixels
    if kind == "b":
        return pixels.astype(np.uint8) * np.uint8(255)
    if kind not in "iuf":
        raise PictureError(
            f"{what}: an array of {pixels.dtype} came; give uint8, uint16, bool or floats"
        )
    low, high = float(pixels.min()), float(pixels.max())
    if not (np.isfinite(low) and np.isfinite(high)):
        raise PictureError(
            f"{what}: it has NaN or infinite pixels; give them a colour first (white, say)"
        )
    allowed = 255.5 if kind == "f" else 65535
    if low < -1e-3 or high > allowed:
        raise PictureError(
            f"{what}: its numbers run from {low:g} to {high:g}; allowed are 0 to 255, 0 to 65535 "
            "in whole numbers, or 0 to 1 in floating point; scale them first"
        )
    if kind == "f":
        scale = 255.0 if high <= 1.001 else 1.0
        return np.clip(np.rint(pixels * scale), 0, 255).astype(np.uint8)
    if high <= 255:
        return pixels.astype(np.uint8)
    return ((pixels.astype(np.uint32) * 255 + 32767) // 65535).astype(np.uint8)


def _over_white(colour: Pixels, alpha: Pixels) -> Pixels:
    if alpha.min() == 255:
        return colour
    share = alpha.astype(np.uint16)[:, :, None]
    mixed = colour.astype(np.uint16) * share + 255 * (255 - share)
    return ((mixed.astype(np.uint32) + 127) // 255).astype(np.uint8)


def _check_size(width: int, height: int, max_pixels: int) -> None:
    if width < MIN_SIDE or height < MIN_SIDE:
        raise PictureError(
            f"the picture is {width} x {height} px; at least {MIN_SIDE} x {MIN_SIDE} are needed"
        )
    if width * height > max_pixels:
        raise PictureError(
            f"the picture is {width} x {height} px, more than the {max_pixels} pixels allowed; "
            "shrink it, or pass a larger max_pixels"
        )
