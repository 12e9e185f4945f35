"""Videos, animated GIFs and stills: pixels, times, and what is said when they are damaged."""

import io
import struct
import zlib
from fractions import Fraction

import av
import numpy as np
import pytest
from PIL import Image

from fanlight.intake import open_frames, probe_item
from fanlight.study import TimeSource
from tests.intake import dicom_files as make

VIDEO_LEVELS = 6.0  # mean error of the encoders at the settings used; about 2 was seen


def counted(rng, frames=12):
    """A clip whose upper left patch brightens from frame to frame."""
    pixels = make.tinted(rng, 1, 96, 128).repeat(frames, axis=0)
    pixels[:, :16, :16] = (np.arange(frames) * 20)[:, None, None, None]
    return pixels


def write(path, data):
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("name", "codec", "container"),
    [
        ("a.mp4", "libx264", "mp4"),
        ("a.mov", "mpeg4", "mov"),
        ("a.avi", "mpeg4", "avi"),
        ("b.avi", "mjpeg", "avi"),
        ("a.webm", "libvpx-vp9", "webm"),
        ("a.mkv", "libx264", "matroska"),
        ("a.mpg", "mpeg2video", "mpeg"),
        ("a.ts", "libx264", "mpegts"),
    ],
)
def test_videos_are_read_whole_and_in_order(tmp_path, rng, name, codec, container):
    """Against what was encoded, frame by frame; 25 frames a second in the container."""
    pixels = counted(rng)
    pix_fmt = "yuvj420p" if codec == "mjpeg" else "yuv420p"
    path = write(tmp_path / name, make.video_bytes(pixels, codec, container, pix_fmt=pix_fmt))
    clip = make.clip_of(path)

    actual = make.pixels_of(path, size=5)

    assert (clip.rows, clip.cols, clip.n_frames) == (96, 128, 12)
    assert actual.shape == pixels.shape
    assert np.abs(actual.astype(int) - pixels.astype(int)).mean() < VIDEO_LEVELS
    assert np.all(np.diff(actual[:, 4:12, 4:12].mean(axis=(1, 2, 3))) > 10)
    assert clip.times.source is TimeSource.CONTAINER
    assert clip.times.rate_hz == pytest.approx(25.0, rel=0.01)


def test_oblong_pixels_of_a_video_are_told(tmp_path, rng):
    """A disc recorder's 16:15 pixels: height 15, width 16, as DICOM orders them; square pixels are not mentioned."""
    out = io.BytesIO()
    with av.open(out, "w", format="mp4") as file:
        stream = file.add_stream("libx264", rate=25)
        stream.height, stream.width, stream.pix_fmt, stream.thread_count = 96, 128, "yuv420p", 1
        stream.codec_context.sample_aspect_ratio = Fraction(16, 15)
        for picture in counted(rng, 3):
            file.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        file.mux(stream.encode())
    oblong = make.clip_of(write(tmp_path / "a.mp4", out.getvalue()))
    square = make.clip_of(write(tmp_path / "b.mp4", make.video_bytes(counted(rng, 3), "libx264", "mp4")))

    assert oblong.tags.pixel_aspect == (15, 16)
    assert square.tags.pixel_aspect is None
    assert oblong.tags.lossy is True


def test_frame_times_of_a_chunk_agree_with_the_clip(tmp_path, rng):
    """Time stamps at decoding are those of the header, to the container's tick of a millisecond or less."""
    path = write(tmp_path / "a.mp4", make.video_bytes(counted(rng), "libx264", "mp4"))
    clip = make.clip_of(path)
    with open_frames(make.item_of(path), clip, make.LIMITS) as frames:
        times = [time for chunk in frames.chunks(5) for time in chunk.times_ms]

    assert times == pytest.approx(clip.times.times_ms, abs=1.0)


def test_uneven_time_stamps_are_kept(tmp_path, rng):
    """A clip whose frames were not equally spaced comes with its own times and no doubt about a recorder."""
    pixels = counted(rng)
    starts = [0, 21, 47, 60, 95, 120, 151, 166, 190, 222, 240, 271]
    out = io.BytesIO()
    with av.open(out, "w", format="matroska") as file:
        stream = file.add_stream("libx264", rate=50)
        stream.height, stream.width, stream.pix_fmt, stream.thread_count = 96, 128, "yuv420p", 1
        stream.codec_context.time_base = Fraction(1, 1000)
        for start, picture in zip(starts, pixels, strict=True):
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = start, stream.codec_context.time_base
            file.mux(stream.encode(frame))
        file.mux(stream.encode())
    clip = make.clip_of(write(tmp_path / "a.mkv", out.getvalue()))

    assert clip.times.times_ms == pytest.approx(starts, abs=1.0)
    assert clip.times.doubts == ()


@pytest.mark.parametrize("rate_hz", [25, 30, 50, 60])
def test_even_recorder_rates_are_doubted(tmp_path, rng, rate_hz):
    """What a recorder writes need not be the scanner's rate."""
    path = write(tmp_path / "a.mp4", make.video_bytes(counted(rng), "libx264", "mp4", rate_hz))

    assert "recorders" in make.clip_of(path).times.doubts[0]


def test_other_even_rates_are_not_doubted(tmp_path, rng):
    """43 frames a second is nobody's recorder."""
    path = write(tmp_path / "a.mp4", make.video_bytes(counted(rng), "libx264", "mp4", 43))

    assert make.clip_of(path).times.doubts == ()


def test_cut_video_gives_the_frames_before_the_cut(tmp_path, rng):
    """An AVI cut in half: at least a quarter of its frames, then damage or a note, never silence."""
    whole = make.video_bytes(counted(rng, 24), "mjpeg", "avi", pix_fmt="yuvj420p")
    path = write(tmp_path / "a.avi", whole[: len(whole) // 2])

    got, damage = make.read_until_damage(path)

    assert sum(map(len, got)) >= 6
    assert damage is not None or "ends early" in probe_item(make.item_of(path), make.LIMITS).notes[0]


def test_video_without_index_is_refused(tmp_path, rng):
    """An MP4 whose index at the end was cut off cannot be read; the refusal says so."""
    whole = make.video_bytes(counted(rng), "libx264", "mp4")
    path = write(tmp_path / "a.mp4", whole[: whole.index(b"moov") - 4])

    refusal = probe_item(make.item_of(path), make.LIMITS).refused[0]

    assert refusal.expected == "a video that can be read"
    assert "damaged" in refusal.found


def test_playlist_named_as_video_opens_nothing(tmp_path):
    """A text that names other files is a text, whatever it is called; no demuxer is guessed."""
    secret = write(tmp_path / "secret.txt", b"do not read")
    playlist = f"#EXTM3U\n#EXTINF:1,\nfile://{secret}\n".encode()
    for head in (b"", b"\x00\x00\x00\x14ftypisom\x00\x00\x00\x00isom"):
        probed = probe_item(
            make.Item(path=write(tmp_path / "a.mp4", head + playlist), name="a.mp4", kind=make.Kind.MP4), make.LIMITS
        )

        assert probed.clips == ()
        assert len(probed.refused) == 1


def gif_bytes(pixels, delays_ms):
    out = io.BytesIO()
    pictures = [Image.fromarray(frame).quantize(64) for frame in pixels]
    pictures[0].save(out, "GIF", save_all=True, append_images=pictures[1:], duration=delays_ms, loop=0)
    return out.getvalue()


def test_animated_gif_is_read_and_its_delays_doubted(tmp_path, rng):
    """Pillow wrote it; delays of 40, 50, 60 ms … come back, with a doubt that forbids measuring time."""
    pixels = counted(rng, 6)
    delays = [40, 50, 60, 40, 50, 70]
    path = write(tmp_path / "a.gif", gif_bytes(pixels, delays))
    clip = make.clip_of(path)

    actual = make.pixels_of(path, size=4)

    assert clip.times.times_ms == (0, 40, 90, 150, 190, 240)
    assert clip.times.source is TimeSource.GIF_DELAY
    assert "hundredths" in clip.times.doubts[0]
    assert np.abs(actual.astype(int) - pixels.astype(int)).mean() < 12  # 64 colours
    assert np.all(np.diff(actual[:, 4:12, 4:12].mean(axis=(1, 2, 3))) > 5)


def test_gif_without_delays_tells_no_time(tmp_path, rng):
    """Delays of zero say nothing; they are not taken for a rate."""
    clip = make.clip_of(write(tmp_path / "a.gif", gif_bytes(counted(rng, 4), [0, 0, 0, 0])))

    assert clip.times.times_ms == ()
    assert "zero" in clip.times.doubts[1]


def test_still_gif_is_a_still(tmp_path, rng):
    """One frame, no times."""
    clip = make.clip_of(write(tmp_path / "a.gif", gif_bytes(counted(rng, 1), 0)))

    assert clip.is_still
    assert clip.times.doubts == ()


@pytest.mark.parametrize("kind", ["PNG", "BMP", "TIFF", "WEBP"])
@pytest.mark.parametrize("channels", [1, 3])
def test_lossless_stills_come_out_as_put_in(tmp_path, rng, kind, channels):
    """By content; the name says nothing."""
    pixels = make.speckle(rng, 1, 40, 56, channels)
    path = tmp_path / "a.dat"
    Image.fromarray(pixels[0]).save(path, kind, **({"lossless": True} if kind == "WEBP" else {}))

    actual = make.pixels_of(path)

    if kind == "WEBP" and channels == 1:
        actual = actual[..., 0]  # the format has no grey mode
    np.testing.assert_array_equal(actual, pixels)


def test_jpeg_still_is_read_and_set_upright(tmp_path, rng):
    """A photograph of a screen, turned by its orientation tag."""
    pixels = make.tinted(rng, 1, 40, 56)[0]
    exif = Image.Exif()
    exif[0x0112] = 6  # turn 90 degrees clockwise to view
    path = tmp_path / "a.jpg"
    Image.fromarray(np.rot90(pixels)).save(path, "JPEG", quality=95, subsampling=0, exif=exif)
    clip = make.clip_of(path)

    assert (clip.rows, clip.cols) == (40, 56)
    assert np.abs(make.pixels_of(path)[0].astype(int) - pixels.astype(int)).mean() < 3


def test_sixteen_bit_png_is_scaled(tmp_path):
    """By its high byte."""
    values = (np.arange(256, dtype=np.uint16) * 257).reshape(16, 16)
    path = tmp_path / "a.png"
    Image.fromarray(values).save(path)

    np.testing.assert_array_equal(make.pixels_of(path)[0], np.arange(256).reshape(16, 16))


def test_cut_still_is_damage(tmp_path, rng):
    """The header is whole, the pixels are not."""
    path = tmp_path / "a.png"
    Image.fromarray(make.speckle(rng, 1, 64, 64)[0]).save(path)
    path.write_bytes(path.read_bytes()[:-200])

    got, damage = make.read_until_damage(path)

    assert got == []
    assert "frame 1 cannot be decoded" in str(damage)


def png_of_size(rows, cols):
    """A PNG that states a size and holds almost nothing."""

    def chunk(kind, data):
        return struct.pack(">L", len(data)) + kind + data + struct.pack(">L", zlib.crc32(kind + data))

    header = struct.pack(">LLBBBBB", cols, rows, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


@pytest.mark.parametrize(("rows", "cols"), [(100_000, 100_000), (9000, 100), (7000, 7000)])
def test_huge_stills_are_refused_by_their_header(tmp_path, rows, cols):
    """100 000 x 100 000 and smaller ones over the limits."""
    refusal = probe_item(make.item_of(write(tmp_path / "a.png", png_of_size(rows, cols))), make.LIMITS).refused[0]

    assert "million" in refusal.expected


def test_pages_after_the_first_are_mentioned(tmp_path, rng):
    """A TIFF of three pages: one is used, and the note says so."""
    pages = [Image.fromarray(page) for page in make.speckle(rng, 3, 40, 56)]
    path = tmp_path / "a.tif"
    pages[0].save(path, "TIFF", save_all=True, append_images=pages[1:])

    assert probe_item(make.item_of(path), make.LIMITS).notes == ("a.tif: page 1 of 3 is used",)
