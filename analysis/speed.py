"""Travel to speed: a differentiator whose frequency response is known.

A Savitzky–Golay derivative (A. Savitzky and M. J. E. Golay, Anal. Chem. 36, 1964): slide a window along the
samples, lay a fourth-degree polynomial through it by least squares, take its slope in the middle. It has no
phase shift, gives the slope of a ramp or a parabola exactly, and never looks across a gap.

The window follows the sample rate so that the −3 dB point lies near 75 Hz: above what a wheel does on its
tyre (10 to 20 Hz) and what a damper shaft shows, below where a 10-bit converter is all noise. White noise of
standard deviation u in travel becomes ``noise_gain_per_s * u`` in speed: 125 mm/s for each mm at 1 kHz.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from analysis.calibration import Floats, Samples
from analysis.excursions import runs

WANTED_BANDWIDTH_HZ = 75.0
DEGREE = 4
# Window length × bandwidth × sample interval is nearly constant for one degree; the actual bandwidth is
# computed from the coefficients, so this only has to pick a good window.
WINDOW_BANDWIDTH = 1.265
HALF_POWER = 0.5**0.5

BLOCK, LEAST_BLOCKS, AT_ONCE = 32, 64, 128
"""Samples in a block; from how many on it pays; and how many at once, so few that the product stays in the
cache and on one thread: on a busy machine several threads wait for each other ten times as long."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Differentiator:
    """One window of coefficients: speed[i] = sum over k of coefficients[k] * travel[i - half + k]."""

    dt_s: float
    coefficients: Floats
    bandwidth_hz: float
    noise_gain_per_s: float

    @property
    def half(self) -> int:
        """Samples on each side of the middle, lost at each end of a stretch."""
        return self.coefficients.size // 2

    def at(self, dt_s: float) -> Differentiator:
        """Give the same window for another sample interval."""
        scale = self.dt_s / dt_s
        return Differentiator(
            dt_s=dt_s,
            coefficients=self.coefficients * scale,
            bandwidth_hz=self.bandwidth_hz * scale,
            noise_gain_per_s=self.noise_gain_per_s * scale,
        )

    def speed(self, travel: Samples) -> Samples:
        """Differentiate one stretch of uniform samples, shape (n,).

        The result has the same shape and precision, in units of `travel` per second. It is NaN for the first
        and last `half` samples and wherever the window touches a masked (NaN) sample: nothing is invented
        there.
        """
        speed = np.full_like(travel, np.nan)
        if travel.size >= self.coefficients.size:
            slide(travel, self.coefficients, speed[self.half : travel.size - self.half])
        return speed


def slide(values: Samples, coefficients: Floats, out: Samples) -> None:
    """Give in ``out[i]`` the sum over k of ``coefficients[k] * values[i + k]``, as `numpy.correlate` does.

    Long stretches are cut into blocks and multiplied by a band of coefficients, since a product of matrices
    is what processors are best at: half the time, the same to the last few digits. There a NaN would spread
    over its whole block, so the blocks around one are done the ordinary way.

    Parameters
    ----------
    values, coefficients, out : ndarray, shapes (n,), (m,), (n - m + 1,)
        All is worked out in the precision of ``values``: float32 takes half the time.
    """
    coefficients = coefficients.astype(values.dtype)
    reach = coefficients.size - 1
    width = max(BLOCK, reach)
    rows = values.size // width - 1
    if rows < LEAST_BLOCKS:
        out[:] = np.correlate(values, coefficients, "valid")
        return
    band = np.zeros((width + reach, width), dtype=values.dtype)
    for k, coefficient in enumerate(coefficients):
        band[k + np.arange(width), np.arange(width)] = coefficient
    blocks = values[: (rows + 1) * width].reshape(rows + 1, width)
    sums = out[: rows * width].reshape(rows, width)
    for first in range(0, rows, AT_ONCE):
        some = slice(first, min(first + AT_ONCE, rows))
        np.matmul(blocks[some], band[:width], out=sums[some])
        sums[some] += blocks[some.start + 1 : some.stop + 1, :reach] @ band[width:]
    if rows * width < out.size:
        out[rows * width :] = np.correlate(values[rows * width :], coefficients, "valid")
    # A sum over all is NaN where any value is, and takes no room.
    if np.isnan(values.sum()):
        missing = np.flatnonzero(np.isnan(values)) // width
        spoilt = np.zeros(rows, dtype=np.bool_)
        spoilt[missing[missing < rows]] = True
        spoilt[missing[(missing > 0) & (missing <= rows)] - 1] = True
        for first, stop in runs(spoilt).pairs():
            again = values[first * width : stop * width + reach]
            out[first * width : stop * width] = np.correlate(again, coefficients, "valid")


def slope_coefficients(window: int, degree: int, dt_s: float) -> Floats:
    """Give the Savitzky–Golay coefficients of the first derivative in the middle of the window, per second.

    >>> (slope_coefficients(5, 2, 1.0) * 10).round(9).tolist()
    [-2.0, -1.0, 0.0, 1.0, 2.0]
    """
    offsets = np.arange(window) - window // 2
    scale = float(window // 2)
    powers = (offsets[:, None] / scale) ** np.arange(degree + 1)
    slope: Floats = np.linalg.pinv(powers)[1] / (scale * dt_s)
    # The middle slope is odd by symmetry; rounding of the inverse is taken out.
    return (slope - slope[::-1]) / 2.0


def response(coefficients: Floats, dt_s: float, frequency_hz: Floats) -> Floats:
    """Give the gain against an ideal differentiator at each frequency above 0 (1 = perfect)."""
    half = coefficients.size // 2
    angle = 2.0 * np.pi * np.asarray(frequency_hz)[:, None] * dt_s * np.arange(1, half + 1)
    # Odd coefficients: H(f) = 2 i * sum of c_k sin(2 pi f k dt), against 2 pi i f.
    gain: Floats = 2.0 * np.sin(angle) @ coefficients[half + 1 :] / (2.0 * np.pi * np.asarray(frequency_hz))
    return gain


def differentiator(dt_s: float, bandwidth_hz: float = WANTED_BANDWIDTH_HZ) -> Differentiator:
    """Design the differentiator for one sample interval.

    Parameters
    ----------
    dt_s : float
        Sample interval, s.
    bandwidth_hz : float
        Wanted −3 dB point. The window is an odd number of samples, five or more, so the actual one in the
        result differs a little, and is a third of the sample rate at most.

    Examples
    --------
    >>> tool = differentiator(0.001)
    >>> tool.coefficients.size, round(tool.bandwidth_hz, 1), round(tool.noise_gain_per_s)
    (17, 74.3, 125)
    """
    return _designed(_window(dt_s, bandwidth_hz)).at(dt_s)


def differentiators(intervals_s: Iterable[float]) -> dict[float, Differentiator]:
    """Design one for each distinct sample interval; stretches of one log differ by a little at most.

    >>> [tool.coefficients.size for tool in differentiators([0.001, 0.00100001, 0.005]).values()]
    [17, 17, 5]
    """
    windows = {dt_s: _window(dt_s, WANTED_BANDWIDTH_HZ) for dt_s in intervals_s}
    designs = {window: _designed(window) for window in set(windows.values())}
    return {dt_s: designs[window].at(dt_s) for dt_s, window in windows.items()}


def _window(dt_s: float, bandwidth_hz: float) -> int:
    """Odd number of samples that comes nearest to the wanted bandwidth."""
    return max(DEGREE + 1, 2 * round((WINDOW_BANDWIDTH / (bandwidth_hz * dt_s) - 1) / 2) + 1)


def _designed(window: int) -> Differentiator:
    """Design for a sample interval of one second; all else follows by scaling."""
    coefficients = slope_coefficients(window, DEGREE, 1.0)
    grid = np.linspace(0.0, 0.5, 2001)[1:]
    gain = response(coefficients, 1.0, grid)
    first = int(np.argmax(gain < HALF_POWER))
    low, high = grid[first - 1], grid[first]
    bandwidth = low + (high - low) * (gain[first - 1] - HALF_POWER) / (gain[first - 1] - gain[first])
    return Differentiator(
        dt_s=1.0,
        coefficients=coefficients,
        bandwidth_hz=float(bandwidth),
        noise_gain_per_s=float(np.sqrt(coefficients @ coefficients)),
    )
