"""AES69 files: broken as HDF5 (attributes, variables, shapes, types, storage) and as bytes."""

import io
import warnings
from collections.abc import Callable
from copy import copy
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

import h5py
import numpy as np
from pattern_samples import GLOBALS, grid, line, piston, unit, write_sofa

from .case import Case, Kind
from .patterns import options_of, read
from .texts import WORDS, broken_bytes

_HZ = np.array([500.0, 1000.0, 2000.0, 4000.0, 8000.0])


@dataclass
class Variable:
    """A variable as it is to be written: its values, its attributes, how it is stored."""

    values: Any
    attributes: dict[str, Any] = field(default_factory=dict)
    storage: dict[str, Any] = field(default_factory=dict)


@dataclass
class Model:
    """A whole file, before it is written."""

    attributes: dict[str, Any]
    variables: dict[str, Variable]


def _spectrum(around: np.ndarray) -> np.ndarray:
    off = np.arccos(np.clip(unit(around)[:, 0], -1.0, 1.0))
    return np.stack([piston(f / 2000.0, off) * line(f / 3000.0, off) + 1e-3 for f in _HZ], axis=-1)


@lru_cache
def _good() -> tuple[tuple[Model, bytes], ...]:
    """A sphere, a half plane of a turntable and a packed one, as models and as bytes."""
    sphere = grid(30.0, 30.0)
    plane = np.stack([np.zeros(19), np.arange(-90.0, 91.0, 10.0)], axis=-1)
    packed = {"dtype": "f4", "compression": "gzip"}
    turned = Variable(unit(plane) * 3.0, {"Type": b"cartesian", "Units": b"metre"})
    found = []
    for around, storage, receivers in (
        (sphere, {}, None),
        (plane, {}, turned),
        (sphere, packed, None),
    ):
        model = _model(around, storage)
        if receivers is not None:
            model.variables["ReceiverPosition"] = receivers
        found.append((model, written(model)))
    return tuple(found)


def _model(around: np.ndarray, storage: dict[str, Any]) -> Model:
    with TemporaryDirectory() as folder:
        path = write_sofa(
            Path(folder) / "good.sofa",
            position=np.column_stack([around, np.full(len(around), 2.0)]),
            frequency_hz=_HZ,
            spectrum=_spectrum(around)[np.newaxis] * np.exp(0.3j),
        )
        file = h5py.File(path, "r")
    with file:
        variables = {
            name: Variable(file[name][...], dict(file[name].attrs)) for name in sorted(file)
        }
        for name in ("Data.Real", "Data.Imag"):
            variables[name].storage = dict(storage)
        return Model(dict(file.attrs), variables)


def written(model: Model) -> bytes:
    """The file's bytes; what HDF5 itself will not write is left out."""
    stream = io.BytesIO()
    with warnings.catch_warnings(), h5py.File(stream, "w") as file:
        warnings.simplefilter("ignore")
        _attributes(file, model.attributes)
        for name, one in model.variables.items():
            try:
                if isinstance(one.values, h5py.SoftLink | h5py.ExternalLink):
                    file[name] = one.values
                    continue
                if one.values is None:
                    file.create_group(name)
                elif "shape" in one.storage:
                    file.create_dataset(name, **one.storage)
                else:
                    file.create_dataset(name, data=one.values, **one.storage)
                _attributes(file[name], one.attributes)
            except (TypeError, ValueError, OSError, RuntimeError, OverflowError):
                continue
    return stream.getvalue()


def _attributes(holder: Any, attributes: dict[str, Any]) -> None:
    for key, value in attributes.items():
        try:
            holder.attrs[key] = value
        except (TypeError, ValueError, OSError, RuntimeError, OverflowError):
            continue


def _attribute(model: Model, chance: Random) -> None:
    """Another value of an attribute, or none, of the file or of a variable."""
    held = [model.attributes, *(one.attributes for one in model.variables.values())]
    attributes = chance.choice([one for one in held if one])
    important = [key for key in attributes if key not in GLOBALS or key.endswith("Conventions")]
    key = chance.choice(important or list(attributes))
    if chance.random() < 0.3:
        del attributes[key]
        return
    # Text of fixed length alone: HDF5 keeps the other in memory that nothing has cleared.
    attributes[key] = chance.choice(
        (chance.choice(WORDS).encode(), b"", b"\xff\xfe", np.array([]), np.array(np.nan), 7,
         np.array([b"spherical", b"metre"]), b"SPHERICAL", b"cartesian", b"degree, degree, metre",
         b"metre, metre, metre", np.zeros((2, 2)), np.array([b"a", b"b"]), 2**63)
    )  # fmt: skip


def _gone(model: Model, chance: Random) -> None:
    del model.variables[chance.choice(list(model.variables))]


def _link(model: Model, chance: Random) -> None:
    name = chance.choice(list(model.variables))
    model.variables[name].values = chance.choice(
        (None, h5py.SoftLink(name), h5py.SoftLink("/nowhere"), h5py.SoftLink("/"),
         h5py.SoftLink("/" + chance.choice(list(model.variables))),
         h5py.ExternalLink("nowhere.sofa", "/N"), h5py.Empty("f8"))
    )  # fmt: skip


def _shape(model: Model, chance: Random) -> None:
    one = model.variables[chance.choice(list(model.variables))]
    values = one.values
    if not isinstance(values, np.ndarray):
        return
    axis = chance.randrange(max(1, values.ndim))
    ways: tuple[Callable[[], Any], ...] = (
        lambda: values.reshape(-1), lambda: values.T, lambda: values[np.newaxis],
        lambda: values[..., np.newaxis], lambda: values[:0], lambda: values.T[1:],
        lambda: np.concatenate([values, values], axis), lambda: np.flip(values, axis),
        lambda: np.swapaxes(values, 0, -1), lambda: values.reshape(-1)[0], lambda: np.float64(1.0),
        lambda: np.repeat(values, 3, axis), lambda: values[::2], lambda: np.roll(values, 1, axis),
    )  # fmt: skip
    if values.ndim:
        one.values = chance.choice(ways)()


def _type(model: Model, chance: Random) -> None:
    one = model.variables[chance.choice(list(model.variables))]
    one.storage.pop("dtype", None)
    kind = chance.choice(("f2", "f4", ">f8", "i1", "u1", "i8", "u8", "c16", "S3", "bool"))
    with np.errstate(all="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if isinstance(one.values, np.ndarray) and one.values.dtype.kind in "fiu":
            one.values = one.values.astype(kind)


def _values(model: Model, chance: Random) -> None:
    one = model.variables[chance.choice(list(model.variables))]
    if (
        not isinstance(one.values, np.ndarray)
        or one.values.dtype.kind != "f"
        or not one.values.size
    ):
        return
    flat = one.values.copy().reshape(-1)
    number = chance.choice(
        (
            np.nan,
            np.inf,
            -np.inf,
            0.0,
            -0.0,
            1e300,
            1e150,
            1e-320,
            1e-160,
            -1.0,
            90.0,
            180.0,
            1e9,
            1e5,
        )
    )
    what = chance.randrange(5)
    with np.errstate(all="ignore"):
        if what == 0:
            flat[:] = number
        elif what == 1:
            flat[chance.randrange(len(flat))] = number
        elif what == 2:
            flat *= number
        elif what == 3:
            flat += number
        else:
            flat[chance.randrange(len(flat)) :: 3] = number
    one.values = flat.reshape(one.values.shape)


def _storage(model: Model, chance: Random) -> None:
    """Dimensions that promise more than the file holds, and odd blocks."""
    name = chance.choice(("Data.Real", "Data.Imag", "N", "ReceiverPosition"))
    one = model.variables.get(name)
    if one is None:
        return
    many = chance.choice((0, 1, 10, 1000, 10**6, 10**9, 2**40))
    shape = chance.choice(
        ((1, many, 5), (many, 1, 5), (1, 84, many), (many,), (many, 3), (), (1,) * 20)
    )
    one.storage = {
        "shape": shape,
        "dtype": chance.choice(("f4", "f8")),
        "chunks": chance.choice((True, None)),
    }
    if one.storage["chunks"] is None and many > 1000:
        one.storage["chunks"] = True
    if name.startswith("Data") and chance.random() < 0.5:
        for twin in ("Data.Real", "Data.Imag"):
            if twin in model.variables:
                model.variables[twin].storage = one.storage


_CHANGES = (_attribute, _attribute, _gone, _link, _shape, _shape, _type, _values, _values, _storage)


def make(chance: Random) -> Case:
    """Half broken as HDF5, half as bytes."""
    model, data = chance.choice(_good())
    if chance.random() < 0.4:
        data = broken_bytes(data, chance)
    else:
        model = Model(dict(model.attributes), {k: _own(one) for k, one in model.variables.items()})
        for _ in range(chance.choice((1, 1, 1, 2, 3))):
            if model.variables:
                chance.choice(_CHANGES)(model, chance)
        data = written(model)
        if chance.random() < 0.1:
            data = broken_bytes(data, chance)
    return Case(data, options_of(chance))


def _own(one: Variable) -> Variable:
    return Variable(copy(one.values), dict(one.attributes), dict(one.storage))


KIND = Kind("sofa", ".sofa", make, read)
