"""Pictures -> an H.264 film as a phone would have made it, reproducible by seed.

    shake = hand_shake(frames, rate_hz=30, seed=5)
    with Film("out.mp4", 720, 1280, rate_hz=30, seed=5) as film:
        for k in range(frames):
            view = shake.camera(camera, k)          # the truth projects with `view`
            film.write(scene.draw(people, view, film.exposure(k)))

Encoding runs in the `ffmpeg` program, one thread and bit-exact flags, so that
the same pictures give the same bytes with the same build of it.
"""

import dataclasses
import subprocess
from fractions import Fraction

import numpy as np


def _wander(frames, rate_hz, seed, low_hz, high_hz, columns):
    """Smooth random tracks (frames, columns) of unit RMS between two frequencies."""
    rng = np.random.default_rng(seed)
    t = np.arange(frames) / float(rate_hz)
    waves = 24
    track = np.zeros((frames, columns))
    for column in range(columns):
        hz = np.exp(rng.uniform(np.log(low_hz), np.log(high_hz), waves))
        # Slow movement is larger: amplitude falls with the frequency.
        size = rng.normal(1, 0.2, waves) / hz ** 0.7
        phase = rng.uniform(0, 2 * np.pi, waves)
        size /= np.sqrt(0.5 * np.sum(size ** 2))
        track[:, column] = np.sin(2 * np.pi * t[:, None] * hz + phase) @ size
    return track


@dataclasses.dataclass(frozen=True)
class Shake:
    """Camera movement per frame: shift_m (F, 3), angle (F, 3) yaw, pitch, roll in rad."""
    shift_m: np.ndarray
    angle: np.ndarray

    def camera(self, camera, frame):
        """The camera as it was held in this frame."""
        return camera.moved(self.shift_m[frame], *self.angle[frame])


def hand_shake(frames, rate_hz, seed=0, shift_rms_m=0.003, angle_rms_deg=0.15):
    """Movement of a hand-held phone, 0.15-7 Hz; sizes 0 give a tripod.

    The movement depends on the time and the seed only, not on the frame rate.
    Sizes: assumption, no source.
    """
    track = _wander(frames, rate_hz, [seed, 31], 0.15, 7.0, 6)
    return Shake(track[:, :3] * shift_rms_m, track[:, 3:] * np.radians(angle_rms_deg))


def _noise_bank(rng, height, width, sigma, count=4):
    """Sensor noise pictures (count, height + 64, width + 64, 3) int8, 8-bit steps.

    Mostly brightness, some colour, slightly correlated between neighbours as
    after a phone's demosaicing.
    """
    bank = []
    for _ in range(count):
        shape = (height + 64, width + 64)
        grey = rng.standard_normal(shape, np.float32)
        grey = 0.8 * grey + 0.35 * (np.roll(grey, 1, 0) + np.roll(grey, 1, 1))
        colour = rng.standard_normal((shape[0] // 2 + 1, shape[1] // 2 + 1, 3), np.float32)
        colour = np.repeat(np.repeat(colour, 2, 0), 2, 1)[:shape[0], :shape[1]]
        bank.append(np.clip(np.rint(sigma * (grey[..., None] + 0.5 * colour)), -60, 60).astype(np.int8))
    return bank


def softened(picture):
    """Picture (H, W, 3) uint8 blurred by the lens: [1 6 1] / 8 in both directions."""
    wide = picture.astype(np.uint16)
    wide[1:-1] = (6 * wide[1:-1] + wide[:-2] + wide[2:] + 4) >> 3
    wide[:, 1:-1] = (6 * wide[:, 1:-1] + wide[:, :-2] + wide[:, 2:] + 4) >> 3
    return wide.astype(np.uint8)


def blended(pictures):
    """Mean (H, W, 3) uint8 of pictures drawn at moments of one exposure: motion blur."""
    total = np.zeros(pictures[0].shape, np.uint16)
    for picture in pictures:
        total += picture
    return ((total + len(pictures) // 2) // len(pictures)).astype(np.uint8)


def smeared(picture, strength, limit=9):
    """Noise reduction as in a phone: fine detail of low contrast is wiped away.

    picture (H, W, 3) int16; strength 0..1 of what is taken; limit: contrast, in
    8-bit steps, from which detail is kept.
    """
    wide = picture.copy()
    wide[1:-1] = (picture[:-2] + 2 * picture[1:-1] + picture[2:]) >> 2
    mean = wide.copy()
    mean[:, 1:-1] = (wide[:, :-2] + 2 * wide[:, 1:-1] + wide[:, 2:]) >> 2
    detail = picture - mean
    share = int(256 * strength)
    return picture - np.where(np.abs(detail) < limit, (detail * share) >> 8, 0).astype(np.int16)


def sharpened(picture, amount):
    """Unsharp mask with the halo phones leave: edges of +-2 px overshoot. (H, W, 3) int16."""
    wide = picture.copy()
    wide[2:-2] = (picture[:-4] + picture[1:-3] + 2 * picture[2:-2] + picture[3:-1] + picture[4:]) // 6
    mean = wide.copy()
    mean[:, 2:-2] = (wide[:, :-4] + wide[:, 1:-3] + 2 * wide[:, 2:-2] + wide[:, 3:-1] + wide[:, 4:]) // 6
    return picture + (((picture - mean).astype(np.int32) * int(256 * amount)) >> 8).astype(np.int16)


class Film:
    """Writes pictures (H, W, 3) uint8 sRGB into an MP4 file.

    rate_hz: frames per second; noise: spread of the sensor noise in 8-bit
    steps; exposure_drift: relative RMS of slow brightness changes; soft: lens
    blur; smear, sharpen: what the phone makes of the noise (0: nothing);
    bitrate_kbps, or crf if it is given instead; gop_s: seconds between key frames.
    """

    def __init__(self, path, width=720, height=1280, rate_hz=30, seed=0, noise=2.5, exposure_drift=0.015, soft=True,
                 bitrate_kbps=8000, crf=None, preset="superfast", max_frames=36000, smear=0.0, sharpen=0.0, gop_s=1.0):
        self._rng = np.random.default_rng([seed, 32])
        self._bank = _noise_bank(self._rng, height, width, noise) if noise > 0 else []
        self._drift = exposure_drift
        self._seed, self._rate, self._frames = seed, rate_hz, max_frames
        self._exposures = None
        self._soft, self._smear, self._sharpen = soft, smear, sharpen
        self._size = (height, width)
        rate = Fraction(rate_hz).limit_denominator(1001)
        quality = ["-crf", str(crf)] if crf is not None else [
            "-b:v", f"{bitrate_kbps}k", "-maxrate", f"{bitrate_kbps * 3 // 2}k", "-bufsize", f"{bitrate_kbps * 2}k"]
        command = ["ffmpeg", "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{width}x{height}",
                   "-r", str(rate), "-i", "-", "-threads", "1", "-filter_threads", "1",
                   "-vf", "scale=out_color_matrix=bt709:out_range=tv:flags=area+accurate_rnd+bitexact",
                   "-c:v", "libx264", "-preset", preset, "-profile:v", "high", "-pix_fmt", "yuv420p", *quality,
                   "-g", str(max(int(round(rate * gop_s)), 1)), "-x264-params", "threads=1:lookahead-threads=1:deterministic=1",
                   "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv",
                   "-fflags", "+bitexact", "-flags:v", "+bitexact", "-map_metadata", "-1", "-movflags", "+faststart",
                   str(path)]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE)

    def exposure(self, frame):
        """Relative exposure of a frame, about 1, slow (0.05-0.5 Hz)."""
        if self._exposures is None:
            track = _wander(self._frames, self._rate, [self._seed, 33], 0.05, 0.5, 1)[:, 0]
            self._exposures = np.clip(1 + self._drift * track, 0.7, 1.3)
        return float(self._exposures[frame])

    def developed(self, picture):
        """The picture with lens blur and sensor noise; uses up random numbers."""
        if self._soft:
            picture = softened(picture)
        if self._bank:
            which, y, x = self._rng.integers(len(self._bank)), *self._rng.integers(0, 64, 2)
            height, width = self._size
            noisy = picture.astype(np.int16)
            noisy += self._bank[which][y:y + height, x:x + width]
            picture = np.clip(noisy, 0, 255, out=noisy).astype(np.uint8)
        if self._smear or self._sharpen:
            wide = picture.astype(np.int16)
            wide = smeared(wide, self._smear) if self._smear else wide
            wide = sharpened(wide, self._sharpen) if self._sharpen else wide
            picture = np.clip(wide, 0, 255).astype(np.uint8)
        return picture

    def write(self, picture):
        """Develop and encode one picture."""
        if picture.shape != (*self._size, 3):
            raise ValueError(f"picture is {picture.shape}, the film is {(*self._size, 3)}")
        self._process.stdin.write(np.ascontiguousarray(self.developed(picture)))

    def close(self):
        """Finish the file; raises RuntimeError if the encoder failed."""
        self._process.stdin.close()
        if self._process.wait() != 0:
            raise RuntimeError(f"ffmpeg ended with {self._process.returncode}")

    def __enter__(self):
        return self

    def __exit__(self, kind, *_):
        if kind is None:
            self.close()
        else:
            self._process.kill()
            self._process.wait()
