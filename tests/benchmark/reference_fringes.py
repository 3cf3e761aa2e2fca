"""The plain pipeline that the fringe analysis is compared with in time and error.

What one would write down from the textbook, nothing spared and nothing clever: float64, NumPy's FFT at the full size of
the picture, no padding, one thread; the strongest lobe in the half plane, a Gaussian window around it, back; the
amplitude's half height as mask; scikit-image's phase unwrapping; least-squares plane out.
Sources: Takeda, Ina, Kobayashi, J. Opt. Soc. Am. 72 (1982) 156; Herráez et al., Appl. Opt. 41 (2002) 7437.
"""

import numpy as np
from skimage.restoration import unwrap_phase

TURN = 2.0 * np.pi


def plain_height(image, *, fringe_height):
    """Height map by the plain pipeline, NaN outside its mask; sign as the phase along the lobe's frequency."""
    picture = np.asarray(image, dtype=np.float64)
    ny, nx = picture.shape
    spectrum = np.fft.fft2(picture - picture.mean())
    fy, fx = np.fft.fftfreq(ny)[:, None], np.fft.fftfreq(nx)[None, :]
    radius = np.hypot(fy, fx)
    power = np.abs(spectrum) ** 2
    power[(radius < 4.0 / min(ny, nx)) | (fx < 0.0)] = 0.0
    row, col = np.unravel_index(np.argmax(power), power.shape)
    ky, kx = fy[row, 0], fx[0, col]
    reach = 0.35 * np.hypot(ky, kx)
    window = np.exp(-0.5 * ((fy - ky) ** 2 + (fx - kx) ** 2) / reach**2)
    signal = np.fft.ifft2(spectrum * window)
    amplitude = np.abs(signal)
    mask = amplitude > 0.5 * np.percentile(amplitude, 90)
    y, x = np.mgrid[:ny, :nx]
    wrapped = np.angle(signal * np.exp(-1j * TURN * (ky * y + kx * x)))
    phase = unwrap_phase(np.ma.masked_array(wrapped, mask=~mask))
    columns = np.stack([np.ones(picture.shape), x, y], axis=-1)[mask]
    values = np.asarray(phase[mask])
    plane, *_ = np.linalg.lstsq(columns, values, rcond=None)
    height = np.full(picture.shape, np.nan)
    height[mask] = (values - columns @ plane) * (-fringe_height / TURN)
    return height
