"""Decoders of what gauges send: bytes in, frames out, no I/O, no clock, never an exception for rubbish."""

from lapwright.gauges.frames.frame import Decoder, Frame, FrameResult, Rubbish

__all__ = ["Decoder", "Frame", "FrameResult", "Rubbish"]
