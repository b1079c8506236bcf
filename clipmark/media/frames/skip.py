"""Frames that no other frame leans on need not be decoded on the way to a later one.

Which frames those are is written in each packet, and the decoder reads it (`skip_frame`). Believed are two kinds:
H.264, where "not used for reference" holds for every later picture (`nal_ref_idc` 0, ITU-T H.264 7.4.1), and HEVC
without temporal layers: with layers the mark speaks of pictures of the same layer only (ITU-T H.265 7.4.2.2,
"sub-layer non-reference"), and one of a higher layer may lean on the picture all the same.
"""

from __future__ import annotations

from collections.abc import Iterator

from clipmark.media.index.packets import Ints

_VPS = 32  # NAL unit that says how many temporal layers there are


class Skipping:
    """Says for each packet whether the decoder may leave it out; tells whether it ever did.

    Args:
        rank: frame number of each packet, -1 for packets that are no frame.
        allowed: whether the film is of a kind whose marks are believed.
    """

    def __init__(self, rank: Ints, allowed: bool):
        self._rank, self.allowed = rank, allowed
        self.sought = 0  # the frame that is wanted: all before it are only passed
        self.used = False  # since this was last set to False

    def __call__(self, ordinal: int) -> bool:
        """Whether the packet of this ordinal may be passed over without decoding it."""
        if not self.allowed or not 0 <= self._rank[ordinal] < self.sought:
            return False
        self.used = True
        return True


def believed(codec: str, extradata: bytes | None) -> bool:
    """Whether frames marked as leaned on by none may be left out.

    Args:
        extradata: the codec's own header as the file gives it.
    """
    return codec == "h264" or (codec == "hevc" and _temporal_layers(extradata or b"") == 1)


def _temporal_layers(extradata: bytes) -> int:
    """The largest number of temporal layers that any parameter set of an HEVC film states; 0 where none is found."""
    most = 0
    for unit in _units(extradata):
        if len(unit) >= 4 and unit[0] >> 1 & 63 == _VPS:
            most = max(most, (unit[3] >> 1 & 7) + 1)  # vps_max_sub_layers_minus1
    return most


def _units(extradata: bytes) -> Iterator[bytes]:
    """NAL units of a header: by start codes (transport streams, raw files), or listed (ISO/IEC 14496-15 8.3.3.1)."""
    if extradata[:3] == b"\0\0\1" or extradata[:4] == b"\0\0\0\1":
        yield from extradata.split(b"\0\0\1")[1:]
        return
    at = 23
    for _ in range(extradata[22] if len(extradata) > 22 else 0):
        count = int.from_bytes(extradata[at + 1 : at + 3], "big")
        at += 3
        for _ in range(count):
            length = int.from_bytes(extradata[at : at + 2], "big")
            yield extradata[at + 2 : at + 2 + length]
            at += 2 + length
            if at >= len(extradata):
                return
