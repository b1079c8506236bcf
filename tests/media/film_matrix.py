"""The awkward films, by name: `CASES`. Each recipe writes its film into a folder."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from film_recipes import (
    AV1,
    DOUBLED,
    MPEG2,
    MPEG4,
    TONE,
    UNEVEN,
    VP8,
    VP8_HIDDEN,
    VP9,
    VP9_HIDDEN,
    Recipe,
    changed,
    clock_jump,
    clock_reset,
    copied,
    cover_only,
    fast_start,
    film,
    fragmented,
    head_lost,
    mkv,
    mp4,
    of,
    piped,
    randomised,
    sound_only,
    sound_shifted,
    tail_lost,
    ts,
    turned,
    two_streams,
    with_cover,
    written,
    x264,
    x265,
    zeroed,
)


@dataclass(frozen=True)
class Case:
    """A film of the matrix.

    Attributes:
        kind: "exact" (all frames and times), "counted" (right frames, times not the file's own and said so),
            "damaged" (whatever comes out must be the right frame), "refused" (a sentence and no clip).
        fast: made in a moment, so part of the ordinary test run.
        stream: which stream the film is, in ffmpeg's words.
    """

    name: str
    make: Recipe
    kind: str = "exact"
    fast: bool = False
    stream: str = "V:0"


CASES: tuple[Case, ...] = (
    # H.264 in its containers
    Case("H.264 MP4", mp4, fast=True),
    Case("H.264 MP4, one group of 250", film("film.mp4", *x264("-bf", "3", gop=250))),
    Case("H.264 MP4, every frame a keyframe", film("film.mp4", *x264(gop=1))),
    Case("H.264 MOV", film("film.mov", *x264("-bf", "2"))),
    Case("H.264 MKV", mkv, fast=True),
    Case("H.264 MKV without cues", of(mkv, lambda f, s: piped(f, "film.mkv", "matroska", s))),
    Case("H.264 MP4 in fragments", fragmented),
    Case(
        "H.264 MP4 in fragments, piped",
        of(fragmented, lambda f, s: copied(f, "film.mp4", s, "-movflags", "+frag_every_frame+empty_moov")),
    ),
    Case("H.264 FLV", film("film.flv", *x264("-bf", "2"))),
    Case("H.264 AVI", film("film.avi", *x264("-bf", "0"))),
    Case("H.264 TS", ts, fast=True),
    Case("H.264 TS that starts in mid-group", of(ts, partial(changed, "film.ts", head_lost)), fast=True),
    Case("H.264 TS, end lost", of(ts, partial(changed, "film.ts", tail_lost))),
    Case("two H.264 TS joined, clock set back", clock_reset, "counted", fast=True),
    Case("two H.264 TS joined, clock jumps on", clock_jump),
    # H.264 of awkward kinds
    Case("H.264 MP4, open groups", film("film.mp4", *x264("-bf", "3", "-x264-params", "open-gop=1"))),
    Case("H.264 TS, open groups", film("film.ts", *x264("-bf", "3", "-x264-params", "open-gop=1"))),
    Case("H.264 MP4, intra refresh", film("film.mp4", *x264("-x264-params", "intra-refresh=1"))),
    Case("H.264 TS, intra refresh", film("film.ts", *x264("-x264-params", "intra-refresh=1"))),
    Case("H.264 MP4, interlaced", film("film.mp4", *x264("-flags", "+ildct+ilme", "-x264-params", "tff=1"))),
    Case("H.264 TS, interlaced", film("film.ts", *x264("-flags", "+ildct+ilme", "-x264-params", "tff=1"))),
    Case("H.264 MP4, 10 bit", film("film.mp4", *x264("-bf", "2", pixels="yuv420p10le"))),
    Case("H.264 MP4, 4:2:2", film("film.mp4", *x264("-bf", "2", pixels="yuv422p"))),
    Case("H.264 MP4, 4:4:4", film("film.mp4", *x264("-bf", "2", pixels="yuv444p"))),
    Case("H.264 MKV, odd size", film("film.mkv", *x264("-bf", "2", pixels="yuv444p"), size=(127, 95))),
    Case("H.264 raw", film("film.h264", *x264("-bf", "2")), "counted"),
    # other codecs
    Case("HEVC MP4, closed groups", film("film.mp4", *x265("open-gop=0"), "-tag:v", "hvc1")),
    Case("HEVC MP4, open groups", film("film.mp4", *x265("open-gop=1"))),
    Case("HEVC MP4, 10 bit", film("film.mp4", *x265("open-gop=0", "yuv420p10le"))),
    Case("HEVC TS", film("film.ts", *x265("open-gop=1"))),
    Case("HEVC raw", film("film.hevc", *x265("open-gop=0")), "counted"),
    Case("AV1 MP4", film("film.mp4", *AV1)),
    Case("AV1 MKV", film("film.mkv", *AV1)),
    Case("VP8 WebM", film("film.webm", *VP8)),
    Case("VP8 WebM with hidden frames", film("film.webm", *VP8_HIDDEN)),
    Case("VP9 WebM", film("film.webm", *VP9)),
    Case("VP9 WebM with hidden frames, odd size", film("film.webm", *VP9_HIDDEN, size=(127, 95))),
    Case("VP9 MP4", film("film.mp4", *VP9)),
    Case("MPEG-2 TS", film("film.ts", *MPEG2), fast=True),
    Case("MPEG-2 TS, interlaced", film("film.ts", *MPEG2, "-flags", "+ildct+ilme", "-top", "1")),
    Case("MPEG-2 PS", film("film.mpg", "-f", "vob", *MPEG2)),
    Case("MPEG-1 PS", film("film.mpg", "-c:v", "mpeg1video", "-q:v", "3", "-g", "15", "-bf", "2"), fast=True),
    Case("MPEG-4 MP4 with B-frames", film("film.mp4", *MPEG4, "-bf", "2")),
    Case("MPEG-4 AVI", film("film.avi", *MPEG4), fast=True),
    Case("MPEG-4 AVI with B-frames", film("film.avi", *MPEG4, "-bf", "2")),
    Case("MPEG-4 AVI with packed B-frames", film("film.avi", "-c:v", "libxvid", "-bf", "2", "-g", "40", "-q:v", "3")),
    Case("MJPEG AVI", film("film.avi", "-c:v", "mjpeg", "-q:v", "3", "-pix_fmt", "yuvj420p"), fast=True),
    Case("MJPEG MOV", film("film.mov", "-c:v", "mjpeg", "-q:v", "3", "-pix_fmt", "yuvj422p")),
    Case("ProRes MOV", film("film.mov", "-c:v", "prores_ks", "-pix_fmt", "yuv422p10le")),
    Case("FFV1 MKV, grey", film("film.mkv", "-c:v", "ffv1", "-pix_fmt", "gray"), fast=True),
    Case("FFV1 MKV, RGB, odd size", film("film.mkv", "-c:v", "ffv1", "-pix_fmt", "bgr0", size=(67, 49)), fast=True),
    Case("WMV", film("film.wmv", "-c:v", "wmv2", "-q:v", "3", "-g", "40"), fast=True),
    Case("MS-MPEG-4 AVI", film("film.avi", "-c:v", "msmpeg4", "-q:v", "3", "-g", "40")),
    Case("H.263 3GP", film("film.3gp", "-c:v", "h263", "-q:v", "3", "-g", "40", size=(176, 144))),
    Case("GIF", film("film.gif", "-vf", "format=gray")),
    Case("Y4M", film("film.y4m", "-pix_fmt", "yuv420p")),
    # times
    Case(
        "MP4 with an edit list, cut in mid-group",
        of(mp4, lambda f, s: copied(f, "film.mp4", s, before=("-ss", "2.1"))),
    ),
    Case(
        "MOV with an edit list, cut in mid-group",
        of(mp4, lambda f, s: copied(f, "film.mov", s, before=("-ss", "3.3"))),
    ),
    Case("MP4 that starts late", of(mp4, lambda f, s: copied(f, "film.mp4", s, "-output_ts_offset", "1.52"))),
    Case(
        "MKV that starts late",
        of(mkv, lambda f, s: copied(f, "film.mkv", s, "-output_ts_offset", "3.007")),
        fast=True,
    ),
    Case(
        "MP4, uneven times", film("film.mp4", *UNEVEN, *x264("-bf", "2", "-video_track_timescale", "1000")), fast=True
    ),
    Case("MKV, uneven times", film("film.mkv", *UNEVEN, *x264("-bf", "2"))),
    Case("WebM, uneven times", film("film.webm", *UNEVEN, *VP9)),
    Case("MKV, doubled times", film("film.mkv", *DOUBLED, "-c:v", "ffv1", "-pix_fmt", "gray"), fast=True),
    Case(
        "MPEG-4 AVI, frames left out",
        film("film.avi", "-vf", "select='not(eq(mod(n,7),3))'", "-vsync", "vfr", *MPEG4),
    ),
    Case("MP4, 120 frames a second", film("film.mp4", *x264("-bf", "2"), rate="120")),
    Case("MKV, 29.97 frames a second", film("film.mkv", *x264("-bf", "2"), rate="30000/1001")),
    # more than one stream, turned, aspect, very short
    Case("two pictures, the second is the film", two_streams, stream="v:1"),
    Case("MP4 with a cover picture", lambda f: with_cover(f, "film.mp4", mp4)),
    Case("MP4 with sound", film("film.mp4", *x264("-bf", "2", "-c:a", "aac"), before=TONE)),
    Case("MKV, sound starts late", partial(sound_shifted, "0.7")),
    Case("MKV, sound starts early", partial(sound_shifted, "-0.7")),
    Case("MP4 turned by 90 degrees", partial(turned, 90), fast=True),
    Case("MP4 turned by 180 degrees", partial(turned, 180), fast=True),
    Case("MP4 turned by 270 degrees", partial(turned, 270), fast=True),
    Case("MP4, pixels not square", film("film.mp4", "-vf", "setsar=4/3", *x264("-bf", "2"))),
    Case("MP4 of one frame", film("film.mp4", *x264(), frames=1), fast=True),
    Case("MKV of one frame", film("film.mkv", *x264(), frames=1)),
    Case("TS of ten frames", film("film.ts", *x264("-bf", "2"), frames=10)),
    # damage
    Case("MP4, middle zeroed", of(fast_start, partial(changed, "film.mp4", zeroed)), "damaged", fast=True),
    Case("MP4, middle random", of(fast_start, partial(changed, "film.mp4", randomised)), "damaged"),
    Case("MP4 in fragments, middle random", of(fragmented, partial(changed, "film.mp4", randomised)), "damaged"),
    Case("MP4 in fragments, end lost", of(fragmented, partial(changed, "film.mp4", tail_lost)), "damaged"),
    Case(
        "MP4 with index first, end lost",
        of(fast_start, partial(changed, "film.mp4", tail_lost)),
        "damaged",
        fast=True,
    ),
    Case("MKV, middle random", of(mkv, partial(changed, "film.mkv", randomised)), "damaged"),
    Case("MKV, end lost", of(mkv, partial(changed, "film.mkv", tail_lost)), "damaged"),
    Case("TS, middle random", of(ts, partial(changed, "film.ts", randomised)), "damaged"),
    Case("TS, middle zeroed", of(ts, partial(changed, "film.ts", zeroed)), "damaged"),
    # refused in words
    Case("MP4, index at the end lost", of(mp4, partial(changed, "film.mp4", tail_lost)), "refused", fast=True),
    Case("empty file", partial(written, "film.mp4", b""), "refused", fast=True),
    Case(
        "text named MP4",
        partial(written, "film.mp4", b"Tuesday: he drummed, she did not answer.\n" * 40),
        "refused",
        fast=True,
    ),
    Case("sound only", sound_only, "refused", fast=True),
    Case("sound with a cover picture", cover_only, "refused"),
)
