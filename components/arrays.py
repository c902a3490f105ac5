"""Names for the types of arrays, said once.

Arrays over frequency have the shape (points,); where tolerances or unknown phases are drawn,
(draws, points). What is said to be like a number or an array broadcasts to either.  These are
`numpy.typing.NDArray` written out, which spares the command the import of numpy.typing.
"""

from typing import Any, TypeAlias

import numpy as np

FloatArray: TypeAlias = np.ndarray[Any, np.dtype[np.float64]]
"""Real numbers; unit and shape are said where it is used."""
BoolArray: TypeAlias = np.ndarray[Any, np.dtype[np.bool_]]
"""True or false; shape said where it is used."""
ComplexArray: TypeAlias = np.ndarray[Any, np.dtype[np.complexfloating[Any, Any]]]
"""Amplitudes; shape said where it is used."""
FloatLike: TypeAlias = float | FloatArray
"""A real number, or real numbers that broadcast to (draws, points)."""
ComplexLike: TypeAlias = complex | FloatArray | ComplexArray
"""A number, or numbers that broadcast to (draws, points)."""
