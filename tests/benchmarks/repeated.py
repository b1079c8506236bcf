"""A long film made of the packets of a short one, again and again, without decoding."""

from __future__ import annotations

from pathlib import Path

import av


def repeated(short: Path, path: Path, turns: int) -> Path:
    """Write the packets of the picture of `short` `turns` times, one after the other, to `path`."""
    with av.open(str(short)) as source, av.open(str(path), "w") as container:
        coded = source.streams.video[0]
        packets = [packet for packet in source.demux(coded) if packet.size]
        starts = [packet.pts for packet in packets]
        lasts = max(starts) - min(starts) + packets[0].duration
        stream = container.add_stream_from_template(coded)
        for turn in range(turns):
            for packet in packets:
                again = av.Packet(bytes(packet))
                again.stream, again.time_base, again.duration = stream, packet.time_base, packet.duration
                again.pts, again.dts = packet.pts + turn * lasts, packet.dts + turn * lasts
                again.is_keyframe = packet.is_keyframe
                container.mux(again)
    return path
